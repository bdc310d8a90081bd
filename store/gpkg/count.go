package gpkg

import (
	"context"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
)

// CountVines adds up what the copies of the blocks tell, and counts where there
// is none.
func (r reader) CountVines(ctx context.Context) (int, error) {
	return get(ctx, r, "count the vines", func(c *conn) (n int, err error) {
		var without []vine.ID
		err = c.each(`SELECT b.block_id, k.vines FROM block_revision b LEFT JOIN block_copy k ON k.block_id = b.block_id AND k.season = 0
			AND k.revision = b.ground_rev AND k.edits = (SELECT value FROM counter WHERE name = 'edits')`, func(s *sqlite3.Stmt) error {
			if s.ColumnType(1) == sqlite3.NULL {
				without = append(without, s.ColumnInt64(0))
			}
			n += s.ColumnInt(1)
			return nil
		})
		for _, block := range without {
			more, e := c.number(countInBlock, block)
			if e != nil {
				return 0, e
			}
			n += int(more)
		}
		return n, err
	})
}

const countInBlock = "SELECT count(*) FROM vine_row r CROSS JOIN vine v ON v.row_id = r.id WHERE r.block_id = ?"
