package csv

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// columnOf surveys one column of numbers between other columns.
func numbersOf(t *testing.T, delimiter string, cells ...string) (values []float64, problems []string) {
	t.Helper()
	text := "id" + delimiter + "v\n"
	for _, c := range cells {
		if strings.Contains(c, delimiter) {
			c = `"` + c + `"`
		}
		text += "x" + delimiter + c + "\n"
	}
	s, err := Take(strings.NewReader(text), Options{})
	require.NoError(t, err)
	f := s.Numbers(1)
	for _, c := range cells {
		v, _, err := f.Parse(c)
		if err != nil {
			problems = append(problems, c)
			continue
		}
		values = append(values, v)
	}
	return values, problems
}

// What may be read and what must be refused follows from what public threads
// report as wrong: thousands read as decimals and decimals as thousands.
func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		name      string
		delimiter string
		cells     []string
		want      []float64
		refused   []string
	}{
		{"whole", ",", []string{"1", "-2", "−3", "+4"}, []float64{1, -2, -3, 4}, nil},
		{"points", ",", []string{"0.42", "11.370", "1e3"}, []float64{0.42, 11.37, 1000}, nil},
		{"commas, semicolons between fields", ";", []string{"0,42", "1,050"}, []float64{0.42, 1.05}, nil},
		{"thousands in a comma table, one slip", ",", []string{"980", "1,050", "2,310", "1,05"}, []float64{980, 1050, 2310}, []string{"1,05"}},
		{"decimal commas in quotes in a comma table", ",", []string{"0,42", "0,5"}, []float64{0.42, 0.5}, nil},
		{"a point among decimal commas", ";", []string{"0,850", "1.234", "1,100"}, []float64{0.85, 1.1}, []string{"1.234"}},
		{"a comma for thousands among decimal points", ",", []string{"0.5", "1,050"}, []float64{0.5, 1050}, nil},
		{"point for thousands, comma for decimals", ";", []string{"1.234,5", "12,5"}, []float64{1234.5, 12.5}, nil},
		{"comma for thousands, point for decimals", ",", []string{"1,234.5", "1,234,567"}, []float64{1234.5, 1234567}, nil},
		{"blanks and apostrophes for thousands", ";", []string{"1 050", "1\u202f050", "1'050"}, []float64{1050, 1050, 1050}, nil},
		{"either way, nothing settles it", ";", []string{"1.234", "2.345"}, nil, []string{"1.234", "2.345"}},
		{"either way with tabs", "\t", []string{"1,234"}, nil, []string{"1,234"}},
		{"both ways in one column", ";", []string{"0.5", "0,5"}, nil, []string{"0.5", "0,5"}},
		{"no number", ",", []string{"12 kg", "abc", "1.2.3", "NaN", "Inf", "0x10", "1_000", "5-6", ""}, nil, []string{"12 kg", "abc", "1.2.3", "NaN", "Inf", "0x10", "1_000", "5-6", ""}},
	} {
		t.Run(c.name, func(t *testing.T) {
			values, refused := numbersOf(t, c.delimiter, c.cells...)
			require.Equal(t, c.want, values)
			require.Equal(t, c.refused, refused)
		})
	}
}

func TestNumbers_OtherColumnsSettle(t *testing.T) {
	s, err := Take(strings.NewReader("lat;w\n45,21;1,050\n45,22;2,000\n"), Options{})
	require.NoError(t, err)
	v, _, err := s.Numbers(1).Parse("1,050")
	require.NoError(t, err)
	require.Equal(t, 1.05, v)
	s, err = Take(strings.NewReader("lat;w\n45,21;1.050\n"), Options{})
	require.NoError(t, err)
	_, _, err = s.Numbers(1).Parse("1.050")
	require.Error(t, err)
	s, err = Take(strings.NewReader("w;x\n1.050;a\n"), Options{Decimal: '.'})
	require.NoError(t, err)
	v, _, err = s.Numbers(0).Parse("1.050")
	require.NoError(t, err)
	require.Equal(t, 1.05, v)
}
