package renewal

import (
	"fmt"

	"courson/geo/vine"
)

// Expected is what should stand now where a spur was left last winter.
type Expected struct {
	Left  vine.Spur // the spur that was left; zero where none was
	Known bool      // the record is enough to say which shoot is which
	// NextSpur and NextCane are the nodes whose shoots should be spur and cane
	// now; 0 the base bud.
	NextSpur, NextCane int
	Text               string
	// Look says what may not be as it should.
	Look string
}

// expect reads the record by the rule that made it.
func expect(spurs []vine.Spur, canes []vine.Cane) (out []Expected) {
	for _, p := range spurs {
		out = append(out, expectOn(p))
	}
	if len(spurs) == 0 && len(canes) > 0 {
		out = append(out, Expected{Text: "No spur was left: spur and cane come from the lowest shoots of last winter's cane.",
			Look: "see whether two well-placed shoots stand at the base of the cane"})
	}
	return out
}

func expectOn(p vine.Spur) Expected {
	e := Expected{Left: p, Known: true}
	switch f := Facing(p.FirstBudFaces); {
	case f == Above && p.Nodes >= 3:
		e.NextSpur, e.NextCane = 2, 3
		e.Text = fmt.Sprintf("Spur of %d nodes, first bud on top: the shoot of the second node, below, is the spur now, that of the third the cane.", p.Nodes)
		e.Look = "see whether the first and the base shoots were rubbed off at shoot thinning"
	case f == Above && p.Nodes == 1:
		e.NextSpur, e.NextCane = 0, 1
		e.Text = "Spur of 1 node and the base bud: the shoot of the base bud is the spur now, that of the node above it the cane."
		e.Look = "see whether both pushed"
	case f == Above && p.Nodes == 2:
		e.NextSpur, e.NextCane = 2, 0
		e.Known = false
		e.Text = "Spur of 2 nodes, first bud on top, with nothing to make it right: the lower shoot is the second, farther out, and nothing above it can be the cane."
		e.Look = "look at the vine: a shoot of the base bud below would serve as the spur"
	case f == Below && p.Nodes >= 2:
		e.NextSpur, e.NextCane = 1, 2
		e.Text = fmt.Sprintf("Spur of %d nodes, first bud below: the first shoot, below, is the spur now, the second, above it, the cane.", p.Nodes)
	case f == Side && p.Nodes >= 2:
		e.NextSpur, e.NextCane = 1, 2
		e.Text = fmt.Sprintf("Spur of %d nodes, first bud to a side: the first shoot is the spur now, the second the cane.", p.Nodes)
		e.Look = "see whether both were turned into the row"
	case f == Below && p.Nodes == 1 || f == Side && p.Nodes == 1:
		e.NextSpur, e.NextCane = 1, 0
		e.Known = false
		e.Text = "Spur of 1 node: its shoot is the spur now; nothing above it was left for a cane."
		e.Look = "see whether a shoot stands above, else take the cane from the base of last year's cane"
	default:
		e.Known = false
		e.Text = fmt.Sprintf("Spur of %d nodes; where its first bud faced was not recorded.", p.Nodes)
		e.Look = "see which shoot stands lower"
	}
	return e
}

// Record gives what the choice leaves on its arm, as the record keeps it: cane is
// what is laid down (nil: this arm carries none), cuts the large cuts made. What
// the arm does not carry is left out.
func (c Choice) Record(cane *vine.Cane, cuts []vine.Cut) vine.Arm {
	a := vine.Arm{Name: c.Arm, LargeCuts: cuts}
	if c.Spur != nil {
		a.Spurs = append(a.Spurs, vine.Spur{Nodes: c.Spur.Nodes, FirstBudFaces: string(c.Spur.Faces)})
		a.ClimbMM = c.Spur.ClimbMM
	}
	if c.Rebuild != nil {
		a.Spurs = append(a.Spurs, vine.Spur{Nodes: c.Rebuild.Nodes, FirstBudFaces: string(c.Rebuild.Faces)})
	}
	if cane != nil {
		a.Canes = append(a.Canes, *cane)
	}
	return a
}
