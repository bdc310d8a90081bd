package vigour

import (
	"errors"
	"math"

	"courson/geo/krige"
	"courson/geo/stand"
)

// at gives where a vine stands in the block's frame, m.
func (w *work) at(i int32) (x, y float64) {
	return float64(w.s.Ground.X[i]), float64(w.s.Ground.Y[i])
}

// rowsDeg is the mean direction of a block's rows in degrees clockwise from
// north, 0 to below 180; long rows count for more. Directions are doubled before
// they are averaged, so that rows numbered either way agree (N. I. Fisher,
// Statistical Analysis of Circular Data, 1993, section 2.3).
func rowsDeg(g *stand.Ground) float64 {
	var sin2, cos2 float64
	for _, r := range g.Rows {
		if r.Count < 2 {
			continue
		}
		last := r.First + r.Count - 1
		dx, dy := float64(g.X[last])-float64(g.X[r.First]), float64(g.Y[last])-float64(g.Y[r.First])
		if length := math.Hypot(dx, dy); length > 0 {
			sin2 += 2 * dx * dy / length
			cos2 += (dy*dy - dx*dx) / length
		}
	}
	deg := math.Atan2(sin2, cos2) * 90 / math.Pi
	if deg < 0 {
		deg += 180
	}
	return math.Mod(deg, 180)
}

// step of the map after which progress is told.
const portion = 16_384

// fill estimates the targets, with the covariate where that has proved itself.
func (w *work) fill(plain *surface, targets []int32) error {
	w.progress(0.3)
	helped, err := w.tryCovariate(plain)
	if err != nil {
		return err
	}
	w.progress(0.5)
	var with, without []int32
	for _, i := range targets {
		if helped != nil && w.in.Covariate.known(i) && helped.slot[w.class[i]] >= 0 {
			with = append(with, i)
		} else if plain.slot[w.class[i]] >= 0 {
			without = append(without, i)
		}
	}
	done := 0
	for _, part := range []struct {
		f     *surface
		vines []int32
	}{{helped, with}, {plain, without}} {
		for at := 0; at < len(part.vines); at += portion {
			some := part.vines[at:min(len(part.vines), at+portion)]
			if err := w.mapTo(part.f, some); err != nil {
				return err
			}
			done += len(some)
			w.progress(0.5 + 0.45*float64(done)/float64(len(targets)))
		}
	}
	return nil
}

// mapTo estimates some vines from a surface.
func (w *work) mapTo(f *surface, vines []int32) error {
	return w.mapBy((*krige.Regression).Map, f, vines, func(i int32, e krige.Estimate) {
		w.put(i, Estimated, e.Value, e.Variance*f.widen)
		w.Kriging.Estimated++
	})
}

type mapping func(r *krige.Regression, xs, ys []float64, covariates [][]float64, out []krige.Estimate, stop func() bool) error

func (w *work) mapBy(do mapping, f *surface, vines []int32, take func(i int32, e krige.Estimate)) error {
	n := len(vines)
	xs, ys, rows, out := make([]float64, n), make([]float64, n), make([][]float64, n), make([]krige.Estimate, n)
	for k, i := range vines {
		xs[k], ys[k] = w.at(i)
		rows[k] = f.row(i)
	}
	if err := do(&krige.Regression{Drift: f.trend, Field: f.field}, xs, ys, rows, out, w.stopped); err != nil {
		return plainly(err, len(f.known))
	}
	for k, i := range vines {
		if out[k].Used > 0 {
			take(i, out[k])
		}
	}
	return nil
}

func (c *Covariate) known(i int32) bool {
	if c.Known == nil {
		return c.Values[i] >= 0
	}
	return c.Known[i]
}

// tryCovariate gives the surface with the covariate where leaving vines out shows
// that it estimates better than without, by a hundredth of the error at least
// (chosen by us); nil where it does not, or where there is none.
func (w *work) tryCovariate(plain *surface) (*surface, error) {
	c := w.in.Covariate
	if c == nil {
		return nil, nil
	}
	report := &CovariateUsed{Name: c.Name}
	w.Kriging.Covariate = report
	var both []known
	for _, p := range plain.known {
		if c.known(p.vine) {
			both = append(both, p)
		}
	}
	without := plain
	var err error
	if len(both) < len(plain.known) {
		if without, err = w.field(both, nil); err != nil {
			return nil, report.refuse(err)
		}
	}
	with, err := w.field(both, c)
	if err != nil {
		return nil, report.refuse(err)
	}
	report.Slope = with.trend.Coef[len(with.classes)]
	report.RMSE, report.RMSEWithout = with.check.RMSE, without.check.RMSE
	if !(report.RMSE < 0.99*report.RMSEWithout) {
		report.Why = "vines left out are estimated no better with it than without"
		return nil, nil
	}
	report.Used, report.Why = true, "vines left out are estimated better with it"
	w.Kriging.describe(with)
	return with, nil
}

// refuse notes why the covariate was not used; only a stop ends the work.
func (r *CovariateUsed) refuse(err error) error {
	if errors.Is(err, ErrStopped) {
		return err
	}
	r.Why = err.Error()
	return nil
}
