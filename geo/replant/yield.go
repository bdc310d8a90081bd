package replant

import "math"

// YieldShare gives a block's yield as a share of that without gaps: 1 - m (1 - c),
// m the share of gaps, c the share of a missing vine's crop that its neighbours
// make up (derived form).
func YieldShare(m, c float64) float64 { return 1 - m*(1-c) }

// Compensation turns a spacing trial into the missing share m that the wider
// spacing amounts to and the share c that the fewer vines made up; ratio is wide
// over close yield per area. From ratio = 1 - m (1 - c).
func Compensation(closeM, wideM, ratio float64) (m, c float64) {
	m = 1 - closeM/wideM
	return m, 1 - (1-ratio)/m
}

// BearingVines gives the vines that bear: positions less the missing share (Dami
// I., How to estimate grape yields, Ohio State University).
func BearingVines(positions, missing float64) float64 { return positions * (1 - missing) }

// EutypaLine is a line of yield over the share of spurs that are dead or have
// symptoms, both as a share of a healthy vine's.
type EutypaLine struct{ Intercept, Slope float64 }

// The lines of Munkvold G., Duthie J., Marois J., Phytopathology 84:186-192, 1994:
// r² 0.70 and 0.79. Losses come from fewer clusters.
func EutypaLines() (y1991, y1992 EutypaLine) {
	return EutypaLine{1.010, -0.9026}, EutypaLine{1.001, -0.9881}
}

// Yield gives the yield of a vine of which the share d of spurs is lost. Not below
// 0.
func (l EutypaLine) Yield(d float64) float64 { return max(0, l.Intercept+l.Slope*d) }

// YearlyReplacement gives the vines to replace in a year, what that costs, and how
// many hectares the same money would plant anew (La Vigne no. 248, 2012).
func YearlyReplacement(areaHa, vinesPerHa, lossShare, costPerVine, costPerHa float64) (vines, cost, ha float64) {
	vines = areaHa * vinesPerHa * lossShare
	cost = vines * costPerVine
	if costPerHa > 0 {
		ha = cost / costPerHa
	}
	return vines, cost, ha
}

// VinesPerHa is 10 000 / (row spacing × vine spacing), spacings in m. True counts
// are lower: headlands, roads, posts.
func VinesPerHa(rowM, vineM float64) float64 { return 10_000 / (rowM * vineM) }

// PlantsFor gives the plants for an area in m², rounded up.
func PlantsFor(areaM2, rowM, vineM float64) int {
	return int(math.Ceil(areaM2/(rowM*vineM) - 1e-9))
}
