package work

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/store"
)

// block is a block during an import.
type block struct {
	store.Block
	stored bool // it was there before
	dirty  bool
	in     *blockIn // what the files say of it; nil for nothing

	rows     []*row // in the order of the block once mergeRows is done
	byLabel  map[string]*row
	loaded   bool
	frame    frame.Frame
	framed   bool
	outline  frame.MultiPolygon
	fromFile bool // made from the vines of a file
}

// samePlaceDeg is how far apart two coordinates may be, in degrees, and still be
// one place: the 8th decimal, 1.1 mm, to which our exports are rounded.
const samePlaceDeg = 1.01e-8

func samePoint(a, b orb.Point) bool {
	return math.Abs(a[0]-b[0]) <= samePlaceDeg && math.Abs(a[1]-b[1]) <= samePlaceDeg
}

func samePath[P ~[]orb.Point](a, b P) bool { return slices.EqualFunc(a, b, samePoint) }

func sameOutline(a, b orb.MultiPolygon) bool {
	return slices.EqualFunc(a, b, func(p, q orb.Polygon) bool { return slices.EqualFunc(p, q, samePath[orb.Ring]) })
}

func sameLine(a, b orb.MultiLineString) bool { return slices.EqualFunc(a, b, samePath[orb.LineString]) }

// set changes a value where another one is said, and tells whether it did.
func set[T comparable](to *T, said T) bool {
	var none T
	if said == none || *to == said {
		return false
	}
	*to = said
	return true
}

// setFloat is set with room for rounding on the way through a file.
func setFloat(to *float64, said float64) bool {
	if said == 0 || math.Abs(*to-said) <= 1e-9*math.Abs(said) {
		return false
	}
	*to = said
	return true
}

// setExtra takes over properties that have no field, and tells whether any
// differs.
func setExtra(to *map[string]any, said map[string]any) bool {
	changed := false
	for k, v := range said {
		if old, ok := (*to)[k]; ok && sameJSON(old, v) {
			continue
		}
		if !changed {
			next := make(map[string]any, len(*to)+len(said))
			for k, v := range *to {
				next[k] = v
			}
			*to, changed = next, true
		}
		(*to)[k] = v
	}
	return changed
}

// sameJSON compares two values by what they are in JSON, numbers by value.
func sameJSON(a, b any) bool {
	var x, y any
	ta, errA := json.Marshal(a)
	tb, errB := json.Marshal(b)
	if errA != nil || errB != nil {
		return false
	}
	if bytes.Equal(ta, tb) {
		return true
	}
	return json.Unmarshal(ta, &x) == nil && json.Unmarshal(tb, &y) == nil && reflect.DeepEqual(x, y)
}

// mergeBlocks makes and changes blocks.
func (m *merge) mergeBlocks() error {
	for i := range m.intake.blocks {
		b := m.blockFor(&m.intake.blocks[i])
		if b == nil {
			continue
		}
		gone, err := m.leavesRows(b)
		if err != nil {
			return err
		}
		if !gone {
			m.applyBlock(b)
		}
	}
	if m.problems > 0 {
		return nil
	}
	return m.saveBlocks()
}

// blockFor finds the stored block that a file means, or makes a new one; nil
// after a problem.
func (m *merge) blockFor(in *blockIn) *block {
	b := m.byID[in.id]
	if b != nil && b.Code != in.code && m.byCode[in.code] != nil {
		b = nil // an id of another store
	}
	if b != nil && in.outline != nil && len(b.Outline) > 0 && !b.Outline.Bound().Intersects(in.outline.Bound()) && b.Code != in.code {
		m.problem(in.where, string(csv.CoursonID), fmt.Sprintf("this id belongs to block %s, which lies elsewhere", b.Code), fmt.Sprint(in.id), "the id that an export of this estate gave, or none")
		return nil
	}
	if b == nil {
		m.meetForeign(in.where, in.id)
		b = m.byCode[in.code]
	}
	if b == nil {
		b = m.anyCase(in.where, in.code)
	}
	switch {
	case b != nil && b.in != nil:
		m.problem(in.where, string(csv.Block), "the same block twice", fmt.Sprintf("%s here and in %s", format.Quote(in.code), m.spot(b.in.where)), "each block once; a block of several pieces is one MultiPolygon")
		return nil
	case b != nil:
		b.in = in
	case in.code == "":
		m.problem(in.where, string(csv.CoursonID), "an id that is not known here, and no code", fmt.Sprint(in.id), "the block's code")
		return nil
	case in.outline == nil:
		m.problem(in.where, string(csv.Block), "a block that is not known, and no outline for it", format.Quote(in.code), m.knownBlocks(in.code))
		return nil
	case m.swapped(in.where, in.outline.Bound().Center()):
		return nil
	default:
		b = &block{Block: store.Block{Code: in.code}, in: in, loaded: true, byLabel: map[string]*row{}}
		m.addBlock(b)
	}
	return b
}

// anyCase finds a block whose code differs in letter case only.
func (m *merge) anyCase(at where, code string) *block {
	var found *block
	for _, b := range m.blocks {
		if strings.EqualFold(b.Code, code) {
			if found != nil {
				return nil
			}
			found = b
		}
	}
	if found != nil {
		m.notice(at, string(csv.Block), fmt.Sprintf("%s taken as block %s", format.Quote(code), found.Code))
	}
	return found
}

