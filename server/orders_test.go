package server

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

func TestCrews(t *testing.T) {
	f := newFixture(t)
	var got struct{ Crews []work.Crew }
	f.send(t, http.MethodPut, "/api/crews/North", map[string]any{"people": 4, "hours_per_day": 7, "skilled": true, "language": "es"}, 200, nil)
	f.send(t, http.MethodPut, "/api/crews/South", map[string]any{"people": 2, "hours_per_day": 6.5}, 200, nil)
	f.send(t, http.MethodPut, "/api/crews/North", map[string]any{"name": "North", "people": 5, "hours_per_day": 7}, 200, nil)
	f.send(t, http.MethodGet, "/api/crews", nil, 200, &got)
	require.Len(t, got.Crews, 2)
	assert.Equal(t, 5, got.Crews[0].People)
	assert.False(t, got.Crews[0].Skilled, "a new version says it all")
	f.send(t, http.MethodDelete, "/api/crews/North", nil, 204, nil)
	f.send(t, http.MethodGet, "/api/crews", nil, 200, &got)
	assert.Len(t, got.Crews, 1)
	for name, body := range map[string]map[string]any{
		"no people": {"hours_per_day": 7}, "a long day": {"people": 1, "hours_per_day": 20}, "a tongue": {"people": 1, "hours_per_day": 7, "language": "xx"},
		"another name": {"name": "B", "people": 1, "hours_per_day": 7},
	} {
		assert.Equal(t, 422, f.ask(http.MethodPut, "/api/crews/A", body).status, name)
	}
}

func TestOrders(t *testing.T) {
	f := newFixture(t)
	b := f.home
	order := func(change map[string]any) map[string]any {
		o := map[string]any{"season": 2027, "operation": "pruning", "block": b.ID, "crew": "North", "day": "2027-01-12", "rows": []any{
			map[string]any{"row": b.rows[1].ID, "start": "far"}, map[string]any{"row": b.rows[0].ID, "from": 2, "to": 4}}}
		for k, v := range change {
			o[k] = v
		}
		return o
	}
	var made ordersJSON
	f.send(t, http.MethodPost, "/api/orders", map[string]any{"by": "Ada", "orders": []any{order(nil), order(map[string]any{"crew": "South", "operation": "tying"})}}, 201, &made)
	require.Len(t, made.Orders, 2)
	o := made.Orders[0]
	assert.Equal(t, []any{"H3", "open", "Ada", testVines + 3}, []any{o.Code, o.State, o.By, o.Vines})
	assert.Equal(t, work.OrderRow{Row: b.rows[1].ID, Label: b.rows[1].Label, From: 1, To: testVines, Start: "far"}, o.Rows[0])
	assert.Positive(t, o.Hours)

	// What is done counts, by operation.
	id := b.vines[testVines+2].ID // in row 2
	require.Equal(t, store.Stored, f.post(f.event(b, vine.KindPruned, map[string]any{}, id)).Results[0].Result)
	require.Equal(t, store.Stored, f.post(f.event(b, vine.KindWork, map[string]any{"operation": "tying", "progress": "done"}, id, id+1)).Results[0].Result)
	var now ordersJSON
	f.send(t, http.MethodGet, "/api/orders?season=2027", nil, 200, &now)
	assert.Equal(t, []int{1, 2}, []int{now.Orders[0].Done, now.Orders[1].Done})
	assert.Less(t, now.Orders[0].Hours, o.Hours)
	f.send(t, http.MethodGet, "/api/orders?season=2027&crew=South", nil, 200, &now)
	assert.Len(t, now.Orders, 1)

	// Changed, withdrawn; versions of one order never become two.
	f.send(t, http.MethodPut, "/api/orders/"+o.ID, order(map[string]any{"day": "2027-01-13", "note": "after the rain"}), 200, nil)
	f.send(t, http.MethodGet, "/api/orders?season=2027&day=2027-01-13", nil, 200, &now)
	require.Len(t, now.Orders, 1)
	assert.Equal(t, "after the rain", now.Orders[0].Note)
	f.send(t, http.MethodDelete, "/api/orders/"+o.ID, nil, 204, nil)
	f.send(t, http.MethodGet, "/api/orders?season=2027", nil, 200, &now)
	assert.Len(t, now.Orders, 1)
	f.send(t, http.MethodGet, "/api/orders?season=2027&withdrawn=1", nil, 200, &now)
	assert.Len(t, now.Orders, 2)

	for name, c := range map[string]struct {
		body   map[string]any
		status int
	}{
		"a row of another block": {order(map[string]any{"rows": []any{map[string]any{"row": f.far.rows[0].ID}}}), 422},
		"no rows":                {order(map[string]any{"rows": []any{}}), 422},
		"backwards":              {order(map[string]any{"rows": []any{map[string]any{"row": b.rows[0].ID, "from": 4, "to": 2}}}), 422},
		"a day":                  {order(map[string]any{"day": "12/1/2027"}), 422},
		"no operation":           {order(map[string]any{"operation": ""}), 422},
		"no block":               {order(map[string]any{"block": 99_999}), 404},
		"a start":                {order(map[string]any{"rows": []any{map[string]any{"row": b.rows[0].ID, "start": "top"}}}), 422},
	} {
		a := f.ask(http.MethodPost, "/api/orders", map[string]any{"orders": []any{order(nil), c.body}})
		assert.Equal(t, c.status, a.status, "%s: %s", name, a.body)
	}
	f.send(t, http.MethodGet, "/api/orders?season=2027", nil, 200, &now)
	assert.Len(t, now.Orders, 1, "all or none")
	assert.Equal(t, 404, f.ask(http.MethodPut, "/api/orders/none", order(nil)).status)
}

