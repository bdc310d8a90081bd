package patch

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// trial is the work on one block.
type trial struct {
	in    *Input
	block *Block
	level expectation
	plan  *plan
	found Found

	vines []int     // judged vines, rising
	resid []float64 // of each, from what is expected, in spreads, clipped
	local []Local
	p     []float64 // of each; above 1 where the vine is not tested
}

func newTrial(in *Input, b *Block, level expectation) *trial {
	n := b.Stand.Ground.Len()
	f := Found{Tested: make([]bool, n), Expected: NewColumn(n), Z: make([]float64, n), Q: make([]float64, n), PatchOf: make([]int32, n)}
	for i := range n {
		f.Q[i], f.PatchOf[i] = 1, -1
	}
	return &trial{in: in, block: b, level: level, found: f}
}

// test makes the local statistics, or says why not.
func (t *trial) test() {
	t.found.Refused = t.prepare()
	if t.found.Refused != nil {
		return
	}
	x, y := t.plan.places(t.vines)
	if t.found.Refused = check(x, y, t.resid, t.found.Reach); t.found.Refused != nil {
		return
	}
	along := t.plan.directions(t.vines)
	if t.found.Moran, t.found.Refused = moran(x, y, t.resid, t.found.Reach, along); t.found.Refused != nil {
		return
	}
	t.local = giStar(newField(x, y, t.resid, t.found.Reach, along), t.resid)
	if t.found.Refused = t.checkReach(); t.found.Refused != nil {
		return
	}
	shape := newLopsided(t.resid)
	t.p = make([]float64, len(t.local))
	for k, l := range t.local {
		if l.Neighbours < fewestInReach {
			t.p[k] = 2
			t.found.Alone++
			continue
		}
		t.p[k] = shape.probability(l)
		t.found.Tested[t.vines[k]] = true
		t.found.Z[t.vines[k]] = l.Z
	}
}

// checkReach refuses a block of which every vine has every other in reach.
func (t *trial) checkReach() error {
	for _, l := range t.local {
		if l.Neighbours < len(t.local) {
			return nil
		}
	}
	t.local = nil
	return fmt.Errorf("%w: all vines lie within the reach of %.1f m along and %.1f m across the rows",
		ErrReach, t.found.Reach.AlongM, t.found.Reach.AcrossM)
}

func (t *trial) prepare() (err error) {
	s := t.block.Stand
	if t.plan, err = layOut(s.Ground); err != nil {
		return err
	}
	living, seen := 0, 0
	for i := range s.Condition {
		if !s.Condition[i].Living() {
			continue
		}
		living++
		if t.block.Value.Seen[i] {
			seen++
		}
		t.judge(i)
	}
	t.found.Judged = len(t.vines)
	t.found.Reach = t.reach(float64(len(t.vines)) / float64(max(1, s.Ground.Len())))
	switch {
	case seen == 0:
		return fmt.Errorf("%w: no living vine of the block has a value", ErrFewValues)
	case float64(seen) < leastSeen*float64(living):
		return fmt.Errorf("%w: %d of %d living vines have a value, at least half must; a sample shows likely weak areas only", ErrSampled, seen, living)
	case len(t.vines) < fewestJudged:
		return fmt.Errorf("%w: %d vines can be judged against others of their leaf and cultivar, at least %d are needed", ErrFewValues, len(t.vines), fewestJudged)
	}
	return nil
}

// judge takes in vine i with its residual, if it was seen and there is something
// to expect of it.
func (t *trial) judge(i int) {
	g := kindOf(t.block, i)
	expected, ok := t.level.levels[g]
	if !ok {
		return
	}
	t.found.Expected.Set(i, expected)
	if !t.block.Value.Seen[i] {
		return
	}
	var r float64
	if spread := t.level.spread[g]; spread > 0 {
		r = (t.block.Value.Value[i] - expected) / spread
	}
	if math.Abs(r) > farthest {
		r = math.Copysign(farthest, r)
		t.found.Clipped++
	}
	t.vines, t.resid = append(t.vines, i), append(t.resid, r)
}

