package layout

import (
	"math"

	"courson/geo/frame"
)

// VinesPerHectare is 10,000 m² over the ground cell: row spacing × vine
// spacing, both m. Real blocks hold fewer: headlands, roads and posts take
// ground. 0 where a spacing is not positive.
func VinesPerHectare(rowM, vineM float64) float64 {
	return perArea(frame.Hectare, rowM, vineM)
}

// VinesPerAcre is 43,560 square feet over the ground cell: row spacing × vine
// spacing, both feet. 0 where a spacing is not positive.
func VinesPerAcre(rowFt, vineFt float64) float64 {
	return perArea(frame.Acre/frame.SquareFoot, rowFt, vineFt)
}

// RowMetresPerHectare is 10,000 m² over the row spacing, m. 0 where it is not
// positive.
func RowMetresPerHectare(rowM float64) float64 {
	return perArea(frame.Hectare, rowM, 1)
}

// PlantsToOrder is the number of whole plants that fill an area in m² at row
// spacing × vine spacing, both m, without spare; a hundredth of a plant is taken
// as rounding. 0 where a number is not positive.
func PlantsToOrder(areaM2, rowM, vineM float64) int {
	n := perArea(areaM2, rowM, vineM)
	if !(n > 0) || n > math.MaxInt32 {
		return 0
	}
	return int(math.Ceil(n - 0.01))
}

func perArea(area, row, vine float64) float64 {
	if !(row > 0 && vine > 0) || math.IsInf(row*vine, 1) {
		return 0
	}
	return area / (row * vine)
}
