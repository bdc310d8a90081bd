package work

import (
	"cmp"
	"fmt"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/vine"
	"courson/store"
)

// tagged is a vine found by its tag.
type tagged struct {
	block, row string
	number     int
}

// group is the lines of the files that are about one row.
type group struct {
	block, row int32 // names
	from, to   int   // in the sorted list of vines
}

// mergeVines lays out vines, takes over what the files say of them and records
// what was seen, measured, prescribed and done.
func (m *merge) mergeVines() error {
	if err := m.findByTag(); err != nil {
		return err
	}
	order := m.sorted()
	groups := m.group(order)
	work, err := m.assign(groups, order)
	if err != nil || m.problems > 0 {
		return err
	}
	if err := m.settleSeason(work); err != nil || m.problems > 0 {
		return err
	}
	return m.workRows(work, order)
}

// findByTag gives an address to lines that name their vine by tag or id only.
func (m *merge) findByTag() error {
	t := m.vines
	for i := range t.len() {
		if t.row[i] >= 0 && t.number[i] != noNumber {
			continue
		}
		if id := t.id.get(i); id != 0 {
			if err := m.addressOfID(i, id); err != nil {
				return err
			}
			continue
		}
		if err := m.addressOfTag(i); err != nil {
			return err
		}
	}
	return nil
}

func (m *merge) at(i int) where {
	t := m.vines
	return where{file: int(t.file[i]), feature: int(t.place[i]), line: int(t.line[i])}
}

func (m *merge) addressOfID(i int, id int64) error {
	v, err := m.tx.Vine(m.ctx, id)
	if err != nil {
		if isNotFound(err) {
			m.problem(m.at(i), string(csv.CoursonID), "an id that is not known here, and no row and vine number", fmt.Sprint(id), "block, row and vine beside it")
			return nil
		}
		return err
	}
	b := m.byID[v.Block]
	if err := m.loadRows(b); err != nil {
		return err
	}
	for _, r := range b.rows {
		if r.ID == v.Row {
			m.setAddress(i, tagged{b.Code, r.Label, v.Number})
		}
	}
	return nil
}

func (m *merge) setAddress(i int, a tagged) {
	t := m.vines
	t.block[i], t.row[i], t.number[i] = m.names.index([]byte(a.block)), m.names.index([]byte(a.row)), int32(a.number)
}

func (m *merge) addressOfTag(i int) error {
	if m.tags == nil {
		if err := m.loadTags(); err != nil {
			return err
		}
	}
	tag := string(m.vines.tagOf(i))
	var found []tagged
	for _, a := range m.tags[tag] {
		if code := m.codeOf(i); code == "" || code == a.block {
			found = append(found, a)
		}
	}
	switch len(found) {
	case 1:
		m.setAddress(i, found[0])
	case 0:
		m.problem(m.at(i), string(csv.Tag), "no vine has this tag", format.Quote(tag), "a tag that is stored, or block, row and vine")
	default:
		m.problem(m.at(i), string(csv.Tag), fmt.Sprintf("%d vines have this tag", len(found)), format.Quote(tag), fmt.Sprintf("block, row and vine beside it, as in %s/%s/%d", found[0].block, found[0].row, found[0].number))
	}
	return nil
}

// codeOf gives the block code that a line names, "" for none.
func (m *merge) codeOf(i int) string {
	if code := m.names.text(m.vines.block[i]); code != "" {
		return code
	}
	return m.job.Block
}

func (m *merge) loadTags() error {
	m.tags = map[string][]tagged{}
	for _, b := range m.blocks {
		if err := m.loadRows(b); err != nil {
			return err
		}
		label := map[vine.ID]string{}
		for _, r := range b.rows {
			label[r.ID] = r.Label
		}
		for v, err := range m.tx.Vines(m.ctx, b.ID) {
			if err != nil {
				return err
			}
			if v.Tag != "" {
				m.tags[v.Tag] = append(m.tags[v.Tag], tagged{b.Code, label[v.Row], v.Number})
			}
		}
	}
	return nil
}

// sorted gives the lines by block, row and number.
func (m *merge) sorted() []int32 {
	t := m.vines
	order := make([]int32, t.len())
	for i := range order {
		order[i] = int32(i)
	}
	less := func(a, b int32) int {
		return cmp.Or(cmp.Compare(t.block[a], t.block[b]), cmp.Compare(t.row[a], t.row[b]), cmp.Compare(t.number[a], t.number[b]))
	}
	if !slices.IsSortedFunc(order, less) {
		slices.SortStableFunc(order, less)
	}
	return order
}

// group cuts the sorted lines into rows. Lines without an address have had
// their problem already.
func (m *merge) group(order []int32) []group {
	t := m.vines
	var out []group
	for k := 0; k < len(order); {
		i := order[k]
		g := group{block: t.block[i], row: t.row[i], from: k}
		for k < len(order) && t.block[order[k]] == g.block && t.row[order[k]] == g.row {
			k++
		}
		g.to = k
		if g.row >= 0 {
			out = append(out, g)
		}
	}
	return out
}

// task is the work on one row: its lines in the files, if any.
type task struct {
	b     *block
	r     *row
	lines [][2]int // runs of the sorted list
}

