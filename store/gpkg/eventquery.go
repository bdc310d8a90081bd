package gpkg

import (
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
)

// readEvents answers a query. The tables lead to candidates; what an event
// covers is told by its own list of vines.
func readEvents(c *conn, q store.EventQuery) (out []store.LoggedEvent, err error) {
	n, err := narrow(c, q)
	if err != nil || n == nil {
		return nil, err
	}
	limit := q.Limit
	if limit <= 0 {
		limit = math.MaxInt
	}
	err = c.each("SELECT "+eventColumns+" FROM event e WHERE "+strings.Join(n.conds, " AND ")+" ORDER BY e.cursor", func(s *sqlite3.Stmt) error {
		e, err := scanEvent(s)
		if err == nil && n.keeps(&e.Event) {
			out = append(out, e)
		}
		if err == nil && len(out) >= limit {
			err = errEnough
		}
		return err
	}, n.args...)
	if errors.Is(err, errEnough) {
		err = nil
	}
	return out, err
}

var errEnough = errors.New("enough")

// narrowed is a query: the conditions for the table, and the tests for what they
// cannot tell.
type narrowed struct {
	conds []string
	args  []any
	tests []func(*vine.Event) bool
}

func (n *narrowed) add(cond string, args ...any) {
	n.conds, n.args = append(n.conds, cond), append(n.args, args...)
}

func (n *narrowed) keeps(e *vine.Event) bool {
	return !slices.ContainsFunc(n.tests, func(test func(*vine.Event) bool) bool { return !test(e) })
}

// narrow gives the query; nil means that nothing fits.
func narrow(c *conn, q store.EventQuery) (*narrowed, error) {
	n := &narrowed{}
	n.add("e.cursor > ?", q.After)
	if q.Season != 0 {
		n.add("e.season = ?", q.Season)
	}
	if q.Device != "" {
		n.add("e.device = ?", q.Device)
	}
	for _, part := range []struct {
		id  vine.ID
		add func(*conn, vine.ID) (bool, error)
	}{{q.Row, n.row}, {q.Vine, n.vine}, {q.Block, n.block}} { // the block last: it changes what is read
		if part.id == 0 {
			continue
		}
		if found, err := part.add(c, part.id); err != nil || !found {
			return nil, err
		}
	}
	return n, nil
}

// block asks for what is about a block, also where it was said of another in which
// its vines stood then.
func (n *narrowed) block(c *conn, id vine.ID) (bool, error) {
	view, places, err := viewOf(c, id)
	if err != nil {
		return false, err
	}
	if view == nil {
		n.add("e.block_id = ?", id)
		return true, nil
	}
	cursors, err := cameWith(c, places)
	if err != nil {
		return false, err
	}
	list, err := json.Marshal(cursors)
	n.add("(e.block_id = ? OR e.cursor IN (SELECT value FROM json_each(?)))", id, string(list))
	n.tests = append(n.tests, func(e *vine.Event) (ok bool) {
		*e, ok = view.Read(*e)
		return ok
	})
	return true, err
}

func (n *narrowed) row(c *conn, id vine.ID) (bool, error) {
	r, found, err := readRow(c, id)
	if err != nil || !found {
		return false, err
	}
	places, err := rowPlaces(c, id)
	if err == nil {
		err = addStays(c, places)
	}
	about := []vine.ID{r.ID, r.Block}
	moved := false
	for _, p := range places {
		about = append(about, wasIn(p)...)
		moved = moved || len(p.Was) > 0
	}
	cond, args := anyOf("about", about)
	n.add("e.cursor IN (SELECT cursor FROM event_about WHERE "+cond+" UNION SELECT a.cursor FROM vine v JOIN event_about a ON a.about = v.id WHERE v.row_id = ?)",
		append(args, r.ID)...)
	if moved {
		n.tests = append(n.tests, func(e *vine.Event) bool { return slices.ContainsFunc(places, e.Covers) })
	}
	return true, err
}

func (n *narrowed) vine(c *conn, id vine.ID) (bool, error) {
	found, err := placesOf(c, []vine.ID{id})
	place, ok := found[id]
	if err != nil || !ok {
		return false, err
	}
	one := []vine.Place{place}
	err = addStays(c, one)
	cond, args := anyOf("about", append(wasIn(one[0]), place.ID, place.Row, place.Block))
	n.add("e.cursor IN (SELECT cursor FROM event_about WHERE "+cond+")", args...)
	n.tests = append(n.tests, func(e *vine.Event) bool { return e.Covers(one[0]) })
	return true, err
}

// wasIn gives the rows and blocks in which a vine stood before.
func wasIn(p vine.Place) (ids []vine.ID) {
	for _, s := range p.Was {
		ids = append(ids, s.Row, s.Block)
	}
	return ids
}

// anyOf is the condition that a column is one of some ids.
func anyOf(column string, ids []vine.ID) (string, []any) {
	slices.Sort(ids)
	ids = slices.Compact(ids)
	args := make([]any, len(ids))
	for i, id := range ids {
		args[i] = id
	}
	return column + " IN (" + strings.TrimSuffix(strings.Repeat("?, ", len(ids)), ", ") + ")", args
}
