package work

import (
	"math"

	"github.com/paulmach/orb"

	"courson/geo/vine"
)

// column is a column of a vineTable. It takes room only once something is set.
type column[T comparable] struct {
	v    []T
	none T
}

func (c *column[T]) set(i int, v T) {
	for len(c.v) <= i {
		c.v = append(c.v, c.none)
	}
	c.v[i] = v
}

func (c *column[T]) get(i int) T {
	if i < len(c.v) {
		return c.v[i]
	}
	return c.none
}

func (c *column[T]) some() bool { return len(c.v) > 0 }

// noDay stands for no date in a column of days since 1970.
const noDay = math.MinInt32

// vineTable holds what files say of vines, in columns, so that a million vines
// fit into memory: about 60 bytes each for points with a condition and a score.
type vineTable struct {
	file   []uint8
	place  []int32 // feature, or -1
	line   []int32
	block  []int32 // index of a name, -1 none
	row    []int32
	number []int32 // noNumber: not said

	id       column[int64]
	point    column[orb.Point]
	tag      column[span]
	texts    []byte // of tags, one after the other
	cond     column[vine.Condition]
	cause    column[int32]
	look     column[int32] // day
	planted  column[int16]
	mother   column[int32] // of a layer, as written
	severed  column[int8]  // 1: a layer cut from its mother
	nodes    column[int16]
	canes    column[int16]
	spurs    column[int16]
	pruned   column[int32] // day
	prunedBy column[int32]
	left     [3]column[int16] // nodes, canes, spurs
	reason   column[int32]
	progress column[int8]
	note     column[int32]
	day      column[int32] // on which the line's records were made
	by       column[int32]
	tally    column[int32] // index of counts by classes of cane diameters
	tallies  []tally
	season   column[int16]
	measures map[vine.Quantity]*column[float64]
	scale    map[vine.Quantity]*column[int32] // unit the value was written in, or the scale of a score
}

const noNumber = math.MinInt32

func newVineTable() *vineTable {
	t := &vineTable{measures: map[vine.Quantity]*column[float64]{}, scale: map[vine.Quantity]*column[int32]{}}
	t.point.none = orb.Point{math.Inf(1), math.Inf(1)}
	for _, c := range []*column[int32]{&t.cause, &t.mother, &t.prunedBy, &t.reason, &t.note, &t.by, &t.tally} {
		c.none = -1
	}
	t.look.none, t.pruned.none, t.day.none = noDay, noDay, noDay
	for _, c := range []*column[int16]{&t.nodes, &t.canes, &t.spurs, &t.left[0], &t.left[1], &t.left[2]} {
		c.none = -1
	}
	t.progress.none = -1
	return t
}

func (t *vineTable) len() int { return len(t.file) }

// add begins the next vine.
func (t *vineTable) add(file uint8, place, line int) int {
	t.file, t.place, t.line = append(t.file, file), append(t.place, int32(place)), append(t.line, int32(line))
	t.block, t.row, t.number = append(t.block, -1), append(t.row, -1), append(t.number, noNumber)
	return len(t.file) - 1
}

// span is where a text stands in a vineTable's texts.
type span struct {
	at uint32
	n  uint16
}

func (t *vineTable) setTag(i int, text []byte) {
	t.tag.set(i, span{uint32(len(t.texts)), uint16(len(text))})
	t.texts = append(t.texts, text...)
}

// tagOf gives the tag of vine i, "" for none. The bytes must not be kept.
func (t *vineTable) tagOf(i int) []byte {
	s := t.tag.get(i)
	return t.texts[s.at : s.at+uint32(s.n)]
}

func (t *vineTable) hasPoint(i int) bool { return t.point.get(i) != t.point.none }

// measure sets a measured value in base units.
func (t *vineTable) measure(q vine.Quantity, i int, v float64, scale int32) {
	c := t.measures[q]
	if c == nil {
		c = &column[float64]{none: math.Inf(-1)}
		t.measures[q] = c
		t.scale[q] = &column[int32]{none: -1}
	}
	c.set(i, v)
	if scale >= 0 {
		t.scale[q].set(i, scale)
	}
}

// nameList keeps each text once.
type nameList struct {
	list []string
	at   map[string]int32
}

// index gives the index of a text.
func (n *nameList) index(text []byte) int32 {
	if i, ok := n.at[string(text)]; ok {
		return i
	}
	if n.at == nil {
		n.at = map[string]int32{}
	}
	i := int32(len(n.list))
	s := string(text)
	n.list = append(n.list, s)
	n.at[s] = i
	return i
}

// text gives the text of an index, "" for -1.
func (n *nameList) text(i int32) string {
	if i < 0 {
		return ""
	}
	return n.list[i]
}

// cut takes off all vines from the n-th on.
func (t *vineTable) cut(n int) {
	t.file, t.place, t.line = t.file[:n], t.place[:n], t.line[:n]
	t.block, t.row, t.number = t.block[:n], t.row[:n], t.number[:n]
	t.id.cut(n)
	t.point.cut(n)
	t.tag.cut(n)
	t.cond.cut(n)
	t.planted.cut(n)
	t.progress.cut(n)
	t.severed.cut(n)
	t.season.cut(n)
	for _, c := range []*column[int32]{&t.cause, &t.mother, &t.look, &t.pruned, &t.prunedBy, &t.reason, &t.note, &t.day, &t.by, &t.tally} {
		c.cut(n)
	}
	for _, c := range []*column[int16]{&t.nodes, &t.canes, &t.spurs, &t.left[0], &t.left[1], &t.left[2]} {
		c.cut(n)
	}
	for _, c := range t.measures {
		c.cut(n)
	}
	for _, c := range t.scale {
		c.cut(n)
	}
}

func (c *column[T]) cut(n int) { c.v = c.v[:min(n, len(c.v))] }
