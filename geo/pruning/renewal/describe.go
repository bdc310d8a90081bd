package renewal

import (
	"fmt"
	"strings"

	"courson/geo/vine"
)

// title names the drawing.
func (v Vine) title() string {
	if v.Label == "" {
		return "Vine after pruning"
	}
	return "Vine " + v.Label + " after pruning"
}

// heading is the line above the drawing.
func (v Vine) heading() string {
	h := v.Label
	if v.Season > 0 {
		h = strings.TrimSpace(fmt.Sprintf("%s  winter before harvest %d", h, v.Season))
	}
	return h
}

func (v Vine) hasNew() bool {
	for _, a := range v.Arms {
		if len(a.LargeCuts) > 0 {
			return true
		}
	}
	return false
}

func (v Vine) hasOld() bool {
	for _, a := range v.Arms {
		if h, ok := v.History.Arm(a.Name); ok && len(v.older(h)) > 0 {
			return true
		}
	}
	return false
}

// older gives the cuts of other seasons than the one drawn.
func (v Vine) older(h ArmHistory) (out []MadeCut) {
	for _, c := range h.Cuts {
		if v.Season == 0 || c.Season != v.Season {
			out = append(out, c)
		}
	}
	return out
}

// describe says in words what the drawing shows.
func (v Vine) describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, seen from the row.", map[Form]string{
		FromHead: "A trunk with a head", TwoArms: "A trunk with two short arms", Cordon: "A trunk with a cordon along the wire", Goblet: "A trunk with arms all round",
	}[v.Form])
	if v.Season > 0 {
		fmt.Fprintf(&b, " Winter before harvest %d.", v.Season)
	}
	if len(v.Arms) == 0 {
		b.WriteString(" Nothing is left on it.")
	}
	for _, a := range v.Arms {
		b.WriteString(" " + v.describeArm(a))
	}
	return b.String()
}

func (v Vine) describeArm(a vine.Arm) string {
	var parts []string
	for _, p := range a.Spurs {
		text := "spur of " + nodes(p.Nodes)
		switch {
		case p.FirstBudFaces == string(Side):
			text += ", first bud to a side"
		case p.FirstBudFaces != "":
			text += ", first bud " + p.FirstBudFaces
		}
		parts = append(parts, text)
	}
	for _, c := range a.Canes {
		how := "tied along the wire"
		if v.Arch {
			how = "bent over the wire and tied down"
		}
		parts = append(parts, fmt.Sprintf("cane of %s, %s", nodes(c.Nodes), how))
	}
	for _, c := range a.LargeCuts {
		parts = append(parts, "large cut this winter on the "+cutWords(MadeCut{0, Face(c.Face), c.DiameterMM}))
	}
	h, known := v.History.Arm(a.Name)
	for _, c := range v.older(h) {
		parts = append(parts, fmt.Sprintf("large cut of %d on the %s", c.Season, cutWords(c)))
	}
	if known {
		parts = append(parts, "path of the sap "+string(h.Path))
	}
	if len(parts) == 0 {
		parts = []string{"nothing"}
	}
	name := []rune(a.Name)
	if len(name) == 0 {
		name = []rune("arm")
	}
	return strings.ToUpper(string(name[:1])) + string(name[1:]) + ": " + strings.Join(parts, "; ") + "."
}

func cutWords(c MadeCut) string {
	text := string(c.Face)
	if c.Face != SideFace {
		text += " face"
	}
	if c.DiameterMM > 0 {
		text += fmt.Sprintf(", %g mm", c.DiameterMM)
	}
	return text
}

func nodes(n int) string {
	if n == 1 {
		return "1 node"
	}
	return fmt.Sprintf("%d nodes", n)
}
