package gpkg

import (
	"github.com/ncruces/go-sqlite3"
	"github.com/paulmach/orb"
)

// The standard's triggers keep the R*Tree in step at 47 µs a vine. A transaction
// that writes many sets them aside and brings the index up to date at its end:
// by packing it anew, or, where few of many vines changed, one by one.
const (
	bulkFrom     = 2000  // vines saved in one transaction before triggers are set aside
	packFrom     = 20000 // vines changed from which packing may pay
	packFraction = 8     // … and if they are more than one in so many
)

// bulkIndex is what a transaction did to the R*Tree of the vines.
type bulkIndex struct {
	saved    int
	triggers []string // texts of the triggers set aside; nil: they are in force
	ids      []int64
	points   []orb.Point
}

// begin is called before n vines are written.
func (x *bulkIndex) begin(c *conn, n int) error {
	x.saved += n
	if x.saved < bulkFrom || x.triggers != nil {
		return nil
	}
	var names []string
	err := c.each(`SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'vine'
		AND name LIKE 'rtree_vine_geom_%'`, func(s *sqlite3.Stmt) error {
		names = append(names, s.ColumnText(0))
		x.triggers = append(x.triggers, s.ColumnText(1))
		return nil
	})
	for _, name := range names {
		if err == nil {
			err = c.exec("DROP TRIGGER " + sqlite3.QuoteIdentifier(name))
		}
	}
	return err
}

// note keeps a point written while no trigger sees it.
func (x *bulkIndex) note(id int64, p orb.Point) {
	if x.triggers != nil {
		x.ids, x.points = append(x.ids, id), append(x.points, p)
	}
}

// finishIndex brings the index up to date and puts the triggers back.
func (t *tx) finishIndex(c *conn) error {
	x := &t.index
	if x.triggers == nil {
		return nil
	}
	total, err := c.number("SELECT count(*) FROM vine")
	if err != nil {
		return err
	}
	if len(x.ids) >= packFrom && int64(len(x.ids))*packFraction > total {
		err = packIndex(c, "vine")
	} else {
		for i, p := range x.points {
			if err == nil {
				err = c.exec("INSERT OR REPLACE INTO rtree_vine_geom VALUES (?, ?, ?, ?, ?)", x.ids[i], p[0], p[0], p[1], p[1])
			}
		}
	}
	for _, sql := range x.triggers {
		if err == nil {
			err = c.exec(sql)
		}
	}
	return err
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
