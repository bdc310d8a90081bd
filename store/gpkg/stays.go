package gpkg

import (
	"cmp"
	"maps"
	"slices"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store/logbook"
)

// anyMoved tells whether a vine ever stood in another row or block than now.
func anyMoved(c *conn) (bool, error) {
	n, err := c.number("SELECT EXISTS (SELECT 1 FROM vine_stay)")
	return n != 0, err
}

// addStays adds to places, which are of many vines in any order, where they stood
// before.
func addStays(c *conn, places []vine.Place) error {
	at := make(map[vine.ID]int, len(places))
	for i, p := range places {
		at[p.ID], places[i].Was = i, nil
	}
	return sweep(slices.Sorted(maps.Keys(at)), func(from, to vine.ID) error {
		return c.each("SELECT vine_id, row_id, block_id, until FROM vine_stay WHERE vine_id BETWEEN ? AND ? ORDER BY vine_id, until", func(s *sqlite3.Stmt) error {
			if i, ok := at[s.ColumnInt64(0)]; ok {
				places[i].Was = append(places[i].Was, vine.Stay{Row: s.ColumnInt64(1), Block: s.ColumnInt64(2), Until: moment(s.ColumnInt64(3))})
			}
			return nil
		}, from, to)
	})
}

// stoodIn gives the vines that stood in any of the rows or blocks and do no longer, by
// id.
func stoodIn(c *conn, rows, blocks []vine.ID) ([]vine.Place, error) {
	var ids []vine.ID
	for column, list := range map[string][]vine.ID{"row_id": rows, "block_id": blocks} {
		for _, id := range list {
			more, err := c.ids("SELECT vine_id FROM vine_stay WHERE "+column+" = ?", id)
			if err != nil {
				return nil, err
			}
			ids = append(ids, more...)
		}
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	found, err := placesOf(c, ids)
	if err != nil {
		return nil, err
	}
	places := slices.SortedFunc(maps.Values(found), func(a, b vine.Place) int { return cmp.Compare(a.ID, b.ID) })
	places = slices.DeleteFunc(places, func(p vine.Place) bool { _, named := slices.BinarySearch(ids, p.ID); return !named })
	return places, addStays(c, places)
}

// lookUpMoved adds to what was found where vines stood before.
func lookUpMoved(c *conn, n logbook.Needs, f *logbook.Found) (err error) {
	if f.Moved, err = anyMoved(c); err != nil || !f.Moved {
		return err
	}
	named := slices.Collect(maps.Values(f.Vines))
	if err = addStays(c, named); err == nil {
		f.Stood, err = stoodIn(c, n.Rows, n.Blocks)
	}
	for _, p := range slices.Concat(named, f.Stood) {
		f.Vines[p.ID] = p
	}
	return err
}

// viewOf gives how records are read for a block, and its vines; nil where none of them
// was ever moved, in or out: then records are read as they are.
func viewOf(c *conn, block vine.ID) (*logbook.View, []vine.Place, error) {
	if moved, err := anyMoved(c); err != nil || !moved {
		return nil, nil, err
	}
	rows, err := c.ids("SELECT id FROM vine_row WHERE block_id = ?", block)
	if err != nil {
		return nil, nil, err
	}
	var places []vine.Place
	for _, row := range rows {
		more, err := rowPlaces(c, row)
		if err != nil {
			return nil, nil, err
		}
		places = append(places, more...)
	}
	if err := addStays(c, places); err != nil {
		return nil, nil, err
	}
	left, err := c.number("SELECT EXISTS (SELECT 1 FROM vine_stay WHERE block_id = ?)", block)
	if err != nil || left == 0 && !slices.ContainsFunc(places, func(p vine.Place) bool { return len(p.Was) > 0 }) {
		return nil, nil, err
	}
	return logbook.NewView(block, places), places, nil
}

// cameWith gives the events that are kept under vines that came from elsewhere, or
// under the rows and blocks in which they stood.
func cameWith(c *conn, places []vine.Place) ([]int64, error) {
	var about []vine.ID
	for _, p := range places {
		if len(p.Was) > 0 {
			about = append(about, p.ID)
		}
		for _, s := range p.Was {
			about = append(about, s.Row, s.Block)
		}
	}
	slices.Sort(about)
	var cursors []int64
	err := sweep(slices.Compact(about), func(from, to vine.ID) error {
		more, err := c.ids("SELECT cursor FROM event_about WHERE about BETWEEN ? AND ?", from, to)
		cursors = append(cursors, more...)
		return err
	})
	slices.Sort(cursors)
	return slices.Compact(cursors), err
}
