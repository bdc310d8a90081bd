package pruning

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What estates write, in English, French and Spanish, finds the system (names:
// common practice).
func TestLookupSystem(t *testing.T) {
	for key, texts := range map[string][]string{
		"single_guyot":      {"single Guyot", "Guyot simple", "GUYOT", "Guyot  Simple", "guyot-simple", "vara y pulgar", "Taille Guyot simple", "single_guyot"},
		"double_guyot":      {"double Guyot", "Guyot double", "Guyot doble", "bilateral guyot", "Doble Guyot", "2 canes"},
		"two_armed_guyot":   {"Guyot-Poussard", "guyot with two spurs and one cane", "Guyot à deux coursons"},
		"four_cane":         {"four-cane", "4 cane", "Quatre baguettes", "cuatro varas"},
		"unilateral_cordon": {"unilateral cordon", "Cordon de Royat", "cordon unilatéral", "Cordón simple", "cordon unilate\u0301ral"},
		"bilateral_cordon":  {"bilateral cordon", "Cordon de Royat double", "doble cordón", "Cordón Royat doble"},
		"head_trained":      {"head-trained", "Gobelet", "goblet", "en vaso", "Bush vines"},
	} {
		for _, text := range texts {
			s, err := LookupSystem(text)
			require.NoError(t, err, text)
			require.Equal(t, key, s.Key, text)
		}
	}
	for _, text := range []string{"", "  ", "-", "guyot triple", "pergola"} {
		_, err := LookupSystem(text)
		require.ErrorIs(t, err, ErrSystem, text)
		require.ErrorContains(t, err, "single Guyot, double Guyot")
	}
}

// No name leads to two systems, and every built-in one is sound.
func TestSystems_Sound(t *testing.T) {
	of := map[string]string{}
	for _, s := range Systems() {
		require.NoError(t, s.Check(), s.Name)
		for _, name := range strings.Split(tradeNames(s.Key), "|") {
			require.Equal(t, name, plain(name), "stands as it is looked up")
			require.Empty(t, of[name], "%q is there twice", name)
			of[name] = s.Key
		}
		data, err := json.Marshal(s)
		require.NoError(t, err)
		back, err := ParseSystem(data)
		require.NoError(t, err)
		require.Equal(t, s, back)
	}
}

// What the systems carry, by section "Carry per system" of the trade: single Guyot
// 8 to 12 (decree JORFARTI000002264915; practice), double to 2 × 14 + 4 (Hellman
// E., Cane Pruning, 2019), four-cane 36 to 55 (Epee P. et al., OENO One 56(4),
// 2022), unilateral cordon 10 to 14 (common practice), goblet to 10 or 12 (same
// decree).
func TestSystems_Carry(t *testing.T) {
	for _, c := range []struct {
		sys       System
		spacing   float64
		low, high int
	}{
		{SingleGuyot(), 1.2, 8, 12}, {DoubleGuyot(), 2.0, 16, 32}, {FourCane(), 2.4, 36, 55}, {UnilateralCordon(), 1.1, 10, 14},
		{BilateralCordon(), 2.0, 26, 28}, {HeadTrained(), 1.2, 10, 12},
	} {
		w := &work{s: with(c.sys), sys: c.sys}
		n := w.capacity(&subject{occupiedM: c.spacing})
		require.True(t, n >= c.low && n <= c.high, "%s carries %d, wanted %d to %d", c.sys.Name, n, c.low, c.high)
	}
}

func TestParseSystem_Refuses(t *testing.T) {
	guyot := map[string]any{"key": "own", "name": "own Guyot", "arms": 2, "spurs_per_arm": 1, "nodes_per_spur": 2, "canes_per_arm": 1, "least_nodes_per_cane": 4, "most_nodes_per_cane": 12}
	cordon := map[string]any{"key": "own", "name": "own cordon", "arms": 2, "nodes_per_spur": 2, "spur_spacing_m": 0.12}
	parse := func(base map[string]any, key string, value any) error {
		m := map[string]any{}
		for k, v := range base {
			m[k] = v
		}
		if key != "" {
			m[key] = value
		}
		data, err := json.Marshal(m)
		require.NoError(t, err)
		_, err = ParseSystem(data)
		return err
	}
	require.NoError(t, parse(guyot, "", nil))
	require.NoError(t, parse(cordon, "", nil))
	for _, c := range []struct {
		base  map[string]any
		key   string
		value any
		says  string
	}{
		{guyot, "name", "", "name"},
		{guyot, "arms", 0, "arms: found 0, wanted 1 to 12"},
		{guyot, "arms", 99, "arms"},
		{guyot, "nodes_per_spur", 0, "nodes_per_spur: found 0, wanted 1 to 4"},
		{guyot, "nodes_per_spur", 9, "nodes_per_spur"},
		{guyot, "most_nodes_per_cane", 3, "wanted least_nodes_per_cane (4)"},
		{guyot, "least_nodes_per_cane", 0, "least_nodes_per_cane"},
		{guyot, "most_canes", 5, "most_canes: found 5, wanted 0 to 2"},
		{guyot, "spur_spacing_m", 0.1, "spur_spacing_m"},
		{guyot, "canes_per_arm", 30, "at most 60 spurs and 40 canes"},
		{guyot, "arm", 2, "unknown field"},
		{guyot, "arms", "two", "cannot unmarshal"},
		{cordon, "spur_spacing_m", 0.001, "0.03 to 1 m"},
		{cordon, "spurs_per_arm", 4, "spurs_per_arm: found 4, wanted 0 on a cordon"},
		{cordon, "spur_spacing_m", 0, "spurs_per_arm"},
		{cordon, "most_nodes_per_cane", 8, "without canes"},
	} {
		err := parse(c.base, c.key, c.value)
		require.ErrorIs(t, err, ErrSystem, "%s %v", c.key, c.value)
		require.ErrorContains(t, err, c.says)
	}
	_, err := ParseSystem([]byte(`{"key":"a"} {}`))
	require.ErrorIs(t, err, ErrSystem)
	_, err = ParseSystem([]byte(`nonsense`))
	require.ErrorIs(t, err, ErrSystem)
}
