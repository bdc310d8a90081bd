package postgis

import (
	"slices"

	"github.com/jackc/pgx/v5/pgtype"

	"courson/geo/vine"
	"courson/store/logbook"
)

// stateColumns are the columns of vine_state after estate_id, in the order of
// stateRow.
var stateColumns = [...]string{"vine_id", "season", "block_id", "changed", "condition", "progress", "planted", "notes", "clashes",
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

// stateValues is a record as COPY takes it.
func stateValues(estate int64, r logbook.Record) []any {
	value := func(m logbook.Measured) (any, any) {
		if !m.Known {
			return nil, nil
		}
		return m.Value, orNull(m.At)
	}
	weight, weightAt := value(r.PruningWeight)
	canes, canesAt := value(r.CaneCount)
	score, scoreAt := value(r.Score)
	yield, yieldAt := value(r.Yield)
	var detail any
	if r.Detail != nil {
		detail = r.Detail
	}
	return []any{estate, r.Vine, int32(r.Season), r.Block, r.Changed, int16(r.Condition), int16(r.Progress), int32(r.Planted),
		int32(r.Notes), int32(r.Clashes), textOrNull(r.Cause), orNull(r.SeenAt), orNull(r.LookAgain),
		weight, weightAt, canes, canesAt, score, textOrNull(r.ScoreScale), scoreAt, yield, yieldAt,
		r.NodesLeft, r.CanesLeft, r.SpursLeft, orNull(r.PrunedAt), textOrNull(r.PrunedBy), detail}
}

func textOrNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}
