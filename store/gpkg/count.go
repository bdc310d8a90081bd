package gpkg

import (
	"context"

	"github.com/ncruces/go-sqlite3"
)

// CountVines goes through an index, not through the vines.
func (r reader) CountVines(ctx context.Context) (int, error) {
	return get(ctx, r, "count the vines", func(c *conn) (n int, err error) {
		_, err = c.one("SELECT count(*) FROM vine", func(s *sqlite3.Stmt) error {
			n = s.ColumnInt(0)
			return nil
		})
		return n, err
	})
}