// assign finds the row of every group, making rows from their vines where a
// block has none yet, and adds the rows that must be laid out.
func (m *merge) assign(groups []group, order []int32) ([]*task, error) {
	tasks := map[*row]*task{}
	var list []*task
	add := func(b *block, r *row) *task {
		if tasks[r] == nil {
			tasks[r] = &task{b: b, r: r}
			list = append(list, tasks[r])
		}
		return tasks[r]
	}
	for _, b := range m.blocks {
		for _, r := range b.rows {
			if r.moved {
				add(b, r)
			}
		}
	}
	for _, g := range groups {
		b, err := m.blockOfGroup(g, order)
		if err != nil {
			return nil, err
		}
		if b == nil {
			continue
		}
		r := m.rowOfGroup(b, g, order)
		if r != nil {
			t := add(b, r)
			t.lines = append(t.lines, [2]int{g.from, g.to})
		}
	}
	if m.problems > 0 {
		return nil, nil
	}
	if err := m.saveGround(); err != nil {
		return nil, err
	}
	// Stored vines are read block by block, so the work goes by block too.
	place := map[*block]int{}
	for i, b := range m.blocks {
		place[b] = i
	}
	sort.SliceStable(list, func(i, j int) bool {
		return cmp.Or(cmp.Compare(place[list[i].b], place[list[j].b]), cmp.Compare(list[i].r.Ord, list[j].r.Ord)) < 0
	})
	return list, nil
}

// blockOfGroup finds the block of a row's lines. A block that is not known is
// made from its vines when they are points that lie in no other block.
func (m *merge) blockOfGroup(g group, order []int32) (*block, error) {
	at := m.at(int(order[g.from]))
	code := m.codeOf(int(order[g.from]))
	points := m.pointsOf(g, order, 3)
	b := m.byCode[code]
	if b == nil && code != "" && len(points) > 0 && m.job.As != Measures {
		if b = m.anyCase(at, code); b == nil {
			b = m.newBlock(at, code, points)
		}
	} else if b == nil {
		b = m.blockOf(at, code, points...)
	}
	if b == nil {
		return nil, nil
	}
	return b, m.loadRows(b)
}

// pointsOf gives some of the places that a group's lines have.
func (m *merge) pointsOf(g group, order []int32, most int) []orb.Point {
	var out []orb.Point
	step := max(1, (g.to-g.from)/most)
	for k := g.from; k < g.to; k += step {
		if i := int(order[k]); m.vines.hasPoint(i) {
			out = append(out, m.vines.point.get(i))
		}
	}
	return out
}

func (m *merge) newBlock(at where, code string, points []orb.Point) *block {
	for _, b := range m.blocks {
		if b.holds(points) {
			m.problem(at, string(csv.Block), "a block that is not known", format.Quote(code), fmt.Sprintf("%s, within whose outline these vines stand; or the outline of the new block first", b.Code))
			return nil
		}
	}
	if m.swapped(at, points[0]) {
		return nil
	}
	b := &block{Block: store.Block{Code: code}, loaded: true, byLabel: map[string]*row{}, fromFile: true}
	m.addBlock(b)
	m.report.Blocks.Made++
	m.item(at, "block "+code, "made", "from its vines")
	m.notice(at, string(csv.Block), fmt.Sprintf("block %s was not known; made from its vines, without an outline", code))
	return b
}

// rowOfGroup finds the row of a group's lines, or makes it from its vines where
// the block has no other rows than such; nil after a problem.
func (m *merge) rowOfGroup(b *block, g group, order []int32) *row {
	label := m.names.text(g.row)
	if r := b.byLabel[label]; r != nil {
		return r
	}
	at := m.at(int(order[g.from]))
	if len(b.rows) == 0 {
		b.fromFile = true
	}
	if !b.fromFile || m.job.As == Measures {
		m.problem(at, string(csv.Row), fmt.Sprintf("a row that is not known in block %s", b.Code), format.Quote(label),
			m.wentTo(vine.Address{Block: b.Code, Row: label, Number: int(m.vines.number[order[g.from]])})+m.knownRows(b, label))
		return nil
	}
	r := m.rowFromPoints(b, g, order, at)
	if r != nil {
		b.rows = append(b.rows, r)
		b.byLabel[label] = r
	}
	return r
}

func (m *merge) knownRows(b *block, label string) string {
	labels := make([]string, len(b.rows))
	for i, r := range b.rows {
		labels[i] = r.Label
	}
	if len(labels) == 0 {
		return "the row's line first; the block has no rows yet"
	}
	text := fmt.Sprintf("one of its rows, %s to %s; or the line of the new row first", labels[0], labels[len(labels)-1])
	if near := format.Nearest(label, labels); near != "" && len(label) > 2 {
		return near + ", perhaps; " + text
	}
	return text
}

// saveGround writes blocks and rows that were made from vines.
func (m *merge) saveGround() error {
	for _, b := range m.blocks {
		if b.fromFile {
			m.settleFromVines(b)
		}
	}
	if err := m.saveBlocks(); err != nil {
		return err
	}
	for _, b := range m.blocks {
		if err := m.saveRows(b); err != nil {
			return err
		}
	}
	return nil
}
