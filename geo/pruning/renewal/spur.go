package renewal

import "fmt"

// Way is how a shoot is cut to a spur.
type Way string

// The ways, in the order of preference for one shoot.
const (
	TwoNodes     Way = "two nodes"                      // first clear bud below
	TwoNodesSide Way = "two nodes, first bud to a side" // neither bud lies below
	ThreeNodes   Way = "three nodes, thinned in spring" // first bud above: the second takes its part
	BaseBud      Way = "one node and the base bud"      // first bud above, the second too far out
	LookFirst    Way = "look where the first bud faces" // nobody has looked
)

// Spur is a shoot cut to a spur.
type Spur struct {
	Shoot int // index in Arm.Shoots
	Way   Way
	Faces Facing // its first clear bud
	Nodes int    // clear buds left
	// ClimbMM is how far out from where this winter's spur is expected next
	// winter's spur will stand. ClimbKnown is false where a distance it is made of
	// was not measured and counts as 0.
	ClimbMM    float64
	ClimbKnown bool
	// NextSpur and NextCane are the nodes of this spur whose shoots become next
	// winter's spur and cane; 0 is the base bud.
	NextSpur, NextCane int
	Drawback           string // empty: none
}

// within tells whether the climb stays in the limit; one not known is not held
// against it.
func (p Spur) within(s Settings) bool { return !p.ClimbKnown || p.ClimbMM <= s.ClimbLimitMM }

// ways gives how a shoot can be cut to a spur, the best first. Refused are ways
// that the rule does not allow here, which remain alternatives with a drawback.
func (s Settings) ways(i int, shoot Shoot) (allowed, refused []Spur) {
	switch shoot.Faces {
	case Below:
		two := s.twoNodes(i, shoot)
		allowed = append(allowed, two)
		if !two.within(s) && shoot.BaseBudSound {
			allowed = append(allowed, s.baseBud(i, shoot))
		}
	case Side:
		allowed = append(allowed, s.side(i, shoot))
		if shoot.BaseBudSound {
			allowed = append(allowed, s.baseBud(i, shoot))
		}
	case Above:
		three := s.threeNodes(i, shoot)
		if three.within(s) {
			allowed = append(allowed, three)
		} else {
			three.Drawback = fmt.Sprintf("the head climbs %.0f mm in one winter, %.0f mm are the limit", three.ClimbMM, s.ClimbLimitMM)
			refused = append(refused, three)
		}
		if shoot.BaseBudSound {
			allowed = append(allowed, s.baseBud(i, shoot))
		}
	default:
		allowed = append(allowed, Spur{Shoot: i, Way: LookFirst, Nodes: 2, ClimbMM: shoot.OutMM, NextSpur: 1, NextCane: 2,
			Drawback: "nobody has looked where its first clear bud faces: go by the rule"})
	}
	return allowed, refused
}

func (s Settings) twoNodes(i int, shoot Shoot) Spur {
	p := Spur{Shoot: i, Way: TwoNodes, Faces: shoot.Faces, Nodes: 2, NextSpur: 1, NextCane: 2,
		ClimbMM: shoot.OutMM + shoot.BaseMM, ClimbKnown: shoot.BaseMM > 0}
	if !p.within(s) {
		p.Drawback = fmt.Sprintf("the head climbs %.0f mm in one winter, %.0f mm are the limit", p.ClimbMM, s.ClimbLimitMM)
	}
	return p
}

func (s Settings) side(i int, shoot Shoot) Spur {
	p := s.twoNodes(i, shoot)
	p.Way = TwoNodesSide
	if p.Drawback != "" {
		p.Drawback += "; "
	}
	p.Drawback += "both shoots stand across the row and next winter's cut falls on the side of the arm"
	return p
}

func (s Settings) threeNodes(i int, shoot Shoot) Spur {
	known := shoot.BaseMM > 0 && shoot.InternodeMM > 0
	p := Spur{Shoot: i, Way: ThreeNodes, Faces: shoot.Faces, Nodes: 3, NextSpur: 2, NextCane: 3,
		ClimbMM: shoot.OutMM + shoot.BaseMM + shoot.InternodeMM, ClimbKnown: known,
		Drawback: "needs a visit at shoot thinning, or the spur stays the wrong way round"}
	if !known {
		p.Drawback += fmt.Sprintf("; not measured: only if its second bud sits at most %.0f mm from the base", s.ClimbLimitMM-shoot.OutMM)
	}
	return p
}

func (s Settings) baseBud(i int, shoot Shoot) Spur {
	p := Spur{Shoot: i, Way: BaseBud, Faces: shoot.Faces, Nodes: 1, NextSpur: 0, NextCane: 1,
		ClimbMM: shoot.OutMM, ClimbKnown: true,
		Drawback: "the two shoots stand very close together, and the base bud may not open"}
	if !p.within(s) {
		p.Drawback += fmt.Sprintf("; the head still climbs %.0f mm", p.ClimbMM)
	}
	return p
}

// order of preference among the ways of one shoot.
func (w Way) order() float64 {
	for k, x := range []Way{TwoNodes, TwoNodesSide, ThreeNodes, BaseBud} {
		if w == x {
			return float64(k)
		}
	}
	return 9
}

// Text says how to cut, for the pruner.
func (p Spur) Text() string {
	switch p.Way {
	case TwoNodes:
		return "spur of 2 nodes, first bud below: the lower shoot is next winter's spur, the upper one its cane"
	case TwoNodesSide:
		return "spur of 2 nodes, first bud to the side: the first shoot is next winter's spur, the second its cane"
	case ThreeNodes:
		return "spur of 3 nodes, first bud on top: the second shoot is next winter's spur, the third its cane"
	case BaseBud:
		return "spur of 1 node and the base bud: the shoot of the base bud is next winter's spur, that of the node its cane"
	}
	return "spur by the rule: see where the first clear bud faces"
}
