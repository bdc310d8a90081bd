package renewal

import (
	"fmt"
	"math"

	"courson/geo/vine"
)

// Form is how a vine is built, as far as a drawing must know.
type Form string

// Forms.
const (
	FromHead Form = "head"     // one, two or four canes from the head
	TwoArms  Form = "two arms" // two short arms, each with a spur and perhaps a cane
	Cordon   Form = "cordon"   // one or two cordons along the wire, with spurs
	Goblet   Form = "goblet"   // arms all round, each with spurs; no wire needed
)

// Vine is what is drawn: what one winter left on it, seen from the row.
type Vine struct {
	Label  string // its address
	Season int    // the harvest this winter prepares; 0 not said
	Form   Form
	// Arms are what is left this winter; their large cuts are those of this winter.
	// Arms called "left" and "right" go there, others from left to right.
	Arms    []vine.Arm
	History History // for older cuts and for the path of the sap; may be empty

	TrunkMM float64 // from the ground to the head; 0: 700
	WireMM  float64 // from the ground to the fruiting wire; 0: 150 above the head, on a cordon at its height, none for a goblet
	ThickMM float64 // thickness of the trunk at its foot, as drawn; 0: 84
	Arch    bool    // canes are bent over the fruiting wire and tied to a lower one
	// Toward is the side to which a single cane of the head goes: "left" or
	// "right" (where empty).
	Toward string
}

// Style is for whom it is drawn.
type Style struct {
	// Print draws black on white; otherwise everything has the color of the text
	// around it, with classes for a page to style: ground, wire, old-wood, cane,
	// spur, bud, tie, cut-new, cut-old, label.
	Print  bool
	Labels bool   // numbers of nodes, the address, a key
	ID     string // prefix of ids, for several drawings in one page; "vine" where empty
}

// Draw gives an SVG image of a vine. It needs nothing else (no font, no script, no
// style sheet), says the same in words for those who cannot see it (title, desc),
// and is the same, byte for byte, for the same vine. Lengths along the row are
// near to scale; spurs, buds and cuts are drawn larger than they are.
func Draw(v Vine, style Style) ([]byte, error) {
	if err := v.check(); err != nil {
		return nil, err
	}
	s := newSheet(style)
	d := drawing{sheet: s, vine: v, headMM: v.headMM(), wireMM: v.wireMM()}
	d.trunk()
	for k, a := range v.Arms {
		d.arm(k, a)
	}
	wires := d.wires()
	d.keys()
	d.span(wires)
	return s.svg(v), nil
}

// Bounds of what can be drawn, chosen by us.
const (
	maxArms       = 12
	maxDrawnNodes = 60
	usualTrunkMM  = 700
	overHeadMM    = 150
)

func (v Vine) check() error {
	switch v.Form {
	case FromHead, TwoArms, Cordon, Goblet:
	default:
		return fmt.Errorf("%w: form %q (head, two arms, cordon or goblet)", ErrDrawing, v.Form)
	}
	for _, mm := range []float64{v.TrunkMM, v.WireMM} {
		if math.IsNaN(mm) || mm < 0 || mm > 4000 {
			return fmt.Errorf("%w: a height of %g mm (0 to 4000)", ErrDrawing, mm)
		}
	}
	if math.IsNaN(v.ThickMM) || v.ThickMM < 0 || v.ThickMM > 300 {
		return fmt.Errorf("%w: a trunk of %g mm (0 to 300)", ErrDrawing, v.ThickMM)
	}
	if len(v.Arms) > maxArms {
		return fmt.Errorf("%w: %d arms (at most %d)", ErrDrawing, len(v.Arms), maxArms)
	}
	if v.Toward != "" && v.Toward != "left" && v.Toward != "right" {
		return fmt.Errorf("%w: the cane goes toward %q (left or right)", ErrDrawing, v.Toward)
	}
	if err := (vine.Pruned{Arms: v.Arms}).Check(0); err != nil {
		return fmt.Errorf("%w: %w", ErrDrawing, err)
	}
	for _, a := range v.Arms {
		for _, c := range a.Canes {
			if c.Nodes > maxDrawnNodes {
				return fmt.Errorf("%w: arm %q has a cane of %d nodes (at most %d)", ErrDrawing, a.Name, c.Nodes, maxDrawnNodes)
			}
		}
	}
	return nil
}

func (v Vine) headMM() float64 {
	if v.TrunkMM > 0 {
		return v.TrunkMM
	}
	return usualTrunkMM
}

// thickness is that of the trunk, in parts of the usual one.
func (v Vine) thickness() float64 {
	if v.ThickMM > 0 {
		return v.ThickMM / trunkFoot
	}
	return 1
}

func (v Vine) wireMM() float64 {
	switch {
	case v.WireMM > 0:
		return v.WireMM
	case v.Form == Cordon:
		return v.headMM()
	}
	return v.headMM() + overHeadMM
}

// side gives -1 for an arm on the left and 1 for one on the right.
func (v Vine) side(k int) float64 {
	switch v.Arms[k].Name {
	case "left":
		return -1
	case "right":
		return 1
	}
	if len(v.Arms) == 1 {
		if v.Toward == "left" {
			return -1
		}
		return 1
	}
	if 2*k < len(v.Arms) {
		return -1
	}
	return 1
}
