package vine

import "fmt"

// Pruned is the body of a pruned event: what was left on each vine of the
// target. Without Arms it says only that the vine was pruned as instructed, or
// what the totals are.
type Pruned struct {
	Nodes *int  `json:"nodes,omitempty"` // count nodes left on one vine in all
	Canes *int  `json:"canes,omitempty"`
	Spurs *int  `json:"spurs,omitempty"`
	Arms  []Arm `json:"arms,omitempty"`
	// Reason is why it differs from the instruction, in the pruner's words.
	Reason string `json:"reason,omitempty"`
}

// Arm is what was left on one arm.
type Arm struct {
	Name      string  `json:"name"` // which arm, seen from the numbering end: "left", "right", "head" or the system's own name
	Canes     []Cane  `json:"canes,omitempty"`
	Spurs     []Spur  `json:"spurs,omitempty"`
	LargeCuts []Cut   `json:"large_cuts,omitempty"`
	ClimbMM   float64 `json:"climb_mm,omitempty"` // how far the head rose this winter
}

// Cane is one cane that was laid down.
type Cane struct {
	Nodes    int `json:"nodes"`
	LengthMM int `json:"length_mm,omitempty"`
}

// Spur is one renewal spur.
type Spur struct {
	Nodes         int    `json:"nodes"`
	FirstBudFaces string `json:"first_bud_faces,omitempty"` // first clear bud: "below", "above" or "side"
}

// Cut is one large cut, into wood of two years or older.
type Cut struct {
	Face       string  `json:"face"` // "upper", "lower" or "side"
	DiameterMM float64 `json:"diameter_mm,omitempty"`
}

// Kind is KindPruned.
func (Pruned) Kind() Kind { return KindPruned }

// Limits that tell a slip from a vine; chosen by us, far above what systems carry.
const (
	maxNodes = 400
	maxCanes = 40
	maxSpurs = 60
)

// Check refuses negative or absurd counts and words that are not known.
func (p Pruned) Check(int) error {
	for _, c := range []struct {
		name string
		n    *int
		max  int
	}{{"nodes", p.Nodes, maxNodes}, {"canes", p.Canes, maxCanes}, {"spurs", p.Spurs, maxSpurs}} {
		if c.n != nil && (*c.n < 0 || *c.n > c.max) {
			return fmt.Errorf("%w: %d %s left on one vine (0 to %d)", ErrBadEvent, *c.n, c.name, c.max)
		}
	}
	for _, a := range p.Arms {
		if err := a.check(); err != nil {
			return fmt.Errorf("arm %q: %w", a.Name, err)
		}
	}
	return nil
}

func (a Arm) check() error {
	for _, c := range a.Canes {
		if c.Nodes < 0 || c.Nodes > maxNodes || c.LengthMM < 0 || c.LengthMM > 10_000 {
			return fmt.Errorf("%w: a cane of %d nodes and %d mm", ErrBadEvent, c.Nodes, c.LengthMM)
		}
	}
	for _, s := range a.Spurs {
		if s.Nodes < 0 || s.Nodes > 20 {
			return fmt.Errorf("%w: a spur of %d nodes", ErrBadEvent, s.Nodes)
		}
		if !oneOf(s.FirstBudFaces, "", "below", "above", "side") {
			return fmt.Errorf("%w: first bud faces %q (below, above or side)", ErrBadEvent, s.FirstBudFaces)
		}
	}
	for _, c := range a.LargeCuts {
		if !oneOf(c.Face, "upper", "lower", "side") || c.DiameterMM < 0 || c.DiameterMM > 300 {
			return fmt.Errorf("%w: a large cut on face %q of %g mm", ErrBadEvent, c.Face, c.DiameterMM)
		}
	}
	if a.ClimbMM < -2_000 || a.ClimbMM > 2_000 {
		return fmt.Errorf("%w: a climb of %g mm", ErrBadEvent, a.ClimbMM)
	}
	return nil
}

func oneOf(s string, words ...string) bool {
	for _, w := range words {
		if s == w {
			return true
		}
	}
	return false
}

// Totals gives nodes, canes and spurs left: the stated totals, else the sums
// over the arms; ok is false where neither says anything.
func (p Pruned) Totals() (nodes, canes, spurs int, ok bool) {
	for _, a := range p.Arms {
		canes += len(a.Canes)
		spurs += len(a.Spurs)
		for _, c := range a.Canes {
			nodes += c.Nodes
		}
		for _, s := range a.Spurs {
			nodes += s.Nodes
		}
		ok = true
	}
	for _, t := range []struct{ stated, sum *int }{{p.Nodes, &nodes}, {p.Canes, &canes}, {p.Spurs, &spurs}} {
		if t.stated != nil {
			*t.sum, ok = *t.stated, true
		}
	}
	return nodes, canes, spurs, ok
}

// NodesLeft gives the nodes left on the vine, as stated or as the arms add up;
// ok is false where neither says.
func (p Pruned) NodesLeft() (nodes int, ok bool) {
	nodes = p.counts()[0]
	return nodes, nodes >= 0
}
