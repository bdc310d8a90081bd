package stand

import (
	"slices"
	"unsafe"

	"courson/geo/vine"
)

// NewStand makes the stand of a season in which nothing is known yet: every
// vine unseen, in the leaf that its first planting gives. Set Rule before Set
// where the estate has another one than the default.
func NewStand(g *Ground, season int, revision int64) *Stand {
	n := g.Len()
	s := &Stand{Ground: g, Season: season, Revision: revision, Rule: DefaultRule(),
		Condition: make([]vine.Condition, n), Leaf: make([]uint8, n), Progress: make([]vine.Progress, n), Flags: make([]Flags, n),
		Vigour: make([]uint8, n), WeightG: filled[float32](n, -1), Score: filled[float32](n, -1), YieldG: filled[float32](n, -1),
		Nodes: filled[uint8](n, None), Left: filled[uint8](n, None), Changed: make([]int64, n)}
	for i := range s.Leaf {
		s.Leaf[i] = leafOf(s.planted(i, vine.State{}), season)
	}
	return s
}

func filled[T any](n int, v T) []T {
	column := make([]T, n)
	for i := range column {
		column[i] = v
	}
	return column
}

// Set fills in what the log says of vine i, while the stand is being built; a
// stand that others read is changed by With. The state is that of the stand's
// season or carried forward to it; changed is the block revision at which it
// last changed.
func (s *Stand) Set(i int, st vine.State, changed int64) {
	w := writer{s, allColumns}
	w.set(i, st)
	s.Changed[i] = max(s.Changed[i], changed)
}

// SetPlan fills in the nodes that the pruning plan gives vine i, below 0 where
// it says nothing, while the stand is being built.
func (s *Stand) SetPlan(i, nodes int, changed int64) {
	w := writer{s, allColumns}
	w.plan(i, nodes)
	s.Changed[i] = max(s.Changed[i], changed)
}

// Bytes is the memory that the columns take, without the ground.
func (s *Stand) Bytes() int64 {
	return int64(unsafe.Sizeof(*s)) + held(s.Condition) + held(s.Leaf) + held(s.Progress) + held(s.Flags) + held(s.Vigour) +
		held(s.WeightG) + held(s.Score) + held(s.YieldG) + held(s.Nodes) + held(s.Left) + held(s.Follow) + held(s.Changed) + s.Found.bytes()
}

func (s *Stand) planted(i int, st vine.State) int {
	if st.Planted == 0 && i < len(s.Ground.Planted) {
		return int(s.Ground.Planted[i])
	}
	return st.Planted
}

func leafOf(planted, season int) uint8 { return uint8(min(255, vine.Leaf(planted, season))) }

// columns is a set of columns that may be written to.
type columns uint16

const (
	colCondition columns = 1 << iota
	colLeaf
	colProgress
	colFlags
	colVigour
	colWeight
	colScore
	colYield
	colNodes
	colLeft
	colFollow
	colChanged
	allColumns columns = 1<<iota - 1
)

// writer changes a stand. Columns that it does not own are shared with an
// earlier stand and copied before the first entry in them that really differs.
type writer struct {
	*Stand
	own columns
}

// put writes one entry and tells whether it was another one before.
func put[T comparable](w *writer, which columns, column *[]T, i int, v T) bool {
	if (*column)[i] == v {
		return false
	}
	if w.own&which == 0 {
		*column = slices.Clone(*column)
		w.own |= which
	}
	(*column)[i] = v
	return true
}

