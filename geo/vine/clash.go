package vine

import (
	"cmp"
	"reflect"
	"slices"
)

// topic is what an event speaks about, as far as devices can disagree on it.
type topic struct {
	kind Kind
	name string // quantity or operation
}

// field gives the topic's name in a State.
func (t topic) field() Field {
	if t.name == "" {
		return Field(t.kind)
	}
	return Field(string(t.kind) + ":" + t.name)
}

// topics gives what an entry speaks about; a pruned event also says that
// pruning is done.
func (e *entry) topics() (list [2]topic, n int) {
	switch body := e.Body.(type) {
	case Sighting:
		return [2]topic{{kind: KindCondition}}, 1
	case Measure:
		return [2]topic{{KindMeasure, string(body.Quantity)}}, 1
	case Work:
		return [2]topic{{KindWork, body.Operation}}, 1
	case Pruned:
		done := topic{KindWork, Pruning}
		if !body.says() {
			return [2]topic{done}, 1
		}
		return [2]topic{{kind: KindPruned}, done}, 2
	}
	return list, 0
}

func (e *entry) speaksOf(t topic) bool {
	list, n := e.topics()
	return !e.taken && slices.Contains(list[:n], t)
}

// clashes finds the disagreements in the entries of one season, in their order.
//
// The last entry about a topic is the one that shows. It settles whatever it
// could know of: all that was received by the time it was made, all from its
// own device, and, for a file, what other files said. An earlier entry that it
// could not know of, and that its own device (or a later file) has not replaced
// since, disputes it if it says something else.
func clashes(list []entry) []Clash {
	if !manyDevices(list) {
		return nil
	}
	var out []Clash
	var seen []topic
	for i := len(list) - 1; i > 0; i-- {
		if list[i].taken {
			continue
		}
		about, n := list[i].topics()
		for _, t := range about[:n] {
			if !slices.Contains(seen, t) {
				seen = append(seen, t)
				out = appendDisputes(out, list[:i+1], t)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Clash) int { return cmp.Compare(a.Field, b.Field) })
	return out
}

func manyDevices(list []entry) bool {
	for i := range list {
		if list[i].Device != list[0].Device {
			return true
		}
	}
	return false
}

// appendDisputes appends the entries that dispute the last one of the list, the
// earliest first.
func appendDisputes(out []Clash, list []entry, t topic) []Clash {
	kept := &list[len(list)-1]
	for i := range list[:len(list)-1] {
		e := &list[i]
		if kept.made.Before(e.received) && e.speaksOf(t) && !replaced(e, list[i+1:], t) && differ(t, e, kept) {
			out = append(out, Clash{Field: t.field(), Kept: kept.ID, Disputed: e.ID})
		}
	}
	return out
}

// replaced tells whether a later entry comes from the same device, or both from
// files.
func replaced(e *entry, later []entry, t topic) bool {
	for i := range later {
		l := &later[i]
		if (l.Device == e.Device || l.FromImport() && e.FromImport()) && l.speaksOf(t) {
			return true
		}
	}
	return false
}

// differ tells whether two entries, the earlier one first, cannot both be right.
func differ(t topic, a, b *entry) bool {
	switch x := a.Body.(type) {
	case Sighting:
		y := b.Body.(Sighting)
		return x.Condition != y.Condition || x.Condition == Replanted && x.firstLeaf(a.Season) != y.firstLeaf(b.Season)
	case Measure:
		y := b.Body.(Measure)
		v, okV := x.at(a.pos)
		w, okW := y.at(b.pos)
		return okV && okW && (v != w || x.Scale != y.Scale)
	}
	if t.kind == KindPruned {
		return a.Body.(Pruned).contradicts(b.Body.(Pruned))
	}
	return !follows(a.progress(), b.progress())
}

// progress is what an entry says of its operation.
func (e *entry) progress() Progress {
	if w, ok := e.Body.(Work); ok {
		return w.Progress
	}
	return Done
}

// follows tells whether an operation that stood at a may have come to b in the
// plain course of work: started, then done, is no disagreement.
func follows(a, b Progress) bool {
	return a == b || a <= Done && b <= Done && a < b
}

// says tells whether the event says more than that the vine was pruned.
func (p Pruned) says() bool {
	return p.Nodes != nil || p.Canes != nil || p.Spurs != nil || len(p.Arms) > 0 || p.Reason != ""
}

// contradicts tells whether two records of one pruning name different numbers
// or different wood. What only one of them says does not contradict.
func (p Pruned) contradicts(q Pruned) bool {
	if len(p.Arms) > 0 && len(q.Arms) > 0 && !reflect.DeepEqual(p.Arms, q.Arms) {
		return true
	}
	a, b := p.counts(), q.counts()
	for i := range a {
		if a[i] >= 0 && b[i] >= 0 && a[i] != b[i] {
			return true
		}
	}
	return false
}

// counts gives nodes, canes and spurs left, -1 where not said.
func (p Pruned) counts() [3]int {
	out := [3]int{-1, -1, -1}
	if len(p.Arms) > 0 {
		out[0], out[1], out[2], _ = p.Totals()
	}
	for i, stated := range []*int{p.Nodes, p.Canes, p.Spurs} {
		if stated != nil {
			out[i] = *stated
		}
	}
	return out
}
