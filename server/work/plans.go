package work

import (
	"fmt"
	"path"
	"strings"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/vine"
	"courson/store"
)

// planLine takes up what a line prescribes for its vine.
func (w *blockWork) planLine(rw *rowWork, i, k int) {
	t := w.vines
	e := store.PlanEntry{Vine: rw.vines[k].ID, Nodes: int(t.nodes.get(i)), Canes: int(t.canes.get(i)), Spurs: int(t.spurs.get(i))}
	if e.Nodes < 0 && e.Canes < 0 && e.Spurs < 0 {
		return
	}
	w.plan = append(w.plan, e)
	w.planned = w.at(i)
	w.report.PlanVines++
	w.report.PlanNodes += max(0, e.Nodes)
}

// importPlan begins the source of an imported plan, undonePlan that of the plan
// that holds again after such a one was taken back.
const (
	importPlan = "import "
	undonePlan = "before import "
)

// savePlan writes a new version of the block's pruning plan when the files
// prescribe something else than the plan that was imported last. A plan that
// was made here since then stays in use when an old file is taken in again.
func (w *blockWork) savePlan() error {
	if len(w.plan) == 0 {
		return nil
	}
	digest := digestOf(w.plan)
	newest := map[vine.ID]store.PlanEntry{}
	if w.b.stored {
		old, err := w.planBefore(digest)
		if err != nil || old {
			return err
		}
		entries, err := w.tx.PlanEntries(w.ctx, store.PlanPruning, w.season, w.b.ID)
		if err != nil {
			return err
		}
		for _, e := range entries {
			newest[e.Vine] = e
		}
		if planned(newest, w.plan) {
			return nil
		}
	}
	entries := w.plan
	if len(newest) > 0 {
		said := make(map[vine.ID]bool, len(entries))
		for _, e := range entries {
			said[e.Vine] = true
		}
		for _, e := range newest {
			if !said[e.Vine] {
				entries = append(entries, e)
			}
		}
	}
	file := path.Base(w.fileName(w.planned.file))
	plan := store.Plan{Kind: store.PlanPruning, Season: w.season, Block: w.b.ID, Made: w.now, By: w.job.By, Source: importPlan + file,
		Inputs: map[string]any{"file": file, "vines": len(w.plan), "nodes": nodesOf(entries), "digest": digest}}
	if _, err := w.tx.SavePlan(plan, entries); err != nil {
		return err
	}
	w.report.PlanMade = true
	return nil
}

// nodesOf adds up what a plan leaves; vines of which it says nothing count 0.
func nodesOf(entries []store.PlanEntry) (sum int) {
	for _, e := range entries {
		sum += max(0, e.Nodes)
	}
	return sum
}

// planBefore tells whether the files prescribe nothing new: the plan that was
// imported last says the same, or the files are an export of ours that is older
// than the plan now in use.
func (w *blockWork) planBefore(digest string) (bool, error) {
	heads, err := w.tx.PlanList(w.ctx, store.PlanPruning, w.season, w.b.ID)
	if err != nil {
		return false, err
	}
	for _, h := range heads {
		if strings.HasPrefix(h.Source, undonePlan) {
			break // what was imported before does not hold any more
		}
		if strings.HasPrefix(h.Source, importPlan) {
			if fmt.Sprint(h.Inputs["digest"]) == digest {
				return true, nil
			}
			break
		}
	}
	at, ours := w.exported[w.planned.file]
	if ours && !w.foreign && len(heads) > 0 && heads[0].Made.After(at) {
		w.notices.Add(w.fileName(w.planned.file), string(csv.PlanNodes), format.None, 0, fmt.Sprintf("the pruning plan of block %s was made anew after this export; the file's plan is left out", w.b.Code))
		return true, nil
	}
	return false, nil
}

// planned tells whether a plan says of every vine what the entries say.
func planned(plan map[vine.ID]store.PlanEntry, entries []store.PlanEntry) bool {
	for _, e := range entries {
		p, ok := plan[e.Vine]
		if !ok || p.Nodes != e.Nodes || p.Canes != e.Canes || p.Spurs != e.Spurs {
			return false
		}
	}
	return true
}

// digestOf is a number that tells entries apart (FNV-1a, 64 bits), as a text
// that goes through JSON unharmed.
func digestOf(entries []store.PlanEntry) string {
	h := uint64(14695981039346656037)
	mix := func(v int64) {
		for range 8 {
			h = (h ^ uint64(v&0xff)) * 1099511628211
			v >>= 8
		}
	}
	for _, e := range entries {
		mix(e.Vine)
		mix(int64(e.Nodes))
		mix(int64(e.Canes))
		mix(int64(e.Spurs))
	}
	return fmt.Sprintf("%016x", h)
}
