package renewal_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/pruning/renewal"
)

// Canes: not under 8 mm (Winegrowers Supplies, Training from year 3 onwards); bull
// cane over 15 mm (from memory).
func TestJudgeCane(t *testing.T) {
	for _, c := range []struct {
		mm    float64
		sound bool
		want  renewal.Verdict
	}{
		{7.9, true, renewal.Thin}, {8, true, renewal.Adequate}, {13, true, renewal.Adequate}, {15, true, renewal.Adequate},
		{15.1, true, renewal.Bull}, {11, false, renewal.Unsound}, {0, true, renewal.Adequate},
	} {
		got, why, err := renewal.JudgeCane(c.mm, c.sound, renewal.Settings{})
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%g mm", c.mm)
		require.NotEmpty(t, why)
	}
}

// A better cane from the base of last year's cane stands in for a thin one above
// the spur; with none better the thin one is named as such.
func TestChoose_Cane(t *testing.T) {
	caneBase := renewal.Shoot{On: renewal.OnCane, Node: 1, OutMM: 75, WoodYears: 2, Faces: "below", DiameterMM: 9.5, Sound: true}
	got, err := renewal.Choose(armOf(lowerShoot("below", 8, 30, true), upperShoot(7), caneBase), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, 2, got.Cane.Shoot)
	got, err = renewal.Choose(armOf(lowerShoot("below", 8, 30, true), upperShoot(9), caneBase), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, 1, got.Cane.Shoot)
	got, err = renewal.Choose(armOf(lowerShoot("below", 8, 30, true), upperShoot(7)), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, renewal.Thin, got.Cane.Verdict)
	got, err = renewal.Choose(armOf(lowerShoot("below", 8, 30, true)), renewal.Settings{})
	require.NoError(t, err)
	require.Nil(t, got.Cane)
	require.Contains(t, got.Notes[len(got.Notes)-1], "a spur only")
}

// A spur position on a cordon: of the two canes on last year's spur the lower one,
// cut to two buds (Spur pruning, entry in a wine reference work, 2006); the
// healthier if they differ (How to spur prune grapevines, Oregon State University
// Extension).
func TestChoose_CordonPosition(t *testing.T) {
	low, high := lowerShoot("below", 6, 50, true), lowerShoot("below", 6, 50, true)
	high.Node, high.OutMM = 2, 30
	got, err := renewal.Choose(armOf(high, low), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, 1, got.Spur.Shoot)
	require.Equal(t, 2, got.Spur.Nodes)
	low.Sound = false
	got, err = renewal.Choose(armOf(high, low), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, 0, got.Spur.Shoot)
	require.InDelta(t, 36, got.Spur.ClimbMM, 1e-9)
}
