package work

import (
	"fmt"

	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
	"courson/store"

	"github.com/paulmach/orb"
)

// judged is one vine among what was found of its block.
type judged struct {
	f *Findings
	s *stand.Stand // with what was found
	i int
}

// keyOf is the legend's key of a class; nil for the first, which says that there is
// nothing, unless it says something too.
func keyOf(l tile.Legend, code int, firstToo bool) any {
	for i, c := range l.Classes {
		if int(c.Code) == code && (i > 0 || firstToo) {
			return c.Key
		}
	}
	return nil
}

func nonNegative[N float32 | float64](v N, by float64, decimals int) any {
	if v < 0 {
		return nil
	}
	return to(float64(v)*by, decimals)
}

func notNone(b, none uint8) any {
	if b == none {
		return nil
	}
	return int(b)
}

// vigourFields say what a vine's vigour is and how it stands in its block.
func vigourFields(u unitsOut) []layerField[judged] {
	name, unit, by := "kg_per_m", "kg/m", 1.0
	if u.weight == "lb" {
		name, unit, by = "lb_per_ft", "lb/ft", 1000*u.perG/u.perM
	}
	condition, progress := tile.ConditionLegend(), tile.ProgressLegend()
	doubt, change, patches, load, follow := tile.DoubtLegend(), tile.ChangeLegend(), tile.PatchLegend(), tile.LoadLegend(), tile.FollowLegend()
	return []layerField[judged]{
		{text("address", "block/row/vine"), func(j judged) any { return j.s.Ground.Address(j.i).String() }},
		{text("block", "Code of the block"), func(j judged) any { return j.s.Ground.Code }},
		{text("row", "Label of the row"), func(j judged) any { return j.s.Ground.Address(j.i).Row }},
		{whole("vine", "Number in the row, 1 at the numbering end"), func(j judged) any { return int(j.s.Ground.Number[j.i]) }},
		{whole("season", "Harvest year that the winter's pruning prepares"), func(j judged) any { return j.s.Season }},
		{text("condition", "As last seen"), func(j judged) any { return keyOf(condition, int(j.s.Condition[j.i]), true) }},
		{whole("leaf", "Which growing season of its life the plant is in"), func(j judged) any { return notNone(j.s.Leaf[j.i], 0) }},
		{whole("vigour_class", "Class of vigour, 1 weakest to 5"), func(j judged) any { return notNone(j.s.Vigour[j.i], 0) }},
		{text("vigour_from", "Where the vigour is from: measured, calibrated from another measure of the vine, or estimated by kriging"), func(j judged) any { return orNothing(j.f.Vigour.Source(j.i)) }},
		{number("vigour_"+name, unit, "Prunings per length of row; see vigour_from"), func(j judged) any { return nonNegative(j.f.Vigour.KgPerM[j.i], by, 4) }},
		{number("vigour_se_"+name, unit, "Its standard error"), func(j judged) any { return nonNegative(j.f.Vigour.SE[j.i], by, 4) }},
		{text("doubt", "How sure the vigour is"), func(j judged) any { return keyOf(doubt, int(j.s.DoubtOf(j.i)), false) }},
		{text("patch", "How it stands in its surroundings: plain = judged, nothing found; weak and strong are tested, likely is what a sample makes probable"), func(j judged) any { return keyOf(patches, int(j.s.PatchOf(j.i)), false) }},
		{text("change", "Change of vigour since the season it is compared with"), func(j judged) any { return keyOf(change, int(j.s.ChangeOf(j.i)), false) }},
		{text("progress", "Of pruning"), func(j judged) any { return keyOf(progress, int(j.s.Progress[j.i]), true) }},
		{whole("nodes_planned", "Nodes that the pruning plan gives"), func(j judged) any { return notNone(j.s.Nodes[j.i], stand.None) }},
		{whole("nodes_left", "Nodes that the pruner left"), func(j judged) any { return notNone(j.s.Left[j.i], stand.None) }},
		{text("load", "Class of the nodes planned"), func(j judged) any { return keyOf(load, int(j.s.LoadOf(j.i)), false) }},
		{text("follow_up", "Job at shoot thinning"), func(j judged) any { return keyOf(follow, int(j.s.FollowOf(j.i)), false) }},
	}
}

