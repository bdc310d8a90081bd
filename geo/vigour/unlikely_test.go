package vigour

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// The robust deviate picks the two strangers out of ten: R 4.2.2,
// abs(x - median(x)) / mad(x) is 19.6 and 19.9 for them and at most 1.02 for the
// others (with an eleventh value of 2.4). 3.5 is the limit of Iglewicz and
// Hoaglin, 1993.
func TestOutlying(t *testing.T) {
	make := func(values ...float64) (out []reading) {
		for i, v := range values {
			out = append(out, reading{int32(i), v})
		}
		return out
	}
	for _, c := range []struct {
		name string
		in   []reading
		want []int32
	}{
		{"two strangers", make(2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3, 2.4), []int32{8, 9}},
		{"none", make(2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 2.2, 2.3), nil},
		{"most are equal", make(3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 40), []int32{11}},
		{"all are equal", make(3, 3, 3, 3, 3, 3, 3, 3, 3, 3), nil},
		{"too few to judge", make(3, 3, 3, 3, 3, 3, 3, 3, 90), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []int32
			for _, r := range outlying(c.in) {
				got = append(got, r.vine)
			}
			assert.Equal(t, c.want, got)
		})
	}
}

func TestUnlikely(t *testing.T) {
	for _, c := range []struct {
		name  string
		q     vine.Quantity
		scale string
		value float64
		says  string // empty: likely
	}{
		{"a weight as usual", vine.PruningWeight, "", 550, ""},
		{"a weight above any vine's", vine.PruningWeight, "", 2600, "2364 g/m; 0 to 2000 is usual"},
		{"a weight unlike its neighbours'", vine.PruningWeight, "", 1900, "far from the 40 vines of the block in their fifth leaf or later"},
		{"canes in the hundreds", vine.CaneCount, "", 120, "109.1 canes/m; 0 to 60 is usual"},
		{"canes in centimetres", vine.CaneDiameter, "", 0.9, "3 to 20 is usual"},
		{"pencil thick", vine.CaneDiameter, "", 7.5, ""},
		{"a shoot in metres", vine.ShootLength, "", 1.2, "10 to 400 is usual"},
		{"a trunk in centimetres", vine.TrunkGirth, "", 16, "20 to 800 is usual"},
		{"a score beyond the estate's scale", vine.VisualScore, "", 7, "1 to 5 is usual"},
		{"a score on a scale of its own", vine.VisualScore, "0-10", 7, ""},
		{"50 kg of grapes", vine.Yield, "", 50_000, "0 to 40000 is usual"},
		{"NDVI of 7", vine.CanopyIndex, "NDVI", 7, "-1 to 1 is usual"},
		{"a ratio of 7", vine.CanopyIndex, "NIR/R", 7, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := plot{rows: 1, vines: 40, rowM: 2, vineM: 1.1}.stand(t, 2027)
			cols := NewColumns(40)
			if c.q == vine.PruningWeight {
				for i := range 40 {
					s.WeightG[i] = float32(500 + 10*(i%9))
				}
				s.WeightG[17] = float32(c.value)
			} else {
				cols.Set(17, c.q, vine.Reading{Value: c.value, Scale: c.scale})
			}
			got, err := Unlikely(s, cols.All())
			require.NoError(t, err)
			if c.says == "" {
				require.Empty(t, got)
				return
			}
			require.Len(t, got, 1)
			assert.Equal(t, 17, got[0].Vine)
			assert.Equal(t, c.q, got[0].Quantity)
			assert.InEpsilon(t, c.value, got[0].Value, 1e-6)
			assert.Contains(t, got[0].Why, c.says)
		})
	}
}

func TestUnlikely_CanesAgainstWeight(t *testing.T) {
	s := plot{rows: 1, vines: 4, rowM: 2, vineM: 1}.stand(t, 2027)
	copy(s.WeightG, []float32{400, 400, 400, 5})
	got, err := Unlikely(s, []Column{column(s, vine.CaneCount, func(i int) (float64, bool) { return []float64{12, 0, 2, 9}[i], true })})
	require.NoError(t, err)
	require.Len(t, got, 3)
	assert.Equal(t, "no canes, but 400 g of prunings", got[0].Why)
	assert.Equal(t, "200 g a cane; 2 to 150 g is usual", got[1].Why)
	assert.Equal(t, "0.556 g a cane; 2 to 150 g is usual", got[2].Why)
	s.Condition[1] = vine.Missing
	got, err = Unlikely(s, nil)
	require.NoError(t, err)
	assert.Empty(t, got)
	_, err = Unlikely(s, []Column{{Quantity: "height", Values: filled(4)}})
	require.ErrorIs(t, err, ErrInput)
}

// Young vines are compared with young ones.
func TestUnlikely_ByAge(t *testing.T) {
	p := plot{rows: 2, vines: 30, rowM: 2, vineM: 1, planted: func(row, _ int) int { return []int{2005, 2025}[row] }}
	s := p.stand(t, 2027)
	for i := range 30 {
		weigh(s, p.at(0, i), 500+float64(i%7)*10)
		weigh(s, p.at(1, i), 80+float64(i%7)*5)
	}
	weigh(s, p.at(1, 4), 510) // as an old vine
	got, err := Unlikely(s, nil)
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, p.at(1, 4), got[0].Vine)
	assert.Equal(t, "far from the 30 vines of the block in their third leaf", got[0].Why)
}

func TestColumns(t *testing.T) {
	c := NewColumns(3)
	c.Set(0, vine.Yield, vine.Reading{Value: 4})
	c.Set(2, vine.CanopyIndex, vine.Reading{Value: -0.2, Scale: "NDVI"})
	c.Set(1, vine.CanopyIndex, vine.Reading{Value: 3, Scale: "NIR/R"})
	c.SetState(1, vine.State{Measures: map[vine.Quantity]vine.Reading{vine.Yield: {Value: 5}, vine.PruningWeight: {Value: 6}, vine.VisualScore: {Value: 3}}})
	assert.Equal(t, []Column{
		{vine.CanopyIndex, "NDVI", []float32{0, 0, -0.2}, []bool{false, false, true}},
		{vine.CanopyIndex, "NIR/R", []float32{0, 3, 0}, []bool{false, true, false}},
		{vine.Yield, "", []float32{4, 5, 0}, []bool{true, true, false}},
	}, c.All())
}
