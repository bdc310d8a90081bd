package pruning

import "math"

// Exact factors between US and metric units (international yard and pound, 1959).
const (
	KgPerLb = 0.45359237
	MPerFt  = 0.3048
	// KgPerMOfLbPerFt turns pounds per foot of row into kg per metre: 1.48816.
	KgPerMOfLbPerFt = KgPerLb / MPerFt
	// PerMOfPerFt turns shoots or nodes per foot into those per metre: 3.28084.
	PerMOfPerFt = 1 / MPerFt
	// TPerHaOfTonPerAcre turns US tons (2000 lb) per acre into t/ha: 2.24170.
	TPerHaOfTonPerAcre = 2 * KgPerLb / HaPerAcre
	// HaPerAcre is the international acre: 4840 square yards.
	HaPerAcre = 4840 * (3 * MPerFt) * (3 * MPerFt) / 10_000
	// CM2PerGOfM2PerKg turns leaf area per fruit from m²/kg into cm²/g.
	CM2PerGOfM2PerKg = 10.0
)

// slack keeps a product such as 15 × 1.8 from falling under its whole number.
const slack = 1e-6

// nearest rounds to the nearest whole number, halves up (common practice for
// nodes).
func nearest(x float64) int { return int(math.Floor(x + 0.5 + slack)) }

// wholes rounds down, for limits that must not be passed.
func wholes(x float64) int { return int(math.Floor(x + slack)) }

// atLeast compares measured figures past the rounding of float32 columns.
func atLeast(x, limit float64) bool { return x >= limit-slack }
