package stand

import "fmt"

// Patchy says how a vine stands in its surroundings; part of the stand format.
type Patchy uint8

// The kinds. Weak and strong surroundings were tested vine by vine; likely
// weak is what a sample makes probable.
const (
	PatchNone   Patchy = iota // not judged
	PatchPlain                // judged, nothing found
	PatchWeak                 // in a weak patch
	PatchStrong               // in a strong patch
	PatchLikely               // in an area that is likely weak
)

// MostZones is how many zones for rates a block can have.
const MostZones = 6

// Found is what was worked out of a stand's measures: columns of the ground's
// length, and never changed once it is joined to a stand.
type Found struct {
	// Stamp names the measures that it was worked out from and the way of doing
	// so: equal stamps mean equal columns. Never empty.
	Stamp  string
	Class  []uint8  // vigour 1 (weakest) to 5, 0 none
	Basis  []uint8  // 0 none, 1 measured, 2 calibrated, 3 estimated
	Doubt  []uint8  // 1 (sure) to 4 by the standard error, 0 no value
	Change []uint8  // 1 (lost much) to 5 (gained much), 0 not compared
	Patch  []Patchy // how it stands in its surroundings
	// Replant is the kind of gap or the step of its replacement; nil where no place
	// has one.
	Replant []Replanting
	// Zone is the zone for rates by the version in use, 1 the weakest, 0 none; nil
	// where none is kept.
	Zone []uint8
}

// fits refuses columns that are not the ground's.
func (f *Found) fits(n int) error {
	for _, c := range [...]int{len(f.Class), len(f.Basis), len(f.Doubt), len(f.Change), len(f.Patch)} {
		if c != n {
			return fmt.Errorf("%w: findings for %d vines, the ground has %d", ErrGround, c, n)
		}
	}
	if f.Replant != nil && len(f.Replant) != n {
		return fmt.Errorf("%w: steps of replanting for %d vines, the ground has %d", ErrGround, len(f.Replant), n)
	}
	if f.Zone != nil && len(f.Zone) != n {
		return fmt.Errorf("%w: zones for %d vines, the ground has %d", ErrGround, len(f.Zone), n)
	}
	return nil
}

func (f *Found) bytes() int64 {
	if f == nil {
		return 0
	}
	return held(f.Class) + held(f.Basis) + held(f.Doubt) + held(f.Change) + held(f.Patch) + held(f.Replant) + held(f.Zone)
}

// WithFound gives the stand with findings joined: Vigour shows their classes
// where there is a living vine. nil takes findings away. The old stand stays
// as it is. The error wraps ErrGround.
func (s *Stand) WithFound(f *Found) (*Stand, error) {
	next := *s
	next.Found = f
	next.Vigour = make([]uint8, s.Ground.Len())
	if f == nil {
		for i := range next.Vigour {
			next.Vigour[i] = s.ownClass(i)
		}
		return &next, nil
	}
	if err := f.fits(s.Ground.Len()); err != nil {
		return nil, err
	}
	for i := range next.Vigour {
		next.Vigour[i] = next.class(i)
	}
	return &next, nil
}

// class is the class that vine i shows: as found, else by its own measures.
func (s *Stand) class(i int) uint8 {
	if s.Found != nil && s.Found.Class[i] != 0 && s.Condition[i].Living() {
		return s.Found.Class[i]
	}
	return s.ownClass(i)
}

// ownClass is the class by what was measured on the vine itself.
func (s *Stand) ownClass(i int) uint8 {
	if !s.Condition[i].Living() {
		return 0
	}
	return s.Rule.Class(float64(s.WeightG[i]), s.occupiedM(i), float64(s.Score[i]))
}

// Stamp names the findings that the stand shows; empty where there are none.
func (s *Stand) Stamp() string {
	if s.Found == nil {
		return ""
	}
	return s.Found.Stamp
}

// BasisOf, DoubtOf, ChangeOf and PatchOf give what was found of vine i; 0
// where nothing was. A vine that died since shows nothing.
func (s *Stand) BasisOf(i int) uint8 { return s.found(i, func(f *Found) uint8 { return f.Basis[i] }) }

// DoubtOf gives how unsure the vigour of vine i is, 1 to 4; 0 no value.
func (s *Stand) DoubtOf(i int) uint8 { return s.found(i, func(f *Found) uint8 { return f.Doubt[i] }) }

// ChangeOf gives how vine i changed, 1 to 5; 0 not compared.
func (s *Stand) ChangeOf(i int) uint8 { return s.found(i, func(f *Found) uint8 { return f.Change[i] }) }

// PatchOf gives how vine i stands in its surroundings.
func (s *Stand) PatchOf(i int) Patchy {
	return Patchy(s.found(i, func(f *Found) uint8 { return uint8(f.Patch[i]) }))
}

func (s *Stand) found(i int, of func(*Found) uint8) uint8 {
	if s.Found == nil || !s.Condition[i].Living() {
		return 0
	}
	return of(s.Found)
}

// ZoneOf gives the zone for rates of place i, 0 where none is kept; also of places
// without a living vine, since their ground is treated too.
func (s *Stand) ZoneOf(i int) uint8 {
	if s.Found == nil || s.Found.Zone == nil {
		return 0
	}
	return s.Found.Zone[i]
}
