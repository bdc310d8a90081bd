package stand

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Published ranges of pruning weight per metre, single canopy: under 0.3 kg/m
// weak, 0.3 to 0.6 good, over 1.0 excessive (Smart and Robinson, Sunlight into
// Wine, 1991, and eastern US handbooks; from memory). 0.2, 0.4 and 0.67 lb/ft
// are the same limits rounded.
func TestVigourLimits_Class(t *testing.T) {
	const kgPerMOfLbPerFt = 0.45359237 / 0.3048
	for _, c := range []struct {
		name  string
		kgPer float64
		want  uint8
	}{
		{"no wood at all", 0, 1},
		{"half way to weak", 0.149, 1},
		{"weak", 0.15, 2},
		{"weak to the limit", 0.2999, 2},
		{"good from the limit", 0.3, 3},
		{"0.3 lb/ft, the middle of good", 0.3 * kgPerMOfLbPerFt, 3},
		{"strong", 0.6, 4},
		{"0.5 lb/ft", 0.5 * kgPerMOfLbPerFt, 4},
		{"excessive", 1.0, 5},
		{"1 lb/ft", kgPerMOfLbPerFt, 5},
		{"a float just below the limit", 0.3 - 1e-9, 3},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, DefaultVigourLimits().Class(c.kgPer)) })
	}
}

func TestScale(t *testing.T) {
	for _, c := range []struct {
		text string
		want Scale
		ok   bool
	}{
		{"1-5", Scale{1, 5}, true}, {" 0 - 10 ", Scale{0, 10}, true}, {"1-9", Scale{1, 9}, true}, {"0-1.5", Scale{0, 1.5}, true},
		{"", Scale{}, false}, {"5-1", Scale{}, false}, {"3-3", Scale{}, false}, {"weak to strong", Scale{}, false}, {"1-", Scale{}, false}, {"1-Inf", Scale{}, false},
	} {
		got, ok := ParseScale(c.text)
		require.Equal(t, c.ok, ok, c.text)
		require.Equal(t, c.want, got, c.text)
	}
	for _, c := range []struct {
		scale Scale
		score float64
		want  uint8
	}{
		{Scale{1, 5}, 1, 1}, {Scale{1, 5}, 2, 2}, {Scale{1, 5}, 3, 3}, {Scale{1, 5}, 4, 4}, {Scale{1, 5}, 5, 5}, {Scale{1, 5}, 4.9, 5},
		{Scale{0, 10}, 0, 1}, {Scale{0, 10}, 5, 3}, {Scale{0, 10}, 10, 5}, {Scale{1, 3}, 2, 3}, {Scale{1, 5}, 0, 1}, {Scale{1, 5}, 9, 5},
	} {
		require.Equal(t, c.want, c.scale.Class(c.score), "%g of %v", c.score, c.scale)
	}
	require.Equal(t, 3.0, Scale{1, 5}.Convert(5, Scale{0, 10}))
}

// More wood, or a better score, is never a weaker class.
func TestRule_Monotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := DefaultRule()
		v := rapid.Float64Range(0, 3000)
		a, b := v.Draw(t, "a"), v.Draw(t, "b")
		m := rapid.Float64Range(0.3, 3).Draw(t, "metres")
		if a > b {
			a, b = b, a
		}
		if r.Class(a, m, -1) > r.Class(b, m, -1) || r.Class(-1, m, a) > r.Class(-1, m, b) {
			t.Fatalf("%g g is above %g g over %g m", a, b, m)
		}
	})
}

func TestRule_Class(t *testing.T) {
	r := DefaultRule()
	require.Equal(t, uint8(3), r.Class(600, 1.2, 1), "the weight goes before the score")
	require.Equal(t, uint8(1), r.Class(600, 0, 1), "a weight without metres says nothing")
	require.Equal(t, uint8(4), r.Class(-1, 1.2, 4))
	require.Equal(t, uint8(0), r.Class(-1, 1.2, -1))
}
