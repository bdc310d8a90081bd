package work

import (
	"time"

	"courson/geo/vine"
	"courson/store"
)

// planEntryOut is what a plan says of one vine.
type planEntryOut struct {
	store.PlanEntry
	block, row string
	number     int
	plan       store.Plan
}

func counted(n int) any {
	if n < 0 {
		return nil
	}
	return n
}

func planFields() []layerField[planEntryOut] {
	return []layerField[planEntryOut]{
		{text("address", "block/row/vine"), func(p planEntryOut) any { return vine.Address{Block: p.block, Row: p.row, Number: p.number}.String() }},
		{text("block", "Code of the block"), func(p planEntryOut) any { return p.block }},
		{text("row", "Label of the row"), func(p planEntryOut) any { return p.row }},
		{whole("vine", "Number in the row, 1 at the numbering end"), func(p planEntryOut) any { return p.number }},
		{whole("season", "Harvest year that the pruning prepares"), func(p planEntryOut) any { return p.plan.Season }},
		{whole("nodes_planned", "Nodes to leave"), func(p planEntryOut) any { return counted(p.Nodes) }},
		{whole("canes_planned", "Canes to leave"), func(p planEntryOut) any { return counted(p.Canes) }},
		{whole("spurs_planned", "Spurs to leave"), func(p planEntryOut) any { return counted(p.Spurs) }},
		{text("reason", "Which rule bound it, and what else was said"), func(p planEntryOut) any { return orNothing(p.Reason) }},
		{text("plan_made", "When the plan was made, UTC"), func(p planEntryOut) any { return p.plan.Made.UTC().Format(time.RFC3339) }},
		{text("plan_by", "Who made it"), func(p planEntryOut) any { return orNothing(p.plan.By) }},
	}
}

// plans writes the vines that the newest plan of the block says something of.
func (x *exporter) plans(b store.Block) error {
	list, err := x.st.PlanList(x.ctx, store.PlanPruning, x.job.Season, b.ID)
	if err != nil || len(list) == 0 {
		return err
	}
	entries, err := x.st.PlanEntries(x.ctx, store.PlanPruning, x.job.Season, b.ID)
	if err != nil {
		return err
	}
	of := make(map[vine.ID]store.PlanEntry, len(entries))
	for _, e := range entries {
		of[e.Vine] = e
	}
	rows, err := x.st.Rows(x.ctx, b.ID)
	if err != nil {
		return err
	}
	label := labelsOf(rows)
	fields := planFields()
	for v, err := range x.st.Vines(x.ctx, b.ID) {
		if err != nil {
			return err
		}
		e, ok := of[v.ID]
		if !ok {
			continue
		}
		if err := putAll(x, fields, v.ID, "", planEntryOut{e, b.Code, label[v.Row], v.Number, list[0]}, v.Point); err != nil {
			return err
		}
	}
	return nil
}

func labelsOf(rows []store.Row) map[vine.ID]string {
	out := make(map[vine.ID]string, len(rows))
	for _, r := range rows {
		out[r.ID] = r.Label
	}
	return out
}

func (x *exporter) replants(b store.Block) error {
	r, err := x.source.Replants(x.ctx, b)
	if err != nil {
		return err
	}
	return x.replantsOf(r)
}
