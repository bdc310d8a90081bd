package stand

import (
	"slices"

	"courson/geo/vine"
)

// Change is what the log now says of one vine.
type Change struct {
	Vine    int // index in the ground
	State   vine.State
	Changed int64 // block revision at which the state last changed
}

// With gives the stand after changes, at a new revision of the block. The old
// stand stays as it is, so that whoever reads it may go on. The two share the
// ground and every column in which nothing differs; a column is copied before
// its first difference (a block's column takes a few microseconds to copy).
func (s *Stand) With(revision int64, changes []Change) *Stand {
	next := *s
	next.Revision = revision
	w := writer{Stand: &next}
	for _, c := range changes {
		w.set(c.Vine, c.State)
		if c.Changed > next.Changed[c.Vine] {
			put(&w, colChanged, &next.Changed, c.Vine, c.Changed)
		}
	}
	return &next
}

// PlanNodes is what the pruning plan gives one vine.
type PlanNodes struct {
	Vine  int // index in the ground
	Nodes int // below 0: nothing said
}

// WithPlan gives the stand under another pruning plan, at a new revision of the
// block. Vines that are not listed have no plan. Vines for which the plan says
// the same as before do not count as changed. The old stand stays as it is.
func (s *Stand) WithPlan(revision int64, plan []PlanNodes) *Stand {
	next := *s
	next.Revision = revision
	w := writer{Stand: &next}
	said := make([]int16, len(s.Nodes)) // nodes + 1; 0 where the plan says nothing
	for _, p := range plan {
		said[p.Vine] = int16(max(-1, min(p.Nodes, None-1)) + 1)
	}
	for i, n := range said {
		if w.plan(i, int(n)-1) {
			put(&w, colChanged, &next.Changed, i, revision)
		}
	}
	return &next
}

// Clone gives a stand with columns of its own, on the same ground.
func (s *Stand) Clone() *Stand {
	next := *s
	next.Condition, next.Leaf, next.Progress, next.Flags = slices.Clone(s.Condition), slices.Clone(s.Leaf), slices.Clone(s.Progress), slices.Clone(s.Flags)
	next.Vigour, next.WeightG, next.Score, next.YieldG = slices.Clone(s.Vigour), slices.Clone(s.WeightG), slices.Clone(s.Score), slices.Clone(s.YieldG)
	next.Nodes, next.Left, next.Follow, next.Changed = slices.Clone(s.Nodes), slices.Clone(s.Left), slices.Clone(s.Follow), slices.Clone(s.Changed)
	return &next
}