// meetForeign says once that ids of another store are met.
func (m *merge) meetForeign(at where, id int64) {
	if id != 0 && !m.foreign {
		m.foreign = true
		m.notices.Merge(format.Notice{File: m.fileName(at.file), Field: string(csv.CoursonID), Count: 1, Text: "ids that this store never gave; found by block, row and vine instead"})
	}
}

// spot names a place in a file.
func (in *intake) spot(at where) string {
	name := in.fileName(at.file)
	if at.feature >= 0 {
		return fmt.Sprintf("%s, feature %d", name, at.feature)
	}
	return fmt.Sprintf("%s, line %d", name, at.line)
}

// knownBlocks tells which blocks there are, the nearest first.
func (m *merge) knownBlocks(code string) string {
	if len(m.blocks) == 0 {
		return "its outline first; no block is known yet"
	}
	codes := make([]string, len(m.blocks))
	for i, b := range m.blocks {
		codes[i] = b.Code
	}
	slices.Sort(codes)
	text := "one of " + strings.Join(codes[:min(len(codes), 20)], ", ")
	if len(codes) > 20 {
		text += fmt.Sprintf(" and %d more", len(codes)-20)
	}
	if near := format.Nearest(code, codes); near != "" {
		return fmt.Sprintf("%s, perhaps (%s); or its outline first", near, text)
	}
	return text + "; or its outline first"
}

// applyBlock takes over what the file says of a block.
func (m *merge) applyBlock(b *block) {
	in := b.in
	changed := set(&b.Code, in.code)
	for _, f := range []struct {
		to   *string
		said string
	}{{&b.Name, in.name}, {&b.Variety, in.variety}, {&b.Clone, in.clone}, {&b.Rootstock, in.rootstock}, {&b.System, in.system}} {
		changed = set(f.to, f.said) || changed
	}
	changed = set(&b.Planted, in.planted) || changed
	changed = setFloat(&b.RowSpacingM, in.rowSpacingM) || changed
	changed = setFloat(&b.VineSpacingM, in.vineSpacingM) || changed
	changed = setExtra(&b.Extra, in.extra) || changed
	if in.end != "" {
		if end, err := layout.ParseEnd(in.end); err != nil {
			m.problem(in.where, string(csv.NumberingEnd), "not an end", format.Quote(in.end), "N, NE, E, SE, S, SW, W or NW")
		} else if end != layout.AsDrawn {
			changed = set(&b.NumberingEnd, end.String()) || changed
		}
	}
	if in.outline != nil && !sameOutline(b.Outline, in.outline) {
		b.Outline, changed = in.outline, true
	}
	m.settleFrame(b)
	b.dirty = b.dirty || changed
	m.became(&m.report.Blocks, in.where, "block "+b.Code, b.stored, changed)
}

// became counts a thing of the file and lists it unless it is unchanged.
func (m *merge) became(c *Count, at where, what string, stored, changed bool) {
	switch {
	case !stored:
		c.Made++
		m.item(at, what, "made", "")
	case changed:
		c.Changed++
		m.item(at, what, "changed", "")
	default:
		c.Unchanged++
	}
}

// settleFrame centres the block's frame on its outline.
func (m *merge) settleFrame(b *block) {
	f, err := frame.ForGeometry(b.Outline)
	if err != nil {
		return // no outline; the rows will do
	}
	b.frame, b.framed = f, true
	b.outline = f.MultiPolygon(b.Outline)
}

// saveBlocks writes the blocks that changed and notes the ids of new ones.
func (m *merge) saveBlocks() error {
	var list []store.Block
	var which []*block
	for _, b := range m.blocks {
		if b.dirty || !b.stored && b.ID == 0 {
			list, which = append(list, b.Block), append(which, b)
		}
	}
	if len(list) == 0 {
		return nil
	}
	if err := m.tx.SaveBlocks(list); err != nil {
		return err
	}
	for i, b := range which {
		b.ID, b.dirty = list[i].ID, false
		m.byID[b.ID] = b
	}
	return nil
}

// blockOf finds the block that a row or vine names; nil after a problem.
// inside gives places on its ground, for files that name none.
func (m *merge) blockOf(at where, code string, inside ...orb.Point) *block {
	if code == "" {
		code = m.job.Block
	}
	if code == "" {
		return m.blockAround(at, inside)
	}
	if b := m.byCode[code]; b != nil {
		return b
	}
	if b := m.anyCase(at, code); b != nil {
		return b
	}
	m.problem(at, string(csv.Block), "a block that is not known", format.Quote(code), m.knownBlocks(code))
	return nil
}

// blockAround finds the block that holds all places, where the file names none:
// the only one there is, or the only one around them.
func (m *merge) blockAround(at where, inside []orb.Point) *block {
	if len(m.blocks) == 1 {
		return m.blocks[0]
	}
	var found []*block
	for _, b := range m.blocks {
		if len(inside) > 0 && b.holds(inside) {
			found = append(found, b)
		}
	}
	if len(found) == 1 {
		m.notice(at, string(csv.Block), fmt.Sprintf("not said; taken as block %s, within whose outline it lies", found[0].Code))
		return found[0]
	}
	m.problem(at, string(csv.Block), "the block is not said", "nothing", m.knownBlocks(""))
	return nil
}

// holds tells whether all places lie inside the outline.
func (b *block) holds(places []orb.Point) bool {
	if len(b.Outline) == 0 {
		return false
	}
	f, err := frame.ForGeometry(b.Outline)
	if err != nil {
		return false
	}
	outline := f.MultiPolygon(b.Outline)
	for _, p := range places {
		if !outline.Contains(f.XY(p)) {
			return false
		}
	}
	return true
}