// set writes the columns that follow from the log.
func (w *writer) set(i int, st vine.State) (differs bool) {
	leaf := leafOf(w.planted(i, st), w.Season)
	condition := vine.Standing(st.Condition, int(leaf))
	weight, yield := value(st, vine.PruningWeight), value(st, vine.Yield)
	score := w.scoreOf(st)
	class := w.Rule.Class(weight, w.occupiedM(i), score)
	if f := w.Found; f != nil && f.Class[i] != 0 && float32(weight) == w.WeightG[i] && float32(score) == w.Score[i] {
		class = f.Class[i] // still what it was worked out from
	}
	if !condition.Living() {
		leaf, class = 0, 0
	}
	left := leftOf(st.Pruned)
	d := put(w, colCondition, &w.Condition, i, condition)
	d = put(w, colLeaf, &w.Leaf, i, leaf) || d
	d = put(w, colProgress, &w.Progress, i, st.Work[vine.Pruning]) || d
	d = put(w, colVigour, &w.Vigour, i, class) || d
	d = put(w, colWeight, &w.WeightG, i, float32(weight)) || d
	d = put(w, colScore, &w.Score, i, float32(score)) || d
	d = put(w, colYield, &w.YieldG, i, float32(yield)) || d
	d = put(w, colLeft, &w.Left, i, left) || d
	d = w.follow(i, followOf(st, condition)) || d
	return put(w, colFlags, &w.Flags, i, flagsOf(st)|planFlag(w.Nodes[i], left)) || d
}

// follow writes the job at shoot thinning; the column is made with the first.
func (w *writer) follow(i int, job vine.FollowUp) (differs bool) {
	if w.Follow == nil {
		if job == vine.FollowNone {
			return false
		}
		w.Follow, w.own = make([]vine.FollowUp, w.Ground.Len()), w.own|colFollow
	}
	return put(w, colFollow, &w.Follow, i, job)
}

// plan writes what follows from the pruning plan.
func (w *writer) plan(i, nodes int) (differs bool) {
	n := byteOf(nodes, nodes >= 0)
	d := put(w, colNodes, &w.Nodes, i, n)
	return put(w, colFlags, &w.Flags, i, w.Flags[i]&^FlagDiffers|planFlag(n, w.Left[i])) || d
}

// occupiedM is the metres of row that vine i occupies; 0 not known.
func (s *Stand) occupiedM(i int) float64 {
	if i >= len(s.Ground.Occupied) {
		return 0
	}
	return float64(s.Ground.Occupied[i])
}

// value gives a reading, -1 where there is none.
func value(st vine.State, q vine.Quantity) float64 {
	if r, ok := st.Measures[q]; ok {
		return r.Value
	}
	return -1
}

// scoreOf gives the visual score on the estate's scale; -1 where there is none
// or where its own scale cannot be read: a score is never guessed.
func (s *Stand) scoreOf(st vine.State) float64 {
	r, ok := st.Measures[vine.VisualScore]
	if !ok {
		return -1
	}
	from := s.Rule.Scale
	if r.Scale != "" {
		if from, ok = ParseScale(r.Scale); !ok {
			return -1
		}
	}
	return s.Rule.Scale.Convert(r.Value, from)
}

func followOf(st vine.State, c vine.Condition) vine.FollowUp {
	if !c.Living() {
		return vine.FollowNone
	}
	return st.FollowUp()
}

func leftOf(p *vine.Pruned) uint8 {
	if p == nil {
		return None
	}
	return byteOf(p.NodesLeft())
}

// byteOf narrows a number of nodes; 254 stands for all beyond it, far above
// what any system carries.
func byteOf(n int, said bool) uint8 {
	if !said {
		return None
	}
	return uint8(max(0, min(n, None-1)))
}

func flagsOf(st vine.State) (f Flags) {
	if len(st.Clashes) > 0 {
		f |= FlagClash
	}
	if st.Notes > 0 {
		f |= FlagNote
	}
	if !st.LookAgain.IsZero() || st.Condition == vine.Doubtful {
		f |= FlagLookAgain
	}
	return f
}

func planFlag(nodes, left uint8) Flags {
	if nodes != None && left != None && nodes != left {
		return FlagDiffers
	}
	return 0
}

// WeightPerMetre gives the pruning weight of vine i in g per metre of row that
// it occupies; ok is false where it was not weighed or occupies nothing.
func (s *Stand) WeightPerMetre(i int) (gPerM float64, ok bool) {
	m := s.occupiedM(i)
	if s.WeightG[i] < 0 || m <= 0 {
		return 0, false
	}
	return float64(s.WeightG[i]) / m, true
}
