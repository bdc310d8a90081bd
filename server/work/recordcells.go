package work

import (
	"fmt"
	"math"
	"strings"

	"courson/geo/format/csv"
	"courson/geo/format/geojson"
	"courson/geo/stand"
	"courson/geo/vine"
)

// recordCell takes up what was seen, measured, prescribed or done.
func (in *intake) recordCell(it *itemIn, c *cell, i int) {
	t := in.vines
	if q, ok := c.col.field.Quantity(); ok {
		in.measureCell(it, c, i, q)
		return
	}
	text := func(col *column[int32]) { col.set(i, in.names.index(c.text)) }
	count := func(col *column[int16], most int) {
		before := in.problems
		if n := in.wholeCell(it, c, 0, most); in.problems == before {
			col.set(i, int16(n))
		}
	}
	switch c.col.field {
	case csv.Status:
		in.statusCell(it, c, i)
	case csv.Cause:
		text(&t.cause)
	case csv.LookAgain:
		t.look.set(i, in.dayCell(it, c))
	case csv.Planted:
		t.planted.set(i, int16(in.seasonCell(it, c)))
	case csv.Mother:
		text(&t.mother)
	case csv.Severed:
		if yes, ok := yesOrNo(c.text); !ok {
			in.bad(it, c, "neither yes nor no", "yes, no, or nothing")
		} else if yes {
			t.severed.set(i, 1)
		}
	case csv.PlanNodes:
		count(&t.nodes, 254)
	case csv.PlanCanes:
		count(&t.canes, 40)
	case csv.PlanSpurs:
		count(&t.spurs, 60)
	case csv.PrunedOn:
		t.pruned.set(i, in.dayCell(it, c))
	case csv.PrunedBy:
		text(&t.prunedBy)
	case csv.LeftNodes:
		count(&t.left[0], 400)
	case csv.LeftCanes:
		count(&t.left[1], 40)
	case csv.LeftSpurs:
		count(&t.left[2], 60)
	case csv.LeftReason:
		text(&t.reason)
	case csv.Progress:
		in.progressCell(it, c, i)
	case csv.RecordedOn:
		t.day.set(i, in.dayCell(it, c))
	case csv.RecordedBy:
		text(&t.by)
	case csv.ScoreScale, csv.IndexName: // read with the value they stand beside
	case csv.Note:
		if len(c.text) > 4000 {
			in.bad(it, c, "a note is too long", "at most 4000 characters")
			return
		}
		text(&t.note)
	default:
		in.tell(it, c.col) // a field of blocks or rows means nothing here
	}
}

// yesOrNo reads a word for yes or no.
func yesOrNo(text []byte) (yes, ok bool) {
	switch strings.ToLower(string(text)) {
	case "yes", "y", "true", "1":
		return true, true
	case "no", "n", "false", "0", "":
		return false, true
	}
	return false, false
}

// statusWord reads a condition, also by words beside those of vine.Condition (common
// practice in survey sheets).
func statusWord(word string) (vine.Condition, bool) {
	switch word {
	case "ok", "good", "healthy", "alive", "living", "bearing":
		return vine.Bearing, true
	case "replant", "replanted":
		return vine.Replanted, true
	case "gap", "missing":
		return vine.Missing, true
	case "sick", "diseased":
		return vine.Diseased, true
	case "unseen", "":
		return vine.Unseen, true
	}
	if c, ok := otherConditions()[word]; ok {
		return c, true
	}
	c, err := vine.ParseCondition(word)
	return c, err == nil
}

// otherConditions lists the words for conditions in French, Spanish and Portuguese,
// the languages whose headers are known too (dictionary words).
func otherConditions() map[string]vine.Condition {
	words := map[vine.Condition]string{
		vine.Bearing:   "sain saine sano sana são sã",
		vine.Young:     "jeune joven jovem",
		vine.Weak:      "faible débil debil fraco fraca",
		vine.Diseased:  "malade enfermo enferma doente",
		vine.Dead:      "mort morte muerto muerta morto morta",
		vine.Missing:   "manquant manquante absent absente faltante falta ausente",
		vine.Replanted: "replanté replante replantado replantada",
		vine.Doubtful:  "douteux douteuse dudoso dudosa duvidoso duvidosa",
	}
	out := map[string]vine.Condition{}
	for c, list := range words {
		for _, w := range strings.Fields(list) {
			out[w] = c
		}
	}
	return out
}

func (in *intake) statusCell(it *itemIn, c *cell, i int) {
	cond, known := statusWord(string(c.text))
	if !known {
		cond, known = statusWord(strings.ToLower(string(c.text)))
	}
	if !known {
		in.bad(it, c, "not a condition", "ok, bearing, young, weak, diseased, dead, missing, replant, doubtful, or nothing")
		return
	}
	in.vines.cond.set(i, cond)
}

