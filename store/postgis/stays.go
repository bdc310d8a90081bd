package postgis

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"courson/geo/vine"
	"courson/store/logbook"
)

// hasStays tells whether a vine ever stood in another row or block than now.
const hasStays = `SELECT EXISTS (SELECT FROM vine_stay WHERE estate_id = $1)`

func (r reader) anyMoved(ctx context.Context) (moved bool, err error) {
	err = r.q.QueryRow(ctx, hasStays, r.estate).Scan(&moved)
	return moved, err
}

// addStays adds to places where the vines stood before.
func (r reader) addStays(ctx context.Context, places []vine.Place) error {
	at := make(map[vine.ID]int, len(places))
	for i, p := range places {
		at[p.ID], places[i].Was = i, nil
	}
	rows, err := r.q.Query(ctx, `
		SELECT s.vine_id, s.row_id, s.block_id, s.until FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		    SELECT * FROM vine_stay WHERE estate_id = $1 AND vine_id = w.id OFFSET 0) s ORDER BY s.vine_id, s.until`,
		r.estate, slices.Sorted(maps.Keys(at)))
	if err != nil {
		return err
	}
	var id vine.ID
	var s vine.Stay
	_, err = pgx.ForEachRow(rows, []any{&id, &s.Row, &s.Block, &s.Until}, func() error {
		i := at[id]
		places[i].Was = append(places[i].Was, vine.Stay{Row: s.Row, Block: s.Block, Until: s.Until.UTC()})
		return nil
	})
	return err
}

// stoodIn gives the vines that stood in any of the rows or blocks before they were
// moved, by id.
func (r reader) stoodIn(ctx context.Context, inRows, blocks []vine.ID) ([]vine.Place, error) {
	rows, err := r.q.Query(ctx, `
		SELECT vine_id FROM vine_stay WHERE estate_id = $1 AND row_id = ANY($2)
		UNION SELECT vine_id FROM vine_stay WHERE estate_id = $1 AND block_id = ANY($3)`, r.estate, inRows, blocks)
	if err != nil {
		return nil, err
	}
	ids, err := pgx.CollectRows(rows, pgx.RowTo[vine.ID])
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	found, err := r.placesOf(ctx, ids)
	if err != nil {
		return nil, err
	}
	places := slices.SortedFunc(maps.Values(found), func(a, b vine.Place) int { return cmp.Compare(a.ID, b.ID) })
	return places, r.addStays(ctx, places)
}

// lookUpMoved adds to what was found where vines stood before.
func (t *tx) lookUpMoved(ctx context.Context, n logbook.Needs, f *logbook.Found) (err error) {
	if f.Moved = t.moved; !f.Moved {
		return nil
	}
	named := slices.Collect(maps.Values(f.Vines))
	if err = t.addStays(ctx, named); err == nil {
		f.Stood, err = t.stoodIn(ctx, n.Rows, n.Blocks)
	}
	for _, p := range slices.Concat(named, f.Stood) {
		f.Vines[p.ID] = p
	}
	return err
}

// viewOf gives how records are read for a block, and its vines; nil where none of them
// was ever moved, in or out: then records are read as they are.
func (r reader) viewOf(ctx context.Context, block vine.ID) (*logbook.View, []vine.Place, error) {
	if moved, err := r.anyMoved(ctx); err != nil || !moved {
		return nil, nil, err
	}
	rows, err := r.q.Query(ctx, `SELECT v.vine_id, v.row_id, v.block_id, v.planted`+vinesOfBlockRows, r.estate, block)
	if err != nil {
		return nil, nil, err
	}
	places, err := pgx.CollectRows(rows, scanPlace)
	if err == nil {
		err = r.addStays(ctx, places)
	}
	var left bool
	if err == nil {
		err = r.q.QueryRow(ctx, `SELECT EXISTS (SELECT FROM vine_stay WHERE estate_id = $1 AND block_id = $2)`, r.estate, block).Scan(&left)
	}
	if err != nil || !left && !slices.ContainsFunc(places, func(p vine.Place) bool { return len(p.Was) > 0 }) {
		return nil, nil, err
	}
	return logbook.NewView(block, places), places, nil
}

// wasIn gives the rows and blocks in which vines stood before, each once.
func wasIn(places ...vine.Place) (ids []vine.ID) {
	for _, p := range places {
		for _, s := range p.Was {
			ids = append(ids, s.Row, s.Block)
		}
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}
