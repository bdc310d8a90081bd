package gpkg

import (
	"context"
	"fmt"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/store"
	"courson/store/logbook"
)

func (r reader) Papers(ctx context.Context, q store.PaperQuery) ([]store.Paper, error) {
	return get(ctx, r, fmt.Sprintf("papers of kind %s", q.Kind), func(c *conn) ([]store.Paper, error) { return readPapers(c, q) })
}

// readPapers asks for one key by the index on kind and key: who is signed in is
// looked up so for every request.
func readPapers(c *conn, q store.PaperQuery) (out []store.Paper, err error) {
	which, args := "kind = ?", []any{string(q.Kind)}
	if q.Key != "" {
		which, args = which+" AND key = ?", append(args, q.Key)
	}
	sql := `SELECT kind, key, season, block_id, made, by_whom, value FROM paper WHERE ` + which
	if !q.Versions {
		sql, args = sql+` AND id IN (SELECT max(id) FROM paper WHERE `+which+` GROUP BY key)`, append(args, args...)
	}
	err = c.each(sql+` ORDER BY key, id DESC`, func(s *sqlite3.Stmt) error {
		out = append(out, store.Paper{Kind: store.PaperKind(s.ColumnText(0)), Key: s.ColumnText(1), Season: s.ColumnInt(2), Block: s.ColumnInt64(3),
			Made: moment(s.ColumnInt64(4)), By: s.ColumnText(5), Value: []byte(s.ColumnText(6))})
		return nil
	}, args...)
	return logbook.Newest(out, q), err
}

// SavePaper writes a new version of a paper.
func (t *tx) SavePaper(p store.Paper) error {
	return t.run(t.ctx, fmt.Sprintf("save %s %s", p.Kind, p.Key), func(c *conn) error { return t.savePaper(c, p) })
}

func (t *tx) savePaper(c *conn, p store.Paper) error {
	if err := logbook.CheckPaper(p); err != nil {
		return err
	}
	if p.Block != 0 {
		if _, found, err := readBlock(c, p.Block); err != nil || !found {
			return orMissing(err, "block %d", p.Block)
		}
	}
	if p.Made.IsZero() {
		p.Made = t.store.now()
	}
	err := c.exec("INSERT INTO paper (kind, key, season, block_id, made, by_whom, value) VALUES (?, ?, ?, ?, ?, ?, CAST(? AS TEXT))",
		string(p.Kind), p.Key, p.Season, p.Block, micros(p.Made.Truncate(time.Microsecond)), p.By, []byte(p.Value))
	if err != nil || p.Block == 0 {
		return err
	}
	b, err := t.touch(c, p.Block)
	if err != nil {
		return err
	}
	if p.Season != 0 {
		b.seasons[p.Season] = true
	}
	if b.plan {
		return nil
	}
	b.plan = true
	return c.exec("UPDATE block_revision SET plan_rev = revision WHERE block_id = ?", p.Block)
}
