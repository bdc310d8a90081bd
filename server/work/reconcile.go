package work

import (
	"fmt"

	"courson/geo/replant"
	"courson/geo/vine"
)

// Counts are what people counted in the block: the holes, and the plants that
// stand in them. Nil: as the steps say.
type Counts struct {
	Holes, Planted []vine.ID
}

// onWay is what the steps and the record say of one place on its way.
type onWay struct {
	listed, hole, planted, living bool
}

// onTheWay looks at a place. planted is the last planting on record of each vine.
func (r *Replants) onTheWay(p replant.Place, planted map[vine.ID]replant.Day) onWay {
	listed, _ := p.Last(replant.ToReplace)
	_, hole := p.Last(replant.HoleDug)
	_, set := p.Last(replant.PlantIn)
	day, recorded := planted[p.Vine]
	set = set || recorded && day >= listed.Day
	return onWay{listed: p.Stage != replant.Withdrawn, hole: hole, planted: set, living: !set && r.living(p.Vine)}
}

// living tells whether a living vine is taken to stand in a position.
func (r *Replants) living(id vine.ID) bool {
	i, ok := r.Stand.Ground.IndexOf(id)
	return ok && r.Findings.Verdicts[i].State == replant.Living
}

// settle holds the list, the holes and the plants together, place by place, as the
// steps tell them. Places on which no work has begun are left out, unless a living
// vine stands there.
func (r *Replants) settle() replant.Settled {
	var c replant.Counted
	for _, p := range r.Places {
		w := r.onTheWay(p, r.planted)
		w.living = w.living && w.listed
		if w.hole || w.planted || w.living {
			for _, in := range []struct {
				yes  bool
				list *[]vine.ID
			}{{w.listed, &c.Survey}, {w.hole, &c.Holes}, {w.planted, &c.Planted}, {w.living, &c.Living}} {
				if in.yes {
					*in.list = append(*in.list, p.Vine)
				}
			}
		}
	}
	return replant.Reconcile(c)
}

// Reconcile holds the list, and holes and plants as they were counted in the
// block, together, place by place. The error wraps replant.ErrStep where a vine is
// not of this block.
func (r *Replants) Reconcile(counted Counts) (replant.Settled, error) {
	c := replant.Counted{Holes: counted.Holes, Planted: counted.Planted}
	named, set := map[vine.ID]bool{}, map[vine.ID]bool{} // set: planted since it was listed
	for _, id := range append(append([]vine.ID(nil), c.Holes...), c.Planted...) {
		if _, ok := r.Stand.Ground.IndexOf(id); !ok {
			return replant.Settled{}, fmt.Errorf("%w: there is no vine %d in block %s", replant.ErrStep, id, r.Block.Code)
		}
		named[id] = true
	}
	for _, p := range r.Places {
		w := r.onTheWay(p, r.planted)
		named[p.Vine], set[p.Vine] = named[p.Vine] || w.listed, w.planted
		if w.listed {
			c.Survey = append(c.Survey, p.Vine)
		}
		if w.hole && counted.Holes == nil {
			c.Holes = append(c.Holes, p.Vine)
		}
		if w.planted && counted.Planted == nil {
			c.Planted = append(c.Planted, p.Vine)
		}
	}
	for id := range named {
		if !set[id] && r.living(id) {
			c.Living = append(c.Living, id)
		}
	}
	return replant.Reconcile(c), nil
}

// plantedOn gives the last planting on record of each vine.
func (r *Replants) plantedOn(e *replant.Evidence) map[vine.ID]replant.Day {
	out := map[vine.ID]replant.Day{}
	for _, rec := range e.Records {
		if id := r.Stand.Ground.ID[rec.Vine]; rec.Kind == replant.Planted {
			out[id] = max(out[id], rec.Day)
		}
	}
	return out
}