func orNothing(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func (x *exporter) vigour(b store.Block) error {
	f, err := x.source.Findings(x.ctx, b)
	if err != nil {
		return err
	}
	s, err := f.Stand.WithFound(f.Found)
	if err != nil {
		return fmt.Errorf("what was found does not fit the ground: %w", err)
	}
	fields := vigourFields(x.units)
	for i, id := range s.Ground.ID {
		if err := putAll(x, fields, id, "", judged{f, s, i}, pointOf(s.Ground, i)); err != nil {
			return err
		}
	}
	return nil
}

// pointOf is where vine i stands, to the 9 mm of the stand's world.
func pointOf(g *stand.Ground, i int) orb.Point {
	lon, lat := stand.Degrees(g.WX[i], g.WY[i])
	return orb.Point{lon, lat}
}

func (x *exporter) patches(b store.Block) error {
	f, err := x.source.Findings(x.ctx, b)
	if err != nil {
		return err
	}
	return x.patchesOf(f)
}

// rowDone is one row and how far pruning has got in it.
type rowDone struct {
	block string
	s     *stand.Stand
	row   store.Row
	sum   stand.Totals
}

// state sums a row up in the words of the legend: done where no living vine is
// left to prune.
func (r rowDone) state() vine.Progress {
	switch {
	case r.sum.Progress[vine.ToRedo] > 0:
		return vine.ToRedo
	case r.sum.ToPrune > 0 && r.sum.Done()+r.sum.Progress[vine.Skipped] >= r.sum.ToPrune:
		return vine.Done
	case r.sum.Done()+r.sum.Progress[vine.Started]+r.sum.Progress[vine.Skipped] > 0:
		return vine.Started
	}
	return vine.NotStarted
}

func progressFields(u unitsOut) []layerField[rowDone] {
	return []layerField[rowDone]{
		{text("block", "Code of the block"), func(r rowDone) any { return r.block }},
		{text("row", "Label of the row"), func(r rowDone) any { return r.row.Label }},
		{whole("season", "Harvest year that the winter's pruning prepares"), func(r rowDone) any { return r.s.Season }},
		{text("progress", "Of pruning in the row"), func(r rowDone) any { return r.state().String() }},
		{spacingColumn("length", u, "Planted length on the ground"), func(r rowDone) any { return nonNegative(r.row.LengthM, u.perM, 3) }},
		{whole("vines", "Vine positions"), func(r rowDone) any { return r.sum.Vines }},
		{whole("living", "Positions with a living vine"), func(r rowDone) any { return r.sum.ToPrune }},
		{whole("gaps", "Positions where the vine is dead or missing"), func(r rowDone) any { return r.sum.Gaps }},
		{whole("done", "Living vines pruned"), func(r rowDone) any { return r.sum.Done() }},
		{whole("to_redo", "Living vines to be done again"), func(r rowDone) any { return r.sum.Progress[vine.ToRedo] }},
		{whole("skipped", "Living vines passed over"), func(r rowDone) any { return r.sum.Progress[vine.Skipped] }},
		{whole("nodes_planned", "Nodes that the pruning plan gives, in all"), func(r rowDone) any { return r.sum.NodesPlanned }},
		{whole("nodes_left", "Nodes that pruners left, in all, where they said how many"), func(r rowDone) any { return r.sum.NodesLeft }},
	}
}

func (x *exporter) progress(b store.Block) error {
	s, err := x.source.Stand(x.ctx, b)
	if err != nil {
		return err
	}
	rows, err := x.st.Rows(x.ctx, b.ID)
	if err != nil {
		return err
	}
	sums := map[vine.ID]stand.Totals{}
	for i, t := range stand.RowTotals(s) {
		sums[s.Ground.Rows[i].ID] = t
	}
	fields := progressFields(x.units)
	for _, r := range rows {
		if err := putAll(x, fields, r.ID, "", rowDone{b.Code, s, r, sums[r.ID]}, lineOf(r)); err != nil {
			return err
		}
	}
	return nil
}
