// Package vigour gives every living vine of a block its vigour in a season, in kg
// of prunings per metre of row that the vine really occupies, each value with its
// standard error and with where it is from:
//
//   - measured: the vine's prunings were weighed. The value stands as it is.
//   - calibrated: something else was measured on the vine (a score, canes, a
//     diameter, a canopy index …) and turned into weight by a line fitted to the
//     vines of the block that have both in this season.
//   - estimated: nothing was measured on the vine; kriging from the vines around.
//   - none: no living plant, or nothing to estimate from.
//
// What cannot be done honestly is refused with the figures that say why: a line
// from fewer than 8 pairs or with R² under 0.4, kriging from fewer than 20 vines,
// young vines among which none was measured. Weight itself, by season: see
// vine.PruningWeight.
package vigour

import (
	"errors"
	"fmt"

	"courson/geo/krige"
	"courson/geo/stand"
)

// Why something was not computed.
var (
	ErrInput     = errors.New("input does not fit the stand")
	ErrStopped   = errors.New("stopped")
	ErrFewPairs  = errors.New("too few vines have both measures")
	ErrWeakFit   = errors.New("the measure says too little about weight")
	ErrFalls     = errors.New("the measure falls where weight rises")
	ErrNoSpread  = errors.New("all values are equal")
	ErrFewVines  = errors.New("too few vines are known")
	ErrNoVines   = errors.New("no vine qualifies")
	ErrBadOption = errors.New("option out of range")
)

// refusal says in plain words why something was not computed, and is one of the
// errors above.
type refusal struct {
	text string
	why  error
}

func (r *refusal) Error() string { return r.text }
func (r *refusal) Unwrap() error { return r.why }

func refuse(why error, format string, args ...any) error {
	return &refusal{fmt.Sprintf(format, args...), why}
}

// Input is what Estimate works from.
type Input struct {
	Stand *stand.Stand
	// Columns are measures besides the pruning weight. The stand's own visual
	// score and yield are taken too, unless a column here has that quantity.
	Columns []Column
	// Covariate is something known of nearly every vine, such as another
	// season's vigour or samples of an image, that may help kriging; nil: none.
	Covariate *Covariate
	Options   Options
	Stop      func() bool         // asked now and then; true ends the work; may be nil
	Progress  func(share float64) // told 0 to 1 now and then; may be nil
}

// Covariate is one value for each vine.
type Covariate struct {
	Name   string // as people know it: "vigour of 2026"
	Values []float32
	Known  []bool // nil: where Values is 0 or above
}

// Options are the settings of Estimate. Zero fields take the default.
type Options struct {
	Neighbours int     // kriging from so many nearest vines; default 24, 16 to 32 is usual
	RadiusM    float64 // or from all within so many metres; with Neighbours: at most those
	Limits     stand.VigourLimits
	// WeighingStepG is the step that the scale shows, g: default 10 (P. Skinkis,
	// EM 9069, Oregon State University, 2013). A measured value's standard error
	// is that of rounding to it.
	WeighingStepG float64
	MinPairs      int     // fewest pairs for a calibration; default 8
	MinR2         float64 // least R² for a calibration; default 0.4 (common practice)
}

// Fixed limits, chosen by us.
const (
	fewestKnown   = 20   // vines to krige from
	fewestOfClass = 5    // known vines of a leaf class to estimate others of it
	fewestAlong   = 60   // known vines to tell ranges along and across the rows apart
	highNugget    = 0.6  // share from which the map is said to give the trend only
	tieStepM      = 0.01 // distances that differ by less are ties
	leastSpread   = 1e-6 // kg/m; vines that differ by less differ by rounding only
)

func (o Options) withDefaults(rule stand.Rule) (Options, error) {
	if o.Neighbours < 0 || !(o.RadiusM >= 0) || !(o.WeighingStepG >= 0) || o.MinPairs < 0 || !(o.MinR2 >= 0 && o.MinR2 <= 1) {
		return o, fmt.Errorf("%w: %+v", ErrBadOption, o)
	}
	if o.Neighbours == 0 && o.RadiusM == 0 {
		o.Neighbours = 24
	}
	if o.Limits == (stand.VigourLimits{}) {
		o.Limits = rule.Limits
	}
	if o.WeighingStepG == 0 {
		o.WeighingStepG = 10
	}
	if o.MinPairs == 0 {
		o.MinPairs = 8
	}
	if o.MinR2 == 0 {
		o.MinR2 = 0.4
	}
	return o, nil
}

// Basis says where a value is from.
type Basis uint8

// The bases.
const (
	None Basis = iota
	Measured
	Calibrated
	Estimated
)

var basisWords = [...]string{"none", "measured", "calibrated", "estimated"}

// String gives the word.
func (b Basis) String() string { return basisWords[min(int(b), len(basisWords)-1)] }

// MarshalText writes the word.
func (b Basis) MarshalText() ([]byte, error) { return []byte(b.String()), nil }

// Result is the vigour of a block in a season. Columns have the ground's length
// and never hold anything but numbers.
type Result struct {
	Season    int
	KgPerM    []float32 // kg of prunings per metre of occupied row; -1 none
	SE        []float32 // its standard error, kg/m; -1 none
	Basis     []Basis
	From      []uint8   // of calibrated values: 1 + index into Calibrations; else 0
	OccupiedM []float32 // metres of row occupied; 0 where there is no living vine
	CaneG     []float32 // mean weight of a cane, g, of weighed vines with a cane count; -1 none
	Class     []uint8   // 1 to 5 by Limits, 0 none; the same limits in all seasons
	Limits    stand.VigourLimits

	Counts       [4]int // vines by Basis
	Calibrations []Calibration
	Kriging      Kriging
	Unlikely     []Oddity
	Notes        []string // what a reader of the map should know, in plain words
}

// Source says in words where the value of vine i is from.
func (r *Result) Source(i int) string {
	switch r.Basis[i] {
	case Measured:
		return "measured"
	case Calibrated:
		return "calibrated from " + r.Calibrations[r.From[i]-1].Label
	case Estimated:
		return "estimated by kriging"
	}
	return "none"
}

// ProbabilityBelow is the probability that the vigour of vine i lies below so
// many kg/m, errors taken as normal; ok is false where there is no value.
func (r *Result) ProbabilityBelow(i int, kgPerM float64) (p float64, ok bool) {
	if r.Basis[i] == None {
		return 0, false
	}
	e := krige.Estimate{Value: float64(r.KgPerM[i]), Variance: float64(r.SE[i]) * float64(r.SE[i]), Used: 1}
	return e.ProbabilityBelow(kgPerM), true
}

// Estimate gives every living vine its vigour. What it had to refuse stands in
// the result's Calibrations, Kriging and Notes; an error means that there is no
// result at all: ErrInput, ErrBadOption, or ErrStopped. Cost is linear in the
// vines but for the variogram (at most 3,000 known vines, each with each).
func Estimate(in Input) (*Result, error) {
	w, err := begin(in)
	if err != nil {
		return nil, err
	}
	w.measure()
	w.calibrate()
	w.progress(0.05)
	if err := w.estimate(); err != nil {
		return nil, err
	}
	w.judge()
	w.progress(1)
	return w.Result, nil
}
