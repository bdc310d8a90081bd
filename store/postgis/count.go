package postgis

import "context"

// CountVines goes through an index, not through the vines.
func (r reader) CountVines(ctx context.Context) (n int, err error) {
	err = r.q.QueryRow(ctx, `SELECT count(*) FROM vine WHERE estate_id = $1`, r.estate).Scan(&n)
	return n, fail("count the vines", err)
}
