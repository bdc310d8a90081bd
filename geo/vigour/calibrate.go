package vigour

import (
	"fmt"
	"math"
	"slices"

	"courson/geo/krige"
	"courson/geo/vine"
)

// Calibration is the line that turns a measure into weight, fitted by ordinary
// least squares to the vines of the block that have both in the season:
// kg per metre = Intercept + Slope × measure. What grows with the size of the vine
// (canes, their cross-section, yield) is taken per metre of occupied row, as the
// weight is.
type Calibration struct {
	Quantity  vine.Quantity `json:"quantity"`
	Scale     string        `json:"scale,omitempty"`
	Label     string        `json:"label"`
	Unit      string        `json:"unit"`
	Pairs     int           `json:"pairs"`
	R2        float64       `json:"r2"`
	Intercept float64       `json:"intercept_kg_m"`
	Slope     float64       `json:"slope_kg_m"` // per unit
	SE        float64       `json:"se_kg_m"`    // of the regression: the spread of vines around the line
	From      float64       `json:"from"`       // least of the measure among the pairs
	To        float64       `json:"to"`         // greatest
	Vines     int           `json:"vines"`      // that have the measure and were not weighed
	Used      int           `json:"used"`       // of these, whose value rests on this line
	Beyond    int           `json:"beyond"`     // of these, with a measure outside the pairs'
	Refused   string        `json:"refused"`    // why there is no line; empty: there is one
	Err       error         `json:"-"`          // the same for errors.Is
	drift     *krige.Drift
	mean      float64 // of the pairs' weights, kg/m
	centre    float64 // of the pairs' measures
	x         []float64
	has       []bool
}

// measures are the ways a quantity is used: its name, its unit, whether it is
// taken per metre, and whether a line that falls can be true. A canopy index may
// run either way, and a heavy crop can cost growth; all others rise with weight.
type usage struct {
	label, unit string
	perMetre    bool
	mayFall     bool
}

func usageOf(q vine.Quantity) usage {
	switch q {
	case vine.CaneCount:
		return usage{"cane count", "canes/m", true, false}
	case caneSection:
		return usage{"cane count and diameter", "mm²/m", true, false}
	case vine.CaneDiameter:
		return usage{"cane diameter", "mm", false, false}
	case vine.ShootLength:
		return usage{"shoot length", "cm", false, false}
	case vine.TrunkGirth:
		return usage{"trunk cross-section", "cm²", false, false}
	case vine.VisualScore:
		return usage{"visual score", "score", false, false}
	case vine.Yield:
		return usage{"yield", "g/m", true, true}
	}
	return usage{"canopy index", "index", false, true}
}

// caneSection is derived where canes were counted and measured: the sum of their
// cross-sections, number × π d² / 4, mm². Wood is length times cross-section.
const caneSection vine.Quantity = "cane_section"

// calibrate fits a line for every measure and lets the best one speak for each
// living vine that was not weighed.
func (w *work) calibrate() {
	for _, c := range w.measures() {
		if cal := w.fit(c); cal.Pairs > 0 || cal.Vines > 0 {
			w.Calibrations = append(w.Calibrations, cal)
		}
	}
	// The best first: accepted ones by R², ties and the rest by name.
	slices.SortStableFunc(w.Calibrations, func(a, b Calibration) int {
		switch {
		case (a.Err == nil) != (b.Err == nil):
			if a.Err == nil {
				return -1
			}
			return 1
		case a.R2 > b.R2:
			return -1
		case a.R2 < b.R2:
			return 1
		}
		return 0
	})
	w.Calibrations = w.Calibrations[:min(len(w.Calibrations), 255)]
	for _, i := range w.order {
		if w.Basis[i] == None && w.living(i) {
			w.read(i)
		}
	}
	for k := range w.Calibrations { // no longer needed
		w.Calibrations[k].x, w.Calibrations[k].has = nil, nil
	}
}

// read gives vine i the value of its best measure.
func (w *work) read(i int32) {
	for k := range w.Calibrations {
		c := &w.Calibrations[k]
		if c.Err != nil || !c.has[i] {
			continue
		}
		x := c.x[i]
		line, leverage := c.drift.At([]float64{1, x - c.centre})
		variance := c.SE*c.SE + leverage
		w.put(i, Calibrated, line, variance)
		w.From[i] = uint8(k + 1)
		c.Used++
		if x < c.From || x > c.To {
			c.Beyond++
		}
		// A line by least squares draws values towards the mean, which is right
		// for the vine but would make the field too flat. For kriging the value
		// is drawn out again: it is then the weight plus an independent error of
		// variance / R² (both from weight and measure as jointly normal).
		w.known = append(w.known, known{vine: i, v: c.mean + (line-c.mean)/c.R2, e: variance / c.R2})
		return
	}
}

