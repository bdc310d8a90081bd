package rate

// NitrogenPerTonne is the limit of integrated production, kg N per ha and year
// for each tonne of grapes per ha (Integrated production guideline, grapes,
// IOBC-WPRS).
const NitrogenPerTonne = 5

// NitrogenCap is the most nitrogen, kg/ha, for a crop of so many t/ha.
func NitrogenCap(yieldTPerHa, kgPerTonne float64) (float64, error) {
	if !(yieldTPerHa >= 0) || !(kgPerTonne >= 0) || !finite(yieldTPerHa*kgPerTonne) {
		return 0, refuse(ErrOption, "%g t/ha of grapes at %g kg N per tonne: neither may be below 0", yieldTPerHa, kgPerTonne)
	}
	return yieldTPerHa * kgPerTonne, nil
}

// CompostFor gives the compost, t/ha, that brings so much nitrogen (kg/ha), less
// what earlier years still release: N / (content in kg/t x share that comes free
// in the year). 0 where the soil gives enough.
func CompostFor(nKgPerHa, releasedKgPerHa, contentKgPerT, share float64) (tPerHa float64, err error) {
	if !(nKgPerHa >= 0) || !(releasedKgPerHa >= 0) || !(contentKgPerT > 0) || !(share > 0 && share <= 1) || !finite(nKgPerHa+contentKgPerT) {
		return 0, refuse(ErrOption, "compost for %g kg N/ha with %g kg N/t, of which a share of %g: content and share must be above 0, the share at most 1", nKgPerHa, contentKgPerT, share)
	}
	return max(0, nKgPerHa-releasedKgPerHa) / (contentKgPerT * share), nil
}

// PetioleNitrogen gives the nitrogen to apply, least and most in lb/acre, by the
// share of nitrogen in petioles in July to August, in per cent (Fertilizing wine
// grapes, University of Wisconsin). On a limit the lower rate counts.
func PetioleNitrogen(percent float64) (least, most float64, err error) {
	if !(percent >= 0 && percent <= 10) {
		return 0, 0, refuse(ErrOption, "%g %% of nitrogen in petioles is not a reading", percent)
	}
	switch {
	case percent > 1.5:
		return 0, 0, nil
	case percent >= 1.3:
		return 20, 20, nil
	case percent >= 0.9:
		return 30, 30, nil
	}
	return 40, 50, nil
}

// CanopyClass gives the class of vigour, 1 low to 3 high, by an NDVI of the
// canopy: high from 0.75, low under 0.50 (G. Allegro and others, Variable rate
// fertilization in a high-yielding vineyard of cv. Trebbiano Romagnolo,
// International Society of Precision Agriculture). Limits of one vineyard and
// one sensor; zones from the block's own values suit others better.
func CanopyClass(ndvi float64) (int, error) {
	switch {
	case !(ndvi >= -1 && ndvi <= 1):
		return 0, refuse(ErrOption, "%g is not an NDVI: -1 to 1", ndvi)
	case ndvi >= 0.75:
		return 3, nil
	case ndvi >= 0.50:
		return 2, nil
	}
	return 1, nil
}

// NitrogenLimit holds rates to what may be given. Zero fields are no limit.
type NitrogenLimit struct {
	// YieldTPerHa is the crop, t/ha: one for all zones, or one for each.
	YieldTPerHa []float64
	PerTonne    float64 // kg N per tonne; 0: NitrogenPerTonne
	PerYear     float64 // kg N per ha and year
	Given       float64 // kg N/ha given already this year
}

func (n *NitrogenLimit) check(zones int) error {
	for _, v := range append([]float64{n.PerTonne, n.PerYear, n.Given}, n.YieldTPerHa...) {
		if !(v >= 0) || !finite(v) {
			return refuse(ErrOption, "a nitrogen limit of %g: a number from 0 up is needed", v)
		}
	}
	if l := len(n.YieldTPerHa); l > 1 && l != zones {
		return refuse(ErrOption, "%d crops for %s: give one for all or one for each", l, zoneCount(zones))
	}
	return nil
}

// of gives the most nitrogen for zone k, kg/ha, less what was given; ok is false
// where there is no limit.
func (n *NitrogenLimit) of(k int) (kgPerHa float64, why string, ok bool) {
	if len(n.YieldTPerHa) > 0 {
		per := n.PerTonne
		if per == 0 {
			per = NitrogenPerTonne
		}
		kgPerHa, why, ok = n.YieldTPerHa[min(k, len(n.YieldTPerHa)-1)]*per, "nitrogen per tonne of grapes", true
	}
	if n.PerYear > 0 && (!ok || n.PerYear < kgPerHa) {
		kgPerHa, why, ok = n.PerYear, "nitrogen per year", true
	}
	return max(0, kgPerHa-n.Given), why, ok
}