func TestField(t *testing.T) {
	f, b, _ := planned(t)
	f.send(t, http.MethodPut, "/api/crews/North", map[string]any{"people": 4, "hours_per_day": 7, "language": "es"}, 200, nil)
	f.send(t, http.MethodPut, "/api/blocks/P1/standards", map[string]any{"standards": map[string]any{"rows": map[string]any{"vines_per_section": 5}}}, 200, nil)
	f.post(f.event(b, vine.KindCondition, map[string]any{"condition": "missing"}, b.vines[3].ID))
	f.send(t, http.MethodPost, "/api/orders", map[string]any{"orders": []any{map[string]any{"season": 2027, "operation": "pruning", "block": b.ID, "crew": "North", "rows": []any{
		map[string]any{"row": b.rows[0].ID}, map[string]any{"row": b.rows[1].ID, "start": "far", "from": 5, "to": 30}}}}}, 201, nil)
	a := f.get("/api/field?crew=North")
	var got struct {
		Crew   *work.Crew
		Texts  []string
		Orders []struct {
			Operation string
			Vines     int
			Rows      []work.FieldRow
		}
		Cautions []string
	}
	a.into(t, &got)
	require.NotNil(t, got.Crew)
	require.Len(t, got.Orders, 1)
	row := got.Orders[0].Rows[0]
	assert.Equal(t, []any{5, "P1", []int{4}, 30}, []any{row.Section, row.Code, row.Gaps, len(row.Vines)})
	assert.Equal(t, 29+26, got.Orders[0].Vines)
	for _, v := range row.Vines {
		if v[0] == 4 {
			assert.Equal(t, int64(-1), v[3], "nothing to leave where no vine stands")
			continue
		}
		require.GreaterOrEqual(t, v[3], int64(0))
		assert.Regexp(t, `cane|spur|cut back`, got.Texts[v[3]])
		assert.GreaterOrEqual(t, v[5], int64(0))
	}
	assert.Equal(t, int64(5), got.Orders[0].Rows[1].Vines[0][0])
	assert.NotEmpty(t, got.Cautions)
	assert.InDelta(t, row.Bounds[0], row.Center[0], 0.001)

	// The same until something changes.
	tag := a.header.Get("ETag")
	assert.Equal(t, http.StatusNotModified, f.get("/api/field?crew=North", "If-None-Match", tag).status)
	f.post(f.event(b, vine.KindPruned, map[string]any{}, b.vines[0].ID))
	assert.Equal(t, http.StatusOK, f.get("/api/field?crew=North", "If-None-Match", tag).status)
	f.get("/api/field?crew=Nobody").into(t, &got)
	assert.Empty(t, got.Orders)
}
