package replant

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Permitted yield: what grows above it is not sold; gaps beyond the limit cut it.
func TestCompare_PermittedYield(t *testing.T) {
	m := flat()
	set(&m, "kg_per_hl", 100)
	b := BlockCase{AreaHa: 1, Positions: 1000, Gaps: 300, Remaining: 2, Over: 1, Horizon: 2, PermittedHlHa: 5, PermittedLimit: 0.25}
	c, err := Compare(b, m)
	require.NoError(t, err)
	require.InDelta(t, 350, c.Plans[Leave].Years[0].SoldKgHa, 1e-9)
	require.InDelta(t, 700, c.Plans[Leave].Years[0].YieldKgHa, 1e-9)
	require.InDelta(t, 500, c.Plans[Interplant].Years[0].SoldKgHa, 1e-9)
	b.PermittedLimit = 0
	c, err = Compare(b, m)
	require.NoError(t, err)
	require.InDelta(t, 500, c.Plans[Leave].Years[0].SoldKgHa, 1e-9, "no limit, no cut")
}

// The cut lowers the yearly income while the share of gaps is above the limit. One
// hectare of 1 000 places, 300 of them gaps, 8 hl/ha permitted at 100 kg a hl,
// limit 20 %, worked by hand at 10 %; the rule is that of PermittedYield:
//
//	year                       0         1         2        sum
//	factor                     1     1/1.1    1/1.21
//	leave: 700 kg grown, 8 × (1 − 0.3) = 5.6 hl = 560 kg sold, less 100 tending
//	  cash                   460       460       460
//	  present                460    418.18    380.17   1 258.35
//	interplant: 1 000 kg grown, 8 hl = 800 kg sold, less 100, less 300 replants in year 0
//	  cash                   400       700       700
//	  present                400    636.36    578.51   1 614.88
//	pull: the same, less 50 and 200 in year 0
//	  cash                   450       700       700
//	  present                450    636.36    578.51   1 664.88
func TestCompare_PermittedYieldCut(t *testing.T) {
	m := flat()
	set(&m, "kg_per_hl", 100)
	b := BlockCase{AreaHa: 1, Positions: 1000, Gaps: 300, Remaining: 3, Over: 1, Horizon: 3, PermittedHlHa: 8, PermittedLimit: 0.2}
	c, err := Compare(b, m)
	require.NoError(t, err)
	for w, want := range map[Way]struct {
		cash []float64
		sum  float64
	}{Leave: {[]float64{460, 460, 460}, 1258.35}, Interplant: {[]float64{400, 700, 700}, 1614.88}, PullBlock: {[]float64{450, 700, 700}, 1664.88}} {
		require.InDeltaSlice(t, want.cash, cashOf(c.Plans[w]), 1e-9, w)
		require.InDelta(t, want.sum, c.Plans[w].PerHa, 0.005, w)
		require.InDelta(t, npv(want.cash, 0.1), c.Plans[w].PerHa, 1e-9, w)
	}
	text := strings.Join(c.Advice, "\n")
	require.Contains(t, text, "leave: with more than 20 % of gaps the permitted yield of 8.0 hl/ha is cut in 3 years, down to 5.6.")
	require.NotContains(t, text, "interplant: with more")
	// At the limit itself nothing is cut: 800 kg grown and permitted, all sold.
	b.Gaps = 200
	c, err = Compare(b, m)
	require.NoError(t, err)
	require.InDelta(t, 700, c.Plans[Leave].Years[0].Cash, 1e-9)
	// More grapes to a hl, more of the crop within what is permitted.
	b.Gaps = 300
	set(&m, "kg_per_hl", 120)
	more, err := Compare(b, m)
	require.NoError(t, err)
	require.InDelta(t, 5.6*120-100, more.Plans[Leave].Years[0].Cash, 1e-9)
	// Without a permitted yield all is sold, and the figure is no assumption of the sums.
	b.PermittedHlHa = 0
	free, err := Compare(b, m)
	require.NoError(t, err)
	require.InDelta(t, 600, free.Plans[Leave].Years[0].Cash, 1e-9)
	for _, s := range free.Sensitivity {
		require.NotEqual(t, "kg_per_hl", s.Key)
	}
	require.Len(t, more.Sensitivity, len(free.Sensitivity)+1)
}
