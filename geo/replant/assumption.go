package replant

import (
	"fmt"
	"math"
)

// Assumption is one figure that a comparison rests on.
type Assumption struct {
	Value  float64 `json:"value"`
	Low    float64 `json:"low"` // what it might as well be, for the sensitivity
	High   float64 `json:"high"`
	Unit   string  `json:"unit"`
	Source string  `json:"source"`
	Year   int     `json:"year"` // of the figure; 0 not tied to a year
}

// Money is what the comparison of a block assumes. Money is in one currency; where
// the defaults are from sources in euro or dollars of other years, set your own.
type Money struct {
	Currency string `json:"currency"`

	Price    Assumption `json:"price"`         // of grapes, per kg
	Harvest  Assumption `json:"harvest_cost"`  // per kg picked
	Yield    Assumption `json:"full_yield"`    // kg/ha of the block without gaps and in full crop
	Tend     Assumption `json:"tending"`       // yearly cost of a standing block, per ha
	Rest     Assumption `json:"rest"`          // yearly cost while the ground rests, per ha
	Replace  Assumption `json:"replace_vine"`  // one replant, all work and 3 years of care
	Plant    Assumption `json:"plant_block"`   // planting a whole block, per ha
	Pull     Assumption `json:"pull_block"`    // pulling a whole block, per ha
	Discount Assumption `json:"discount_rate"` // per year

	PerHl        Assumption `json:"kg_per_hl"`         // kg of grapes in a hl of wine, for the permitted yield
	Compensation Assumption `json:"compensation"`      // c: share of a missing vine's crop that neighbours make up
	Loss         Assumption `json:"yearly_loss"`       // share of living vines lost each year
	Survival     Assumption `json:"replant_survival"`  // of replants into bearing
	BlockTake    Assumption `json:"block_survival"`    // of the plants of a new block
	FirstCrop    Assumption `json:"first_crop_leaf"`   // leaf of the first crop
	FullBlock    Assumption `json:"full_leaf_block"`   // leaf of full crop in a new block
	FullReplant  Assumption `json:"full_leaf_replant"` // leaf of full crop of a replant among old vines
	RestYears    Assumption `json:"rest_years"`        // between pulling and planting, whole years
}

// DefaultMoney gives the defaults. Prices, yields and yearly costs are the
// estate's own matter: those here only show what is to be set.
func DefaultMoney() Money {
	ours := func(v, low, high float64, unit string) Assumption {
		return Assumption{v, low, high, unit, srcOurs + ": set your own", 0}
	}
	return Money{
		Currency:     "€",
		Price:        ours(1.20, 0.60, 2.40, "per kg"),
		Harvest:      ours(0.20, 0.10, 0.40, "per kg"),
		Yield:        ours(8_000, 5_000, 12_000, "kg/ha"),
		Tend:         ours(5_000, 3_500, 7_000, "per ha and year"),
		Rest:         ours(300, 0, 800, "per ha and year"),
		Replace:      Assumption{10.5, 9, 14, "per replant, all work and 3 years of care", srcCost, 2012},
		Plant:        Assumption{25_000, 20_000, 40_000, "per ha", srcCost, 2012},
		Pull:         ours(2_000, 1_000, 4_000, "per ha"),
		Discount:     ours(0.04, 0.02, 0.08, "per year"),
		PerHl:        Assumption{130, 130, 160, "kg of grapes", srcPerHl + ": 130 of red, 160 of white grapes", 0},
		Compensation: Assumption{0.4, 0.3, 0.5, "share", srcPractice + ": 0.3 to 0.5 where the neighbour is extended into the gap; 0 in its first year", 0},
		Loss:         Assumption{0.02, 0.01, 0.05, "per year", srcNormal, 0},
		Survival:     Assumption{0.83, 0.70, 0.95, "share", srcSurvival, 2023},
		BlockTake:    Assumption{0.96, 0.95, 0.98, "share", srcMemory + ": 2 to 5 % spare for a whole block", 0},
		FirstCrop:    Assumption{3, 3, 4, "leaf", srcSuccess, 2025},
		FullBlock:    Assumption{5, 4, 6, "leaf", srcPractice, 0},
		FullReplant:  Assumption{6, 5, 8, "leaf", srcOurs + "; later than in a block planted anew: " + srcSuccess, 2025},
		RestYears:    Assumption{1, 0, 3, "years", srcPractice, 0},
	}
}

