package gpkg

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store/logbook"
)

// A record's place in vine_state: all of one vine lie together, by season.
const (
	seasonsPerVine = 512
	firstSeason    = vine.MinSeason
)

func recordID(v vine.ID, season int) int64 { return v*seasonsPerVine + int64(season-firstSeason) }

const recordColumns = `s.vine_id, s.season, s.block_id, s.changed, s.condition, s.cause, s.seen_at, s.look_again,
	s.planted, s.progress, s.pruned_at, s.pruned_by, s.nodes_left, s.canes_left, s.spurs_left,
	s.weight_g, s.weight_at, s.cane_count, s.cane_count_at, s.score, s.score_scale, s.score_at,
	s.yield_g, s.yield_at, s.notes, s.clashes, s.detail, s.micros`

// recordWidth is the number of columns of vine_state: the record's and the id.
const recordWidth = 29

// words keeps one copy of texts that come again and again.
type words map[string]string

func (w words) of(text []byte) string {
	if len(text) == 0 {
		return ""
	}
	if s, ok := w[string(text)]; ok {
		return s
	}
	s := string(text)
	w[s] = s
	return s
}

// scanRecord reads the columns of recordColumns.
func scanRecord(s *sqlite3.Stmt, seen words) (r logbook.Record, err error) {
	r = logbook.Record{
		Vine: s.ColumnInt64(0), Season: s.ColumnInt(1), Block: s.ColumnInt64(2), Changed: s.ColumnInt64(3),
		Cause: seen.of(s.ColumnRawText(5)), Planted: s.ColumnInt(8), PrunedBy: seen.of(s.ColumnRawText(11)),
		NodesLeft: count(s, 12), CanesLeft: count(s, 13), SpursLeft: count(s, 14),
		ScoreScale: seen.of(s.ColumnRawText(20)), Notes: s.ColumnInt(24), Clashes: s.ColumnInt(25),
		Detail: slices.Clone(s.ColumnRawText(26)),
	}
	if err = r.Condition.UnmarshalText(s.ColumnRawText(4)); err == nil {
		err = r.Progress.UnmarshalText(s.ColumnRawText(9))
	}
	for _, t := range [...]struct {
		to  *time.Time
		col int
	}{{&r.SeenAt, 6}, {&r.LookAgain, 7}, {&r.PrunedAt, 10}} {
		if err == nil {
			*t.to, err = readTime(s.ColumnRawText(t.col))
		}
	}
	for _, m := range [...]struct {
		to        *logbook.Measured
		value, at int
	}{{&r.PruningWeight, 15, 16}, {&r.CaneCount, 17, 18}, {&r.Score, 19, 21}, {&r.Yield, 22, 23}} {
		if err == nil && s.ColumnType(m.value) != sqlite3.NULL {
			m.to.Value, m.to.Known = s.ColumnFloat(m.value), true
			m.to.At, err = readTime(s.ColumnRawText(m.at))
		}
	}
	if text := s.ColumnRawText(27); err == nil && len(text) > 0 {
		err = addMicros(text, recordTimes(&r))
	}
	if err != nil {
		err = fmt.Errorf("state of vine %d in %d: %w", r.Vine, r.Season, err)
	}
	return r, err
}

// recordTimes gives the times of a record in the order of their columns.
func recordTimes(r *logbook.Record) [7]*time.Time {
	return [...]*time.Time{&r.SeenAt, &r.LookAgain, &r.PrunedAt, &r.PruningWeight.At, &r.CaneCount.At, &r.Score.At, &r.Yield.At}
}

func count(s *sqlite3.Stmt, col int) *int {
	if s.ColumnType(col) == sqlite3.NULL {
		return nil
	}
	n := s.ColumnInt(col)
	return &n
}

// bindRecord fills in one line of an insert, from parameter at on. What is not
// set stays NULL: the bindings were cleared.
func bindRecord(s *sqlite3.Stmt, at int, r logbook.Record) error {
	b := binder{s: s, at: at}
	b.int(recordID(r.Vine, r.Season))
	b.int(r.Vine)
	b.int(int64(r.Season))
	b.int(r.Block)
	b.int(r.Changed)
	b.text(r.Condition.String())
	b.text(r.Cause)
	b.time(r.SeenAt)
	b.time(r.LookAgain)
	b.some(r.Planted)
	b.text(r.Progress.String())
	b.time(r.PrunedAt)
	b.text(r.PrunedBy)
	b.count(r.NodesLeft)
	b.count(r.CanesLeft)
	b.count(r.SpursLeft)
	b.measured(r.PruningWeight)
	b.measured(r.CaneCount)
	b.float(r.Score.Value, r.Score.Known)
	b.text(r.ScoreScale)
	b.time(r.Score.At)
	b.measured(r.Yield)
	b.int(int64(r.Notes))
	b.int(int64(r.Clashes))
	b.text(string(r.Detail))
	b.text(microsOf(recordTimes(&r)))
	return b.err
}

// binder binds one parameter after the other and keeps the first error.
type binder struct {
	s   *sqlite3.Stmt
	at  int
	err error
}

func (b *binder) take(err error) {
	if b.err == nil {
		b.err = err
	}
	b.at++
}

func (b *binder) int(n int64) { b.take(b.s.BindInt64(b.at, n)) }

func (b *binder) some(n int) {
	if n == 0 {
		b.at++
		return
	}
	b.int(int64(n))
}

func (b *binder) count(n *int) {
	if n == nil {
		b.at++
		return
	}
	b.int(int64(*n))
}

func (b *binder) text(s string) {
	if s == "" {
		b.at++
		return
	}
	b.take(b.s.BindText(b.at, s))
}

func (b *binder) float(v float64, known bool) {
	if !known {
		b.at++
		return
	}
	b.take(b.s.BindFloat(b.at, v))
}

func (b *binder) time(t time.Time) {
	if t.IsZero() {
		b.at++
		return
	}
	b.take(b.s.BindRawText(b.at, appendTime(make([]byte, 0, len(timeForm)), t)))
}

func (b *binder) measured(m logbook.Measured) {
	b.float(m.Value, m.Known)
	b.time(m.At)
}

// saveRecords writes records over what stood in their place.
func saveRecords(c *conn, records []logbook.Record) error {
	return portions(records, [3]int{40, 8, 1}, func(part []logbook.Record) error { return saveSome(c, part) })
}

func saveSome(c *conn, records []logbook.Record) error {
	line := "(" + strings.Repeat("?,", recordWidth-1) + "?)"
	s, done, err := c.prepare("INSERT OR REPLACE INTO vine_state VALUES " + strings.Repeat(line+",", len(records)-1) + line)
	if err != nil {
		return err
	}
	err = s.ClearBindings()
	for i, r := range records {
		if err == nil {
			err = bindRecord(s, 1+i*recordWidth, r)
		}
	}
	if err == nil {
		err = s.Exec()
	}
	return cmp.Or(err, done())
}
