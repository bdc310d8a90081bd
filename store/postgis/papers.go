package postgis

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// Papers gives the newest version of every paper of a kind.
func (r reader) Papers(ctx context.Context, q store.PaperQuery) ([]store.Paper, error) {
	which, args := `estate_id = $1 AND kind = $2`, []any{r.estate, q.Kind}
	if q.Key != "" { // by the index: who is signed in is looked up so for every request
		which, args = which+` AND key = $3`, append(args, q.Key)
	}
	newest := ` AND paper_id IN (SELECT max(paper_id) FROM paper WHERE ` + which + ` GROUP BY key)`
	if q.Versions {
		newest = ""
	}
	rows, err := r.q.Query(ctx, `SELECT kind, key, season, block_id, made, by_whom, value FROM paper
		WHERE `+which+newest+` ORDER BY key COLLATE "C", paper_id DESC`, args...)
	if err != nil {
		return nil, fail("papers", err)
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (store.Paper, error) {
		var p store.Paper
		var value []byte
		err := row.Scan(&p.Kind, &p.Key, &p.Season, &p.Block, &p.Made, &p.By, &value)
		p.Made, p.Value = p.Made.UTC(), value
		return p, err
	})
	return logbook.Newest(out, q), fail("papers", err)
}

// SavePaper writes a new version of a paper.
func (t *tx) SavePaper(p store.Paper) error {
	return fail(fmt.Sprintf("save %s %s", p.Kind, p.Key), t.savePaper(p))
}

func (t *tx) savePaper(p store.Paper) error {
	if err := logbook.CheckPaper(p); err != nil {
		return err
	}
	if p.Block != 0 {
		if err := t.mustExist(`SELECT b.block_id`+blocksIn, "block", map[vine.ID]bool{p.Block: true}); err != nil {
			return err
		}
	}
	id, err := t.newIDs(t.ctx, 1)
	if err != nil {
		return err
	}
	if p.Made.IsZero() {
		p.Made = t.now
	}
	_, err = t.pg.Exec(t.ctx, `INSERT INTO paper (estate_id, paper_id, kind, key, season, block_id, made, by_whom, value) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		t.estate, id, p.Kind, p.Key, p.Season, p.Block, logbook.Instant(p.Made), p.By, []byte(p.Value))
	if err != nil || p.Block == 0 {
		return err
	}
	if err := t.touch(t.ctx, []vine.ID{p.Block}); err != nil {
		return err
	}
	b := t.touched[p.Block]
	b.plan = true
	if p.Season != 0 {
		b.seasons[p.Season] = true
	}
	return nil
}
