package vigour

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"courson/geo/krige"
)

// Kriging tells what the estimates of vines that were not measured rest on.
type Kriging struct {
	Vines      int            `json:"vines"` // known vines it rests on
	Weighed    int            `json:"weighed"`
	Calibrated int            `json:"calibrated"`
	Estimated  int            `json:"estimated"` // vines estimated
	Neighbours int            `json:"neighbours"`
	RadiusM    float64        `json:"radius_m"`
	RowsDeg    float64        `json:"rows_deg"` // direction of the rows, clockwise from north
	Fit        krige.Fit      `json:"fit"`
	Nugget     float64        `json:"nugget_share"` // of the sill, 0 to 1
	LeaveOut   Check          `json:"leave_one_out"`
	Widened    float64        `json:"widened"` // factor put on standard errors; 1: none
	Leaves     []LeafLevel    `json:"leaves"`
	Covariate  *CovariateUsed `json:"covariate,omitempty"`
	Refused    string         `json:"refused"` // why nothing was estimated; empty: it was
	Err        error          `json:"-"`
}

// Check is the leave-one-out check: each weighed vine (where fewer than ten were
// weighed, each known vine) estimated from the others.
type Check struct {
	Vines     int     `json:"vines"`
	MeanError float64 `json:"mean_error_kg_m"` // measured less estimated; near 0 is good
	RMSE      float64 `json:"rmse_kg_m"`
	MSDR      float64 `json:"msdr"` // mean of squared error by kriging variance; near 1 is good
	Corr      float64 `json:"correlation"`
}

// LeafLevel is the mean level of one leaf class, around which kriging works.
type LeafLevel struct {
	Leaf   uint8   `json:"leaf"` // 5: fifth and later, or not known
	Known  int     `json:"known"`
	KgPerM float64 `json:"kg_m"` // at the mean of the covariate
}

// CovariateUsed tells what became of the covariate.
type CovariateUsed struct {
	Name        string  `json:"name"`
	Used        bool    `json:"used"`
	Slope       float64 `json:"slope_kg_m"`
	RMSE        float64 `json:"rmse_kg_m"`         // leave-one-out with it
	RMSEWithout float64 `json:"rmse_without_kg_m"` // and without, on the same vines
	Why         string  `json:"why"`
}

// estimate krigs what was not measured.
func (w *work) estimate() error {
	k := &w.Kriging
	k.Neighbours, k.RadiusM, k.RowsDeg = w.o.Neighbours, w.o.RadiusM, rowsDeg(w.s.Ground)
	w.known = w.inOrder()
	targets := w.unmeasured()
	if len(targets) == 0 {
		return nil
	}
	plain, err := w.field(w.known, nil)
	if err == nil {
		k.describe(plain)
		err = w.fill(plain, targets)
	}
	switch {
	case errors.Is(err, ErrStopped):
		return err
	case err != nil:
		k.Err, k.Refused = err, err.Error()
	}
	return nil
}

// inOrder gives weighed and calibrated vines in one order.
func (w *work) inOrder() []known {
	rank := make([]int32, len(w.order))
	for at, i := range w.order {
		rank[i] = int32(at)
	}
	slices.SortFunc(w.known, func(a, b known) int { return int(rank[a.vine] - rank[b.vine]) })
	return w.known
}

// unmeasured gives the living vines without a value, by address.
func (w *work) unmeasured() (out []int32) {
	for _, i := range w.order {
		if w.Basis[i] == None && w.living(i) {
			out = append(out, i)
		}
	}
	return out
}

// surface is a kriged field around leaf levels and, maybe, a covariate.
type surface struct {
	w         *work
	covariate *Covariate
	mean      float64 // of the covariate
	slot      [grownUp + 1]int
	classes   []uint8
	known     []known // those of the classes
	fit       krige.Fit
	trend     *krige.Drift
	field     *krige.Field
	check     krige.CrossValidation
	widen     float64 // factor on variances
}

// field makes the surface from known vines: levels by leaf class, a variogram of
// what they leave over, and its check.
func (w *work) field(from []known, cov *Covariate) (*surface, error) {
	f := &surface{w: w, covariate: cov}
	f.takeClasses(from)
	if len(f.known) < fewestKnown {
		return nil, refuse(ErrFewVines, "at least %d known vines are needed to estimate the others, there are %d", fewestKnown, len(f.known))
	}
	values, rows := make([]float64, len(f.known)), make([][]float64, len(f.known))
	for k, p := range f.known {
		values[k], rows[k] = p.v, f.row(p.vine)
	}
	trend, err := krige.FitDrift(values, rows)
	if err != nil {
		return nil, refuse(err, "the covariate does not differ enough from vine to vine")
	}
	f.trend = trend
	if trend.Sigma < leastSpread {
		return nil, plainly(krige.ErrNoSpread, len(f.known))
	}
	points := make([]krige.Point, len(f.known))
	for k, r := range trend.Residuals(values, rows) {
		x, y := w.at(f.known[k].vine)
		points[k] = krige.Point{X: x, Y: y, V: r, E: f.known[k].e}
	}
	if f.fit, err = variogram(forVariogram(points), w.Kriging.RowsDeg); err != nil {
		return nil, plainly(err, len(f.known))
	}
	if f.field, err = krige.NewField(points, f.fit.Model, krige.Neighbours{Most: w.o.Neighbours, Radius: w.o.RadiusM, Step: tieStepM}); err != nil {
		return nil, plainly(err, len(f.known))
	}
	return f, f.leaveOneOut()
}