// keyPerHl is the assumption that counts only where a permitted yield is known.
const keyPerHl = "kg_per_hl"

// Field is an assumption with its name and what it may be.
type Field struct {
	Key, Label string
	*Assumption
	least, most float64
	whole       bool // whole years only
}

// Fields lists the assumptions in the order in which they are shown. They point
// into m.
func (m *Money) Fields() []Field {
	big := math.MaxFloat64
	return []Field{
		{"price", "price of grapes", &m.Price, 0, big, false},
		{"harvest_cost", "cost of picking", &m.Harvest, 0, big, false},
		{"full_yield", "full yield", &m.Yield, 0, big, false},
		{"tending", "tending", &m.Tend, 0, big, false},
		{"rest", "cost while the ground rests", &m.Rest, 0, big, false},
		{"replace_vine", "cost of one replant", &m.Replace, 0, big, false},
		{"plant_block", "planting a block", &m.Plant, 0, big, false},
		{"pull_block", "pulling a block", &m.Pull, 0, big, false},
		{"discount_rate", "discount rate", &m.Discount, 0, 1, false},
		{keyPerHl, "grapes in a hl of wine", &m.PerHl, 50, 500, false},
		{"compensation", "share made up by neighbours", &m.Compensation, 0, 1, false},
		{"yearly_loss", "vines lost each year", &m.Loss, 0, 0.5, false},
		{"replant_survival", "survival of replants", &m.Survival, 0, 1, false},
		{"block_survival", "survival in a new block", &m.BlockTake, 0, 1, false},
		{"first_crop_leaf", "leaf of the first crop", &m.FirstCrop, 1, 15, false},
		{"full_leaf_block", "leaf of full crop, new block", &m.FullBlock, 1, 20, false},
		{"full_leaf_replant", "leaf of full crop, replant", &m.FullReplant, 1, 20, false},
		{"rest_years", "years of rest", &m.RestYears, 0, 15, true},
	}
}

// Check refuses assumptions out of range; the error wraps ErrSettings.
func (m Money) Check() error {
	for _, f := range m.Fields() {
		for _, v := range []struct {
			what string
			v    float64
		}{{"value", f.Value}, {"low", f.Low}, {"high", f.High}} {
			if !(v.v >= f.least && v.v <= f.most) || math.IsInf(v.v, 0) {
				return wrong(ErrSettings, f.Key+": "+v.what, v.v, fmt.Sprintf("%g to %g", f.least, f.most))
			}
			if f.whole && v.v != math.Trunc(v.v) {
				return wrong(ErrSettings, f.Key+": "+v.what, v.v, "whole years")
			}
		}
		if f.Low > f.Value || f.Value > f.High {
			return wrong(ErrSettings, f.Key, fmt.Sprintf("low %g, value %g, high %g", f.Low, f.Value, f.High), "low ≤ value ≤ high")
		}
	}
	if m.FullBlock.Value < m.FirstCrop.Value || m.FullReplant.Value < m.FirstCrop.Value {
		return wrong(ErrSettings, "leaf of full crop", fmt.Sprintf("%g and %g", m.FullBlock.Value, m.FullReplant.Value), "not before the first crop")
	}
	return nil
}

// cropShare gives the crop of a plant in a leaf as a share of a mature one's: 0
// before the first crop, then rising in equal steps to full.
func cropShare(leaf int, first, full float64) float64 {
	full = max(full, first)
	return min(1, max(0, (float64(leaf)-first+1)/(full-first+1)))
}
