package postgis

import (
	"context"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// oldNames keeps what blocks, rows and vines were called when the transaction
// began, as far as it changes that.
type oldNames struct {
	blocks map[vine.ID]string
	rows   map[vine.ID]string
	vines  map[vine.ID]oldVine
}

type oldVine struct {
	number  int
	tag     string
	address string // where it was moved: how it was called
}

func (n *oldNames) block(id vine.ID, code string) { keepFirst(&n.blocks, id, code) }
func (n *oldNames) row(id vine.ID, label string)  { keepFirst(&n.rows, id, label) }
func (n *oldNames) vine(id vine.ID, v store.Vine) {
	keepFirst(&n.vines, id, oldVine{number: v.Number, tag: v.Tag})
}

func keepFirst[T any](m *map[vine.ID]T, id vine.ID, v T) {
	if *m == nil {
		*m = make(map[vine.ID]T)
	}
	if _, ok := (*m)[id]; !ok {
		(*m)[id] = v
	}
}

// oldLabel is a line of label_history to be written.
type oldLabel struct {
	of    vine.ID
	label string
}

// saveOldNames writes the names that are no longer borne at the end of the
// transaction. What the transaction itself made had none.
func (t *tx) saveOldNames(ctx context.Context) error {
	var lost []oldLabel
	for _, kind := range []struct {
		sql string
		old map[vine.ID]string
	}{
		{`SELECT block_id, code FROM block WHERE estate_id = $1 AND block_id = ANY($2) ORDER BY block_id`, t.names.blocks},
		{`SELECT r.row_id, r.label` + rowsIn + ` ORDER BY r.row_id`, t.names.rows},
	} {
		if len(kind.old) == 0 {
			continue
		}
		rows, err := t.pg.Query(ctx, kind.sql, t.estate, slices.Collect(maps.Keys(kind.old)))
		if err != nil {
			return err
		}
		var id vine.ID
		var label string
		if _, err := pgx.ForEachRow(rows, []any{&id, &label}, func() error {
			if was := kind.old[id]; was != label && !t.isNew(id) {
				lost = append(lost, oldLabel{id, was})
			}
			return nil
		}); err != nil {
			return err
		}
	}
	for part := range slices.Chunk(slices.Sorted(maps.Keys(t.names.vines)), chunk) {
		var err error
		if lost, err = t.lostVineNames(ctx, part, lost); err != nil {
			return err
		}
	}
	if len(lost) == 0 {
		return nil
	}
	_, err := t.pg.CopyFrom(ctx, pgx.Identifier{"label_history"}, []string{"estate_id", "of_id", "label", "label_key", "until"},
		pgx.CopyFromSlice(len(lost), func(i int) ([]any, error) {
			return []any{t.estate, lost[i].of, lost[i].label, logbook.Key(lost[i].label), t.now}, nil
		}))
	return err
}

// lostVineNames appends the addresses and tags that vines no longer have.
func (t *tx) lostVineNames(ctx context.Context, ids []vine.ID, lost []oldLabel) ([]oldLabel, error) {
	rows, err := t.pg.Query(ctx, `
		SELECT v.vine_id, v.block_id, v.row_id, v.number, coalesce(v.tag, ''), b.code, r.label`+vinesIn+ofRow+ofBlock+`
		ORDER BY v.vine_id`, t.estate, ids)
	if err != nil {
		return nil, err
	}
	var v store.Vine
	var code, label string
	_, err = pgx.ForEachRow(rows, []any{&v.ID, &v.Block, &v.Row, &v.Number, &v.Tag, &code, &label}, func() error {
		if t.isNew(v.ID) {
			return nil
		}
		was := t.names.vines[v.ID]
		if was.address != "" {
			now := vine.Address{Block: code, Row: label, Number: v.Number}.String()
			lost = appendLost(lost, v.ID, was, now != was.address, v.Tag)
			return nil
		}
		if was, ok := t.names.blocks[v.Block]; ok {
			code = was
		}
		if was, ok := t.names.rows[v.Row]; ok {
			label = was
		}
		for _, l := range logbook.OldVineLabels(code, label, was.number, was.number != v.Number, was.tag, v.Tag) {
			lost = append(lost, oldLabel{v.ID, l})
		}
		return nil
	})
	return lost, err
}

// appendLost appends what a vine that was moved was called.
func appendLost(lost []oldLabel, id vine.ID, was oldVine, moved bool, tag string) []oldLabel {
	if moved {
		lost = append(lost, oldLabel{id, was.address})
	}
	if was.tag != "" && was.tag != tag {
		lost = append(lost, oldLabel{id, was.tag})
	}
	return lost
}