func (in *intake) progressCell(it *itemIn, c *cell, i int) {
	var p vine.Progress
	if err := p.UnmarshalText([]byte(strings.ToLower(string(c.text)))); err != nil {
		in.bad(it, c, "not a state of progress", "not_started, started, done, to_redo or skipped")
		return
	}
	in.vines.progress.set(i, int8(p))
}

// measureCell takes up a measured value.
func (in *intake) measureCell(it *itemIn, c *cell, i int, q vine.Quantity) {
	if !in.hasUnit(it, c) {
		return
	}
	if q == vine.VisualScore {
		in.scoreCell(it, c, i)
		return
	}
	least, most := q.Limits()
	u := c.col.unit
	v := in.numberCell(it, c, least/u.Factor, most/u.Factor, fmt.Sprintf("%g to %g %s", least/u.Factor, most/u.Factor, unitName(c, q)))
	if math.IsNaN(v) {
		return
	}
	scale := int32(-1)
	switch {
	case q == vine.CanopyIndex:
		if scale = in.indexName(it, c); scale < 0 {
			return
		}
	case u.Name != "" && u.Name != q.Unit():
		scale = c.col.scale
	}
	in.vines.measure(q, i, converted(v, u.Factor), scale)
}

func unitName(c *cell, q vine.Quantity) string {
	if c.col.unit.Name != "" {
		return c.col.unit.Name
	}
	return q.Unit()
}

// scoreCell takes up a visual score. 0 is outside a scale from 1, but stands for
// "no growth" on vines that are dead or gone; that is settled when the whole
// line is known.
func (in *intake) scoreCell(it *itemIn, c *cell, i int) {
	scale, name, ok := in.scaleOf(it, c)
	if !ok {
		return
	}
	if n, ok := c.small(); ok && float64(n) >= scale.Min && float64(n) <= scale.Max {
		in.vines.measure(vine.VisualScore, i, float64(n), name)
		return
	}
	wanted := fmt.Sprintf("a score from %g to %g", scale.Min, scale.Max)
	v := in.numberCell(it, c, min(0, scale.Min), scale.Max, wanted)
	if math.IsNaN(v) {
		return
	}
	if v < scale.Min && (v != 0 || in.livingCell(it)) {
		in.bad(it, c, "out of range", wanted)
		return
	}
	in.vines.measure(vine.VisualScore, i, v, name)
}

// scaleOf gives the scale of a score: as its line says, as its column or the job
// does, else the estate's.
func (in *intake) scaleOf(it *itemIn, c *cell) (stand.Scale, int32, bool) {
	if said := it.cellOf(csv.ScoreScale); said != nil {
		scale, ok := stand.ParseScale(string(said.text))
		if !ok {
			in.bad(it, said, "not a scale", "lowest and highest score, as in 1-5")
		}
		return scale, in.names.index(said.text), ok
	}
	if c.col.score != nil {
		return *c.col.score, c.col.scale, true
	}
	return in.scale, in.scaleName, true
}

// indexName gives the name of a canopy index, below 0 after a problem: the values
// of two indices cannot be compared, so an index without a name is worth nothing.
func (in *intake) indexName(it *itemIn, c *cell) int32 {
	switch said := it.cellOf(csv.IndexName); {
	case said != nil:
		return in.names.index([]byte(csv.IndexCase(string(said.text))))
	case c.col.scale >= 0:
		return c.col.scale
	case in.ours[it.file]: // our own export of a value that came without a name
		return in.names.index(nil)
	}
	if key := fmt.Sprint("index ", it.file, " ", c.col.name); !it.table || !in.unknown[key] {
		in.unknown[key] = true
		in.bad(it, c, "an index without its name", "the name in the column's: canopy_index NDVI; or stated: --unit canopy_index=NDVI")
	}
	return -1
}

// cellOf gives the cell of a field on the line, nil where it is empty.
func (it *itemIn) cellOf(f csv.Field) *cell {
	for k := range it.cells {
		if c := &it.cells[k]; c.col.known && c.col.field == f && c.kind != geojson.Null {
			return c
		}
	}
	return nil
}

// livingCell tells whether the line says nothing of the vine being dead or gone.
func (in *intake) livingCell(it *itemIn) bool {
	c := it.cellOf(csv.Status)
	if c == nil {
		return true
	}
	cond, ok := statusWord(strings.ToLower(string(c.text)))
	return !ok || cond.Living()
}