// reach is the neighbourhood asked for, or the default for the block's spacings
// and the share of its places that have a value.
func (t *trial) reach(share float64) Reach {
	p := t.plan
	along, rows := t.in.AlongM, t.in.AcrossRows
	if along == 0 {
		// Half a step beyond the last vine, so that none lies on the very edge.
		along = (math.Floor(reachAlongM/p.vineM) + 0.5) * p.vineM
	}
	if rows == 0 {
		rows = reachRows
	}
	across := rows * p.pitchM
	if t.in.AlongM == 0 && t.in.AcrossRows == 0 && share > 0 {
		inReach := math.Pi * along * across / (p.vineM * p.pitchM) * share
		if wider := math.Sqrt(wantedInReach / inReach); wider > 1 {
			along, across = along*wider, across*wider
		}
	}
	return p.reach(along*rounded, across*rounded)
}

// adjustAll corrects for the tests of all blocks together and gives their number.
func adjustAll(trials []*trial) int {
	var p []float64
	for _, t := range trials {
		for _, v := range t.p {
			if v <= 1 {
				p = append(p, v)
			}
		}
	}
	q := Adjust(p)
	tests := len(q)
	for _, t := range trials {
		for k, v := range t.p {
			if v <= 1 {
				t.found.Q[t.vines[k]], q = q[0], q[1:]
			}
		}
	}
	return tests
}

// findPatches makes patches of the vines that passed.
func (t *trial) findPatches() {
	if t.local == nil {
		return
	}
	near := t.plan.closeField(t.vines)
	taken := make([]bool, len(t.plan.at))
	for _, kind := range []Kind{Weak, Strong} {
		belongs := t.belonging(near, kind)
		members := t.plan.enclose(belongs, t.found.Tested, taken, t.found.Reach)
		l := t.plan.linksOf(members)
		for _, vines := range parts(members, l) {
			t.add(kind, vines, belongs, l.across)
		}
		for _, p := range t.found.Patches {
			for _, i := range p.Vines {
				taken[i] = true
			}
		}
	}
	slices.SortStableFunc(t.found.Patches, func(a, b Patch) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(b.Found, a.Found), cmp.Compare(a.Vines[0], b.Vines[0]))
	})
	for k, p := range t.found.Patches {
		for _, i := range p.Vines {
			t.found.PatchOf[i] = int32(k)
		}
	}
}

// belonging marks the vines of one kind that passed and belong to their area
// themselves.
func (t *trial) belonging(near *field, kind Kind) []bool {
	out := make([]bool, len(t.plan.at))
	place := make([]int32, len(t.vines)) // 1 + index among the passed, 0 for none
	var passed []int                     // indices into t.vines
	for k, i := range t.vines {
		if t.found.Tested[i] && t.found.Q[i] <= t.in.Rate && kind.side(t.local[k].Z) > 0 {
			passed = append(passed, k)
			place[k] = int32(len(passed))
		}
	}
	if len(passed) == 0 {
		return out
	}
	neighbours := make([][]int32, len(passed))
	for line := range near.lines {
		near.neighbours(line, func(k, j int) {
			if a := place[near.order[k]]; a > 0 {
				neighbours[a-1] = append(neighbours[a-1], near.order[j])
			}
		})
	}
	for _, group := range t.areas(passed) {
		a := t.area(group, passed, neighbours, place, kind)
		for n, kept := range a.keep(t.in.Rate) {
			if kept {
				out[t.vines[passed[group[n]]]] = true
			}
		}
	}
	return out
}

// areas parts the vines that passed into areas that hang together; groups are
// indices into passed.
func (t *trial) areas(passed []int) [][]int {
	vines := make([]int, len(passed))
	at := make(map[int]int, len(passed))
	for n, k := range passed {
		vines[n] = t.vines[k]
		at[t.vines[k]] = n
	}
	groups := parts(vines, t.plan.linksOf(vines))
	for _, g := range groups {
		for n, i := range g {
			g[n] = at[i]
		}
	}
	return groups
}

// area gathers what the rim of one group of the vines that passed rests on.
func (t *trial) area(group, passed []int, neighbours [][]int32, place []int32, kind Kind) area {
	a := area{resid: make([]float64, len(group)), gi: make([]float64, len(group)), near: make([][]int32, len(group))}
	inGroup := make(map[int32]int32, len(group)) // place to index in the group
	for n, g := range group {
		inGroup[int32(g)+1] = int32(n)
	}
	for n, g := range group {
		k := passed[g]
		a.resid[n] = kind.side(t.resid[k])
		a.gi[n] = math.Abs(t.local[k].Z)
		a.close += float64(len(neighbours[g])) / float64(len(group))
		for _, j := range neighbours[g] {
			if m, ok := inGroup[place[j]]; ok {
				a.near[n] = append(a.near[n], m)
			}
		}
	}
	return a
}
