package gpkg

import (
	"github.com/paulmach/orb"
)

// The standard's triggers keep the R*Tree in step for other programs, at 47 µs
// a vine. This one's writer sets all triggers aside and keeps the index itself:
// those of blocks and rows at once, that of the vines at the end of a
// transaction, by packing it anew or, where few of many vines changed, one by one.
const (
	packFrom     = 20000 // vines changed from which packing may pay
	packFraction = 8     // … and if they are more than one in so many
)

// bulkIndex is what a transaction did to the places of vines.
type bulkIndex struct {
	ids    []int64
	points []orb.Point
	gone   []int64 // vines that it took away
}

// note keeps where a vine now stands.
func (x *bulkIndex) note(id int64, p orb.Point) {
	x.ids, x.points = append(x.ids, id), append(x.points, p)
}

// drop notes that a vine stands nowhere any more.
func (x *bulkIndex) drop(id int64) { x.gone = append(x.gone, id) }

// finishIndex brings the index of the vines up to date.
func (t *tx) finishIndex(c *conn) error {
	x := &t.index
	changed := len(x.ids) + len(x.gone)
	if changed == 0 {
		return nil
	}
	if changed >= packFrom {
		total, err := c.number("SELECT count(*) FROM vine")
		if err != nil {
			return err
		}
		if int64(changed)*packFraction > total {
			return packIndex(c, "vine")
		}
	}
	for i, p := range x.points {
		if err := indexBound(c, "vine", x.ids[i], p.Bound()); err != nil {
			return err
		}
	}
	return each(x.gone, func(id int64) error { return c.exec("DELETE FROM rtree_vine_geom WHERE id = ?", id) })
}

// indexShape brings the index of a table in step with a feature's new blob.
func indexShape(c *conn, table string, id int64, blob any) error {
	geom, _ := blob.([]byte)
	b, ok := boundOf(geom)
	if !ok {
		return c.exec("DELETE FROM rtree_"+table+"_geom WHERE id = ?", id)
	}
	return indexBound(c, table, id, b)
}

func indexBound(c *conn, table string, id int64, b orb.Bound) error {
	return c.exec("INSERT OR REPLACE INTO rtree_"+table+"_geom VALUES (?, ?, ?, ?, ?)", id, b.Min[0], b.Max[0], b.Min[1], b.Max[1])
}

// noteContents tells other programs, in gpkg_contents, what changed when and
// within which bounds.
func (t *tx) noteContents(c *conn) error {
	if len(t.touched) == 0 {
		return nil
	}
	now := string(appendTime(nil, t.store.now()))
	if err := c.exec("UPDATE gpkg_contents SET last_change = ? WHERE table_name IN ('vine_state', 'vines_now')", now); err != nil {
		return err
	}
	ground := false
	for _, b := range t.touched {
		ground = ground || b.ground
	}
	if !ground {
		return nil
	}
	for table, layers := range map[string][]string{"block": {"block"}, "vine_row": {"vine_row"}, "vine": {"vine", "vines_now"}} {
		b, some, err := rootBounds(c, table)
		if err != nil {
			return err
		}
		for _, layer := range layers {
			var bounds [4]any
			if some {
				bounds = [4]any{float64(b.minx), float64(b.miny), float64(b.maxx), float64(b.maxy)}
			}
			err := c.exec("UPDATE gpkg_contents SET last_change = ?, min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?",
				now, bounds[0], bounds[1], bounds[2], bounds[3], layer)
			if err != nil {
				return err
			}
		}
	}
	return nil
}
