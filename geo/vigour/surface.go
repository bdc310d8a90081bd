package vigour

import "courson/geo/krige"

// Surface gives the vigour of the place of each living vine, in kg/m, and its
// standard error: the kriged surface without what single vines add, at measured
// vines too. Zones for a machine are cut from this, since what differs from vine
// to vine cannot be driven. Vines whose place is not known have -1. Errors are
// those of Estimate, and ErrFewVines, ErrNoSpread or one of package krige where
// no surface can be laid.
func Surface(in Input) (kgPerM, se []float32, err error) {
	w, err := begin(in)
	if err != nil {
		return nil, nil, err
	}
	w.measure()
	w.calibrate()
	k := &w.Kriging
	k.Neighbours, k.RadiusM, k.RowsDeg = w.o.Neighbours, w.o.RadiusM, rowsDeg(w.s.Ground)
	f, err := w.field(w.inOrder(), nil)
	if err != nil {
		return nil, nil, err
	}
	var vines []int32
	for _, i := range w.order {
		if w.living(i) && f.slot[w.class[i]] >= 0 {
			vines = append(vines, i)
		}
	}
	err = w.mapBy((*krige.Regression).MapSmooth, f, vines, func(i int32, e krige.Estimate) { w.put(i, Estimated, e.Value, e.Variance*f.widen) })
	for _, i := range w.order {
		if w.Basis[i] != Estimated {
			w.KgPerM[i], w.SE[i] = -1, -1
		}
	}
	return w.KgPerM, w.SE, err
}
