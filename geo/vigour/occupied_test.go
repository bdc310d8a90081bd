package vigour

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/stand"
	"courson/geo/vine"
)

// One row as text: o a living vine, r a replant, _ nobody, d a dead vine, | a road.
func rowOf(t *testing.T, text string, spacingM float64, chainage []float64) *stand.Stand {
	t.Helper()
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "A", VineSpacingM: spacingM})
	b.Row(7, "1", 0)
	conditions, part, at := []vine.Condition{}, 0, 0
	for _, c := range text {
		if c == '|' {
			part++
			continue
		}
		p := stand.Position{ID: vine.ID(at + 1), Number: at + 1, Part: part, ChainageM: (float64(at) + 0.5) * spacingM}
		if chainage != nil {
			p.ChainageM = chainage[at]
		}
		b.Vine(p)
		conditions = append(conditions, map[rune]vine.Condition{'o': vine.Bearing, 'r': vine.Replanted, '_': vine.Missing, 'd': vine.Dead, '?': vine.Doubtful}[c])
		at++
	}
	g, err := b.Ground()
	require.NoError(t, err)
	s := stand.NewStand(g, 2027, 1)
	copy(s.Condition, conditions)
	return s
}

func TestOccupiedM(t *testing.T) {
	for _, c := range []struct {
		name     string
		row      string
		spacing  float64
		chainage []float64
		want     []float32
	}{
		{"all there", "ooooo", 1.2, nil, []float32{1.2, 1.2, 1.2, 1.2, 1.2}},
		{"one missing is shared out", "oo_oo", 1, nil, []float32{1, 1.5, 0, 1.5, 1}},
		{"a dead vine is a gap", "oodoo", 1, nil, []float32{1, 1.5, 0, 1.5, 1}},
		{"a doubtful vine and a replant are vines", "o?oro", 1, nil, []float32{1, 1, 1, 1, 1}},
		{"gaps on both sides", "oo_o_oo", 1, nil, []float32{1, 1.5, 0, 2, 0, 1.5, 1}},
		{"two missing: each reaches to the place beside it", "oo__oo", 1, nil, []float32{1, 1.5, 0, 0, 1.5, 1}},
		{"a long gap has a middle that nobody occupies", "oo____oo", 1, nil, []float32{1, 1.5, 0, 0, 0, 0, 1.5, 1}},
		{"a gap at the end", "ooo_", 1, nil, []float32{1, 1, 1.5, 0}},
		{"only one left", "__o__", 1, nil, []float32{0, 0, 2, 0, 0}},
		{"nobody left", "____", 1, nil, []float32{0, 0, 0, 0}},
		{"not over a road", "oo|oo", 1, []float64{0.5, 1.5, 9.5, 10.5}, []float32{1, 1, 1, 1}},
		{"a gap before a road", "oo_|oo", 1, []float64{0.5, 1.5, 2.5, 9.5, 10.5}, []float32{1, 1.5, 0, 1, 1}},
		{"empty places left out of the survey", "ooooo", 1, []float64{0.5, 1.5, 2.5, 6.5, 7.5}, []float32{1, 1, 1.5, 1.5, 1}},
		{"one place left out of the survey", "ooooo", 1, []float64{0.5, 1.5, 2.5, 4.5, 5.5}, []float32{1, 1, 1.5, 1.5, 1}},
		{"a vine planted between", "ooooo", 1, []float64{0.5, 1.5, 2, 2.5, 3.5}, []float32{1, 0.75, 0.5, 0.75, 1}},
		{"one vine", "o", 1.5, nil, []float32{1.5}},
		{"one vine, spacing not known", "o", 0, []float64{3}, []float32{0}},
		{"spacing not known", "oo_o", 0, []float64{0, 1, 2, 3}, []float32{1, 1.5, 0, 1.5}},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.InDeltaSlice(t, c.want, OccupiedM(rowOf(t, c.row, c.spacing, c.chainage)), 1e-5)
		})
	}
}

// A ground that has no chainage is shared out by numbers.
func TestOccupiedM_WithoutChainage(t *testing.T) {
	s := rowOf(t, "oo_oo", 1.2, nil)
	g := *s.Ground
	g.Chainage, g.Occupied = nil, nil
	s.Ground = &g
	require.InDeltaSlice(t, []float32{1.2, 1.8, 0, 1.8, 1.2}, OccupiedM(s), 1e-5)
}

// The row is never given out twice, no share passes twice the planting distance,
// and a vine that goes never narrows a neighbour.
func TestProperty_OccupiedM(t *testing.T) {
	outer := t
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"o", "o", "o", "_", "d", "r"}), 1, 30).Draw(t, "row"), "")
		s := rowOf(outer, text, 1.1, nil)
		got := OccupiedM(s)
		sum := 0.0
		for i, m := range got {
			sum += float64(m)
			if (m > 0) != s.Condition[i].Living() || m > 2*1.1+1e-5 {
				t.Fatalf("%s: vine %d occupies %g m", text, i, m)
			}
		}
		if sum > 1.1*float64(len(text))+1e-4 {
			t.Fatalf("%s: %g m given out of %g", text, sum, 1.1*float64(len(text)))
		}
		gone := rapid.IntRange(0, len(text)-1).Draw(t, "gone")
		s.Condition[gone] = vine.Missing
		for i, m := range OccupiedM(s) {
			if i != gone && m < got[i]-1e-5 {
				t.Fatalf("%s: without %d vine %d has %g m, before %g", text, gone, i, m, got[i])
			}
		}
	})
}