// measures gives the columns and what is derived from them.
func (w *work) measures() []Column {
	out := slices.Clone(w.columns)
	canes, ok := w.column(string(vine.CaneCount))
	diameters, both := w.column(string(vine.CaneDiameter))
	if !ok || !both {
		return out
	}
	n := len(canes.Values)
	section := Column{Quantity: caneSection, Values: make([]float32, n), Known: make([]bool, n)}
	for i := range n {
		if canes.known(i) && diameters.known(i) {
			d := float64(diameters.Values[i])
			section.Values[i], section.Known[i] = float32(float64(canes.Values[i])*math.Pi*d*d/4), true
		}
	}
	return append(out, section)
}

// fit fits the line of one measure, or says why not.
func (w *work) fit(col Column) Calibration {
	u := usageOf(col.Quantity)
	c := Calibration{Quantity: col.Quantity, Scale: col.Scale, Label: u.label, Unit: u.unit}
	if col.Scale != "" && col.Quantity == vine.CanopyIndex {
		c.Label = fmt.Sprintf("canopy index (%s)", col.Scale)
	}
	c.x, c.has = w.values(col, u)
	var xs, ys []float64
	for _, i := range w.order {
		switch {
		case !c.has[i]:
		case w.Basis[i] == Measured:
			xs, ys = append(xs, c.x[i]), append(ys, float64(w.KgPerM[i]))
		default:
			c.Vines++
		}
	}
	c.Pairs = len(xs)
	if c.Err = c.fitTo(xs, ys, u, w.o); c.Err != nil {
		c.Refused = c.Err.Error()
	}
	return c
}

// values gives the measure of each living vine as the line takes it.
func (w *work) values(col Column, u usage) ([]float64, []bool) {
	x, has := make([]float64, len(col.Values)), make([]bool, len(col.Values))
	for i := range x {
		if !col.known(i) || !w.living(int32(i)) {
			continue
		}
		has[i], x[i] = true, float64(col.Values[i])
		if u.perMetre {
			x[i] /= float64(w.OccupiedM[i])
		}
		if col.Quantity == vine.TrunkGirth {
			x[i] = x[i] * x[i] / (4 * math.Pi) / 100 // C² / 4π, mm² to cm²
		}
	}
	return x, has
}

func (c *Calibration) fitTo(xs, ys []float64, u usage, o Options) error {
	if c.Pairs < max(3, o.MinPairs) {
		return refuse(ErrFewPairs, "%s: it and weight are both known for %s, at least %d are needed", u.label, vines(c.Pairs), max(3, o.MinPairs))
	}
	c.From, c.To = slices.Min(xs), slices.Max(xs)
	if c.From == c.To {
		return refuse(ErrNoSpread, "%s: it is %g on all %s", u.label, c.From, vines(c.Pairs))
	}
	if slices.Max(ys)-slices.Min(ys) < leastSpread {
		return refuse(ErrNoSpread, "%s: the weights of all %s are equal", u.label, vines(c.Pairs))
	}
	c.centre, c.mean = mean(xs), mean(ys)
	rows := make([][]float64, len(xs))
	for k, x := range xs {
		rows[k] = []float64{1, x - c.centre}
	}
	d, err := krige.FitDrift(ys, rows)
	if err != nil {
		return refuse(ErrNoSpread, "%s: it hardly differs on %s", u.label, vines(c.Pairs))
	}
	c.drift, c.R2, c.SE, c.Slope = d, d.R2, d.Sigma, d.Coef[1]
	c.Intercept = d.Coef[0] - d.Coef[1]*c.centre
	switch {
	case c.R2 < o.MinR2:
		return refuse(ErrWeakFit, "%s: R² is %.2f from %s, at least %.2f is needed", u.label, c.R2, vines(c.Pairs), o.MinR2)
	case c.Slope < 0 && !u.mayFall:
		return refuse(ErrFalls, "%s: it falls where weight rises (%s, R² %.2f); look for a slip", u.label, vines(c.Pairs), c.R2)
	}
	return nil
}

func mean(v []float64) float64 {
	m := 0.0
	for i, x := range v {
		m += (x - m) / float64(i+1)
	}
	return m
}
