package rate

import "fmt"

// Unit is the unit of a rate, as it is written.
type Unit string

// The units. Per metre is per metre of row, per vine per position: a gap counts
// as a vine does, since its ground is treated too.
const (
	KgPerHa    Unit = "kg/ha"
	TPerHa     Unit = "t/ha"
	GPerM2     Unit = "g/m2"
	KgPerM     Unit = "kg/m"
	GPerM      Unit = "g/m"
	KgPerVine  Unit = "kg/vine"
	GPerVine   Unit = "g/vine"
	LPerHa     Unit = "l/ha"
	M3PerHa    Unit = "m3/ha"
	Millimetre Unit = "mm" // of water: 10 m³/ha
	LPerM      Unit = "l/m"
	LPerVine   Unit = "l/vine"
	PerHa      Unit = "1/ha"
	PerM       Unit = "1/m"
	PerVine    Unit = "1/vine"
	LbPerAcre  Unit = "lb/acre"
	TonPerAcre Unit = "ton/acre" // short tons of 2,000 lb
	GalPerAcre Unit = "gal/acre" // US liquid gallons
	Inch       Unit = "in"       // of water
)

// Quantity is what a rate measures out.
type Quantity uint8

// The quantities, and the unit of totals.
const (
	Mass   Quantity = 1 + iota // kg
	Volume                     // l
	Pieces
)

// String gives the unit of totals.
func (q Quantity) String() string {
	return [...]string{"", "kg", "l", "pieces"}[min(int(q), 3)]
}

// The exact definitions (NIST Handbook 44, Appendix C; the international foot).
const (
	kgPerLb    = 0.45359237
	haPerAcre  = 0.40468564224
	lPerGallon = 3.785411784
	mmPerInch  = 25.4
)

// per says what a unit counts by.
type per uint8

const (
	perHa per = iota
	perMetre
	perVine
)

type measure struct {
	quantity Quantity
	size     float64 // kg, l or pieces in one
	by       per
}

// units must not be changed.
var units = map[Unit]measure{
	KgPerHa: {Mass, 1, perHa}, TPerHa: {Mass, 1000, perHa}, GPerM2: {Mass, 10, perHa},
	KgPerM: {Mass, 1, perMetre}, GPerM: {Mass, 1e-3, perMetre}, KgPerVine: {Mass, 1, perVine}, GPerVine: {Mass, 1e-3, perVine},
	LPerHa: {Volume, 1, perHa}, M3PerHa: {Volume, 1000, perHa}, Millimetre: {Volume, 10_000, perHa},
	LPerM: {Volume, 1, perMetre}, LPerVine: {Volume, 1, perVine},
	PerHa: {Pieces, 1, perHa}, PerM: {Pieces, 1, perMetre}, PerVine: {Pieces, 1, perVine},
	LbPerAcre: {Mass, kgPerLb / haPerAcre, perHa}, TonPerAcre: {Mass, 2000 * kgPerLb / haPerAcre, perHa},
	GalPerAcre: {Volume, lPerGallon / haPerAcre, perHa}, Inch: {Volume, mmPerInch * 10_000, perHa},
}

// Units gives all units.
func Units() []Unit {
	return []Unit{KgPerHa, TPerHa, GPerM2, KgPerM, GPerM, KgPerVine, GPerVine, LPerHa, M3PerHa, Millimetre, LPerM, LPerVine, PerHa, PerM, PerVine, LbPerAcre, TonPerAcre, GalPerAcre, Inch}
}

// Spacing is the distance of rows and of vines in the row, m.
type Spacing struct{ RowM, VineM float64 }

// Quantity of a unit; 0 for one that is not known.
func (u Unit) Quantity() Quantity { return units[u].quantity }

// PerHectare gives how many kg, l or pieces a hectare are one of the unit: one
// metre of row in 10,000 / row spacing, one vine in 10,000 / (row x vine spacing).
// Errors: ErrUnit for an unknown unit or a spacing that is not above 0.
func (u Unit) PerHectare(s Spacing) (float64, error) {
	m, ok := units[u]
	if !ok {
		return 0, refuse(ErrUnit, "%q is not a unit of rates: use one such as %q, %q or %q", string(u), KgPerHa, KgPerM, LPerVine)
	}
	switch {
	case m.by == perHa:
		return m.size, nil
	case !(s.RowM > 0) || !finite(s.RowM):
		return 0, refuse(ErrUnit, "%s needs the row spacing; %g m is none", u, s.RowM)
	case m.by == perMetre:
		return m.size * 1e4 / s.RowM, nil
	case !(s.VineM > 0) || !finite(s.VineM):
		return 0, refuse(ErrUnit, "%s needs the vine spacing; %g m is none", u, s.VineM)
	}
	return m.size * 1e4 / (s.RowM * s.VineM), nil
}

// Convert brings a rate from one unit to another: kg/m = kg/ha x row spacing /
// 10,000. Errors: ErrUnit also where one is a mass and the other is not.
func Convert(v float64, from, to Unit, s Spacing) (float64, error) {
	a, err := from.PerHectare(s)
	if err != nil {
		return 0, err
	}
	b, err := to.PerHectare(s)
	if err != nil {
		return 0, err
	}
	if from.Quantity() != to.Quantity() {
		return 0, refuse(ErrUnit, "%s cannot be turned into %s: one measures %s, the other %s", from, to, from.Quantity(), to.Quantity())
	}
	if from == to {
		return v, nil
	}
	if out := v * a / b; finite(out) {
		return out, nil
	}
	return 0, fmt.Errorf("rate %g %s: %w", v, from, ErrNotFinite)
}

// LayerM3PerHa is the volume of a layer (mulch, compost) so many mm thick on a
// band so many metres wide under the vines, in m³/ha.
func LayerM3PerHa(thickMM, bandM, rowM float64) (float64, error) {
	if !(thickMM >= 0) || !(bandM >= 0) || !(rowM > 0) || !finite(thickMM+bandM+rowM) || bandM > rowM {
		return 0, refuse(ErrOption, "a layer of %g mm on a band of %g m with rows %g m apart is not possible", thickMM, bandM, rowM)
	}
	return thickMM / 1000 * bandM / rowM * 1e4, nil
}
