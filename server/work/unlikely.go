package work

import (
	"fmt"
	"slices"

	"courson/geo/format/csv"
	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
)

// Unlikely is a value that is possible but not likely.
type Unlikely struct {
	Address  string        `json:"address"`
	Quantity vine.Quantity `json:"quantity"`
	Value    float64       `json:"value"` // in the base unit
	Unit     string        `json:"unit"`
	Given    string        `json:"given,omitempty"` // as it was written, where in another unit
	Why      string        `json:"why"`
	File     string        `json:"file,omitempty"`
	Line     int           `json:"line,omitempty"`
}

// String writes it as one line.
func (u Unlikely) String() string {
	given := ""
	if u.Given != "" {
		given = " (" + u.Given + ")"
	}
	at := ""
	if u.Line > 0 {
		at = fmt.Sprintf(" (%s, line %d)", u.File, u.Line)
	}
	return fmt.Sprintf("%s %s %.6g %s%s%s: %s", u.Address, u.Quantity, u.Value, u.Unit, given, at, u.Why)
}

// measured notes that a line measures a vine.
func (w *blockWork) measured(q vine.Quantity, id vine.ID, i int) {
	if q == vine.VisualScore {
		return
	}
	if w.lineOf == nil {
		w.lineOf = map[vine.ID]int32{}
	}
	w.lineOf[id] = int32(i)
}

// flagUnlikely reports the values of the files that are possible but not likely,
// in the light of all that is stored of the block in this season. Lines that
// have scores only are not looked at: their scale bounds them.
func (w *blockWork) flagUnlikely() error {
	if len(w.lineOf) == 0 {
		return nil
	}
	g, _, err := GroundOf(w.ctx, w.tx, w.b.Block)
	if err != nil {
		return err
	}
	s, err := LoadStand(w.ctx, w.tx, g, w.season)
	if err != nil {
		return err
	}
	in, err := VigourInput(w.ctx, w.tx, s)
	if err != nil {
		return err
	}
	odd, err := vigour.Unlikely(s, in.Columns)
	if err != nil {
		return err
	}
	for _, o := range append(odd, w.onGaps(s)...) {
		w.flag(g, o)
	}
	return nil
}

// onGaps gives the values, other than noughts, of places where no vine lives.
func (w *blockWork) onGaps(s *stand.Stand) (out []vigour.Oddity) {
	for v := range s.Ground.Len() {
		i, ok := w.lineOf[s.Ground.ID[v]]
		if !ok || s.Condition[v].Living() {
			continue
		}
		for _, q := range w.quantities {
			if x := w.vines.measures[q].get(int(i)); x > 0 {
				out = append(out, vigour.Oddity{Vine: v, Quantity: q, Value: x, Why: "the vine is " + s.Condition[v].String()})
			}
		}
	}
	return out
}

// mostUnlikely is how many unlikely values a report lists.
const mostUnlikely = 200

// flag reports one value, if it is from the files.
func (w *blockWork) flag(g *stand.Ground, o vigour.Oddity) {
	i, ok := w.lineOf[g.ID[o.Vine]]
	c := w.vines.measures[o.Quantity]
	if !ok || c == nil || c.get(int(i)) == c.none {
		return
	}
	address := g.Address(o.Vine).String()
	list := w.report.Unlikely
	if k := slices.IndexFunc(list, func(u Unlikely) bool { return u.Address == address && u.Quantity == o.Quantity }); k >= 0 {
		list[k].Why += "; " + o.Why
		return
	}
	if len(list) >= mostUnlikely {
		w.report.MoreUnlikely++
		return
	}
	u := Unlikely{Address: address, Quantity: o.Quantity, Value: o.Value, Unit: o.Quantity.Unit(), Why: o.Why,
		File: w.fileName(int(w.vines.file[i])), Line: int(w.vines.line[i])}
	scale := w.names.text(w.vines.scale[o.Quantity].get(int(i)))
	if unit, known := unitOf(csv.Measure(o.Quantity), scale); known && unit.Factor != 1 {
		u.Given = fmt.Sprintf("%.6g %s", o.Value/unit.Factor, unit.Name)
	}
	w.report.Unlikely = append(list, u)
}
