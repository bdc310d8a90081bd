package work

import (
	"math"
	"time"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// FieldWeighing is a list of vines to weigh as a phone needs it.
type FieldWeighing struct {
	ID           string     `json:"id"`
	Season       int        `json:"season"`
	Block        vine.ID    `json:"block"`
	Code         string     `json:"code"`
	Variety      string     `json:"variety"`
	Crew         string     `json:"crew"`
	Unit         string     `json:"unit"`
	By           string     `json:"by"`
	Made         time.Time  `json:"made"`
	VineSpacingM float64    `json:"vine_spacing_m"` // 0 not known
	Rows         []WeighRow `json:"rows"`           // in walking order
	WeighingTally
}

// WeighRow is the vines to weigh in one row.
type WeighRow struct {
	HandedRow
	Vines [][5]int64 `json:"vines"` // in walking order: number, id, condition, weight in g (-1: none), progress of weighing
}

// ForField gives a list for a phone. Vines that the ground no longer has are left
// out.
func (l WeighingList) ForField(b store.Block, s *stand.Stand, progress []vine.Progress, section int) FieldWeighing {
	g := s.Ground
	out := FieldWeighing{ID: l.ID, Season: l.Season, Block: l.Block, Code: g.Code, Variety: b.Variety, Crew: l.Crew, Unit: l.Unit, By: l.By, Made: l.Made,
		VineSpacingM: b.VineSpacingM, Rows: []WeighRow{}, WeighingTally: l.Tally(s, progress)}
	for _, run := range walkingRuns(g, l.places(g)) {
		row := WeighRow{HandedRow: handedRow(g, run, section)}
		for _, i := range run.vines {
			row.Vines = append(row.Vines, [5]int64{int64(g.Number[i]), g.ID[i], int64(s.Condition[i]), wholeGrams(s.WeightG[i]), int64(progress[i])})
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// wholeGrams is enough to show what was weighed; -1 for no weight.
func wholeGrams(g float32) int64 {
	if g < 0 {
		return -1
	}
	return int64(math.Round(float64(g)))
}