// takeClasses keeps the known vines of leaf classes that have enough of them.
func (f *surface) takeClasses(from []known) {
	var count [grownUp + 1]int
	for _, p := range from {
		count[f.w.class[p.vine]]++
	}
	for c := range uint8(grownUp + 1) {
		f.slot[c] = -1
		if count[c] >= fewestOfClass {
			f.slot[c] = len(f.classes)
			f.classes = append(f.classes, c)
		}
	}
	n := 0.0
	for _, p := range from {
		if f.slot[f.w.class[p.vine]] < 0 {
			continue
		}
		f.known = append(f.known, p)
		if f.covariate != nil {
			n++
			f.mean += (float64(f.covariate.Values[p.vine]) - f.mean) / n
		}
	}
}

// row gives the covariates of a vine: which leaf class, and the covariate.
func (f *surface) row(i int32) []float64 {
	out := make([]float64, len(f.classes), len(f.classes)+1)
	out[f.slot[f.w.class[i]]] = 1
	if f.covariate != nil {
		out = append(out, float64(f.covariate.Values[i])-f.mean)
	}
	return out
}

// variogram fits a model to the residuals: along and across the rows where there
// are enough points to tell them apart.
func variogram(points []krige.Point, rowsDeg float64) (krige.Fit, error) {
	diagonal := extent(points)
	n := len(points)
	// About thirty pairs in a class at least (A. G. Journel, C. J. Huijbregts,
	// Mining Geostatistics, 1978); half of all pairs lie within the cutoff.
	classes := max(5, min(15, n*(n-1)/4/30))
	edges := krige.EvenEdges(diagonal/3, classes)
	if diagonal == 0 {
		return krige.Fit{}, krige.ErrNoExtent
	}
	if n >= fewestAlong {
		return krige.FitAlong(points, rowsDeg, edges)
	}
	bins, err := krige.Empirical(points, krige.Bins{Edges: edges})
	if err != nil {
		return krige.Fit{}, err
	}
	return krige.FitBest(bins)
}

// forVariogram gives the weighed vines alone where there are enough of them: how
// much calibrated values err is itself known from a few pairs only. Else all.
func forVariogram(points []krige.Point) []krige.Point {
	var weighed []krige.Point
	for _, p := range points {
		if p.E == 0 {
			weighed = append(weighed, p)
		}
	}
	if len(weighed) >= fewestAlong {
		return weighed
	}
	return points
}

func extent(points []krige.Point) float64 {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range points {
		x0, x1, y0, y1 = min(x0, p.X), max(x1, p.X), min(y0, p.Y), max(y1, p.Y)
	}
	return math.Hypot(x1-x0, y1-y0)
}

// plainly puts a refusal of kriging into words for the page.
func plainly(err error, known int) error {
	switch {
	case errors.Is(err, krige.ErrStopped):
		return ErrStopped
	case errors.Is(err, krige.ErrNoSpread):
		return refuse(ErrNoSpread, "the %d known vines differ in nothing, so nothing can be said of how sure an estimate is", known)
	case errors.Is(err, krige.ErrNoExtent):
		return refuse(err, "the %d known vines lie on one spot", known)
	}
	return fmt.Errorf("no variogram from %d known vines: %w", known, err)
}

// leaveOneOut checks the surface on the weighed vines.
func (f *surface) leaveOneOut() error {
	weighed := 0
	for _, p := range f.known {
		if p.exact {
			weighed++
		}
	}
	var which func(krige.Point) bool
	if weighed >= 10 {
		which = func(p krige.Point) bool { return p.E == 0 }
	}
	var err error
	if f.check, err = f.field.LeaveOut(which, f.w.stopped); err != nil {
		return ErrStopped
	}
	// From few weights it is not well known how much calibrated values err, and the
	// variogram leans on that. What left-out weights really miss by is then believed
	// where it is more (chosen by us).
	f.widen = 1
	if weighed >= 10 && weighed < fewestAlong && weighed < len(f.known) {
		f.widen = max(1, f.check.MSDR)
	}
	return nil
}

// describe puts a surface into the report.
func (k *Kriging) describe(f *surface) {
	k.Vines, k.Weighed, k.Calibrated = len(f.known), 0, 0
	for _, p := range f.known {
		if p.exact {
			k.Weighed++
		} else {
			k.Calibrated++
		}
	}
	k.Fit, k.Nugget, k.Widened = f.fit, f.fit.NuggetShare(), math.Sqrt(f.widen)
	k.LeaveOut = Check{Vines: f.check.N, MeanError: f.check.MeanError, RMSE: f.check.RMSE, MSDR: f.check.MSDR, Corr: f.check.Corr}
	k.Leaves = nil
	for at, c := range f.classes {
		level := LeafLevel{Leaf: c, KgPerM: f.trend.Coef[at]}
		for _, p := range f.known {
			if f.w.class[p.vine] == c {
				level.Known++
			}
		}
		k.Leaves = append(k.Leaves, level)
	}
}
