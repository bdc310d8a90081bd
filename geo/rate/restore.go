package rate

import (
	"math"

	"courson/geo/stand"
)

// keptWithin is how far the areas of zones that were kept may differ from those of
// the ground now, as a share; it leaves room for rounding alone.
const keptWithin = 0.001

// Restore lays zones that were made before on the ground again, so that rates,
// files and comparisons can be had from them without the values they came from.
// zone has the ground's length; list and scale are those that Make gave. What
// Make says beyond these is empty. Errors: ErrInput, and ErrGround where the
// ground is no longer the one the zones were made on.
func Restore(s *stand.Stand, zone []uint8, list []Zone, scale []Scaling) (*Zones, error) {
	if s == nil || s.Ground == nil || s.Ground.Len() != len(zone) {
		return nil, refuse(ErrInput, "the zones are not those of this ground")
	}
	l, err := layOut(s.Ground)
	if err != nil {
		return nil, err
	}
	area := make([]float64, len(list))
	for i, z := range zone {
		if int(z) > len(list) {
			return nil, refuse(ErrInput, "zone %d of %d", z, len(list))
		}
		if z > 0 {
			area[z-1] += l.cellM2[i]
		}
	}
	for k := range list {
		if was := list[k].AreaM2; math.Abs(area[k]-was) > keptWithin*was {
			return nil, refuse(ErrGround, "zone %d covered %.0f m² when it was made and %.0f m² of the ground as it is now: the block was drawn anew since; make the zones again", list[k].Number, was, area[k])
		}
	}
	return &Zones{Options: Options{Zones: len(list)}, Zone: zone, CellM2: l.cellM2, List: list, Scale: scale, lie: l}, nil
}
