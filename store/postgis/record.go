package postgis

import (
	"slices"

	"github.com/jackc/pgx/v5/pgtype"

	"courson/geo/vine"
	"courson/store/logbook"
)

// stateColumns are the columns of vine_state in the order of writeState.
var stateColumns = [...]string{"estate_id", "vine_id", "season", "block_id", "changed", "condition", "progress", "planted", "notes", "clashes",
	"cause", "seen_at", "look_again", "pruning_weight_g", "pruning_weight_at", "cane_count", "cane_count_at",
	"score", "score_scale", "score_at", "yield_g", "yield_at", "nodes_left", "canes_left", "spurs_left",
	"pruned_at", "pruned_by", "detail"}

// stateSelect is the same for a query; changed is given apart.
const stateSelect = `s.vine_id, s.season, s.block_id, s.condition, s.progress, s.planted, s.notes, s.clashes,
	s.cause, s.seen_at, s.look_again, s.pruning_weight_g, s.pruning_weight_at, s.cane_count, s.cane_count_at,
	s.score, s.score_scale, s.score_at, s.yield_g, s.yield_at, s.nodes_left, s.canes_left, s.spurs_left,
	s.pruned_at, s.pruned_by, s.detail`

// stateRow takes one record of vine_state from the database without an
// allocation for every column that is empty.
type stateRow struct {
	record                          logbook.Record
	changed                         int64
	condition, progress             int16
	season, planted, notes, clashes int32
	cause, scale, by                pgtype.Text
	seen, look, weightAt, canesAt   pgtype.Timestamptz
	scoreAt, yieldAt, pruned        pgtype.Timestamptz
	weight, caneCount, score, yield pgtype.Float8
	nodes, canes, spurs             pgtype.Int4
	detail                          []byte
	into                            []any
}

func newStateRow() *stateRow {
	s := &stateRow{}
	s.into = []any{&s.changed, &s.record.Vine, &s.season, &s.record.Block, &s.condition, &s.progress, &s.planted, &s.notes, &s.clashes,
		&s.cause, &s.seen, &s.look, &s.weight, &s.weightAt, &s.caneCount, &s.canesAt, &s.score, &s.scale, &s.scoreAt,
		&s.yield, &s.yieldAt, &s.nodes, &s.canes, &s.spurs, &s.pruned, &s.by, &s.detail}
	return s
}

// take gives the record that was scanned last.
func (s *stateRow) take() logbook.Record {
	return logbook.Record{
		Vine: s.record.Vine, Block: s.record.Block, Season: int(s.season), Changed: s.changed,
		Condition: vine.Condition(s.condition), Cause: s.cause.String, SeenAt: s.seen.Time.UTC(), LookAgain: s.look.Time.UTC(), Planted: int(s.planted),
		PruningWeight: measured(s.weight, s.weightAt), CaneCount: measured(s.caneCount, s.canesAt),
		Score: measured(s.score, s.scoreAt), ScoreScale: s.scale.String, Yield: measured(s.yield, s.yieldAt),
		NodesLeft: count(s.nodes), CanesLeft: count(s.canes), SpursLeft: count(s.spurs),
		PrunedAt: s.pruned.Time.UTC(), PrunedBy: s.by.String, Progress: vine.Progress(s.progress),
		Notes: int(s.notes), Clashes: int(s.clashes), Detail: slices.Clone(s.detail),
	}
}

func measured(v pgtype.Float8, at pgtype.Timestamptz) logbook.Measured {
	return logbook.Measured{Value: v.Float64, At: at.Time.UTC(), Known: v.Valid}
}

func count(n pgtype.Int4) *int {
	if !n.Valid {
		return nil
	}
	i := int(n.Int32)
	return &i
}

// writeState is a record as COPY takes it: estate_id and stateColumns.
func writeState(w *copyRow, estate int64, r *logbook.Record) {
	w.int8(estate)
	w.int8(r.Vine)
	w.int4(r.Season)
	w.int8(r.Block)
	w.int8(r.Changed)
	w.int2(int(r.Condition))
	w.int2(int(r.Progress))
	w.int4(r.Planted)
	w.int4(r.Notes)
	w.int4(r.Clashes)
	w.textOrNull(r.Cause)
	w.timeOrNull(r.SeenAt)
	w.timeOrNull(r.LookAgain)
	w.value(r.PruningWeight)
	w.valueAt(r.PruningWeight)
	w.value(r.CaneCount)
	w.valueAt(r.CaneCount)
	w.value(r.Score)
	w.textOrNull(r.ScoreScale)
	w.valueAt(r.Score)
	w.value(r.Yield)
	w.valueAt(r.Yield)
	w.countOrNull(r.NodesLeft)
	w.countOrNull(r.CanesLeft)
	w.countOrNull(r.SpursLeft)
	w.timeOrNull(r.PrunedAt)
	w.textOrNull(r.PrunedBy)
	if r.Detail == nil {
		w.null()
		return
	}
	w.jsonb(r.Detail)
}
