package server

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// fieldAt gives the corners of a rectangle, in metres from a place.
func fieldAt(at orb.Point, w, h float64) []orb.Point {
	f := frame.New(at)
	return []orb.Point{f.Inverse(0, 0), f.Inverse(w, 0), f.Inverse(w, h), f.Inverse(0, h)}
}

var (
	newAt     = orb.Point{8.15, 49.2}
	plainRows = map[string]any{"by": "Ada", "bearing_deg": 0, "row_spacing_m": 2, "headland_m": 6, "vine_spacing_m": 1, "start_m": 0.5, "end_m": 0.5,
		"rows_from": "W", "vines_from": "S"}
)

// without is an order with some things said otherwise; nil leaves one out.
func without(o map[string]any, change map[string]any) map[string]any {
	out := map[string]any{}
	for k, v := range o {
		out[k] = v
	}
	for k, v := range change {
		if out[k] = v; v == nil {
			delete(out, k)
		}
	}
	return out
}

// drawn keeps a block of 50 × 100 m with 25 rows of 88 vines.
func (f *fixture) drawn(t *testing.T) {
	t.Helper()
	f.send(t, http.MethodPost, "/api/blocks", map[string]any{"by": "Ada", "code": "N1", "name": "New", "corners": fieldAt(newAt, 50, 100)}, 201, nil)
	f.send(t, http.MethodPost, "/api/blocks/N1/rows", plainRows, 201, nil)
}

func TestGround_DrawABlock(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		corners := fieldAt(newAt, 50, 100)
		var judged work.BlockJudged
		f.send(t, http.MethodPost, "/api/blocks/try", map[string]any{"corners": corners}, 200, &judged)
		assert.True(t, judged.Fit)
		assert.InDelta(t, 5000, judged.AreaM2, 0.01)
		assert.InDelta(t, 300, judged.RimM, 0.01)
		f.send(t, http.MethodPost, "/api/blocks/try", map[string]any{"corners": []orb.Point{}}, 200, &judged)
		assert.False(t, judged.Fit)
		bow := []orb.Point{corners[0], corners[2], corners[1], corners[3]}
		f.send(t, http.MethodPost, "/api/blocks/try", map[string]any{"corners": bow}, 200, &judged)
		require.Len(t, judged.Faults, 1)
		assert.Equal(t, []int{1, 3}, judged.Faults[0].Sides)
		onHome := fieldAt(homeAt, 5, 6)
		f.send(t, http.MethodPost, "/api/blocks/try", map[string]any{"corners": onHome}, 200, &judged)
		require.Len(t, judged.Faults, 1)
		assert.Equal(t, "H3", judged.Faults[0].Block)
		assert.InDelta(t, 30, judged.Faults[0].AreaM2, 0.1)

		body := map[string]any{"by": "Ada", "code": "N1", "name": "New", "variety": "Chenin", "corners": corners}
		var made madeBlockJSON
		for _, c := range []struct {
			name   string
			change map[string]any
			status int
			field  string
		}{
			{"nobody", map[string]any{"by": nil}, 422, "by"},
			{"no code", map[string]any{"code": " "}, 422, "code"},
			{"a slash", map[string]any{"code": "N/1"}, 422, "code"},
			{"a code that is taken", map[string]any{"code": "h3"}, 409, ""},
			{"sides that cross", map[string]any{"corners": bow}, 422, "corners"},
			{"on another block", map[string]any{"corners": onHome}, 422, "corners"},
			{"not on the globe", map[string]any{"corners": []orb.Point{{8, 49}, {8, 95}, {9, 49}}}, 422, "corners"},
			{"something unknown", map[string]any{"colour": "red"}, 400, ""},
		} {
			a := f.ask(http.MethodPost, "/api/blocks", without(body, c.change))
			require.Equal(t, c.status, a.status, "%s: %s", c.name, a.body)
			assert.Equal(t, c.field, a.problem(t).Field, c.name)
		}
		f.send(t, http.MethodPost, "/api/blocks", body, 201, &made)
		assert.False(t, made.Known)
		f.send(t, http.MethodPost, "/api/blocks", body, 200, &made)
		assert.True(t, made.Known, "the same block sent again is one")
		f.send(t, http.MethodPost, "/api/blocks", without(body, map[string]any{"corners": fieldAt(newAt, 60, 100)}), 409, nil)
		var b blockJSON
		f.send(t, http.MethodGet, "/api/blocks/N1", nil, 200, &b)
		assert.Equal(t, []any{"New", "Chenin", 0}, []any{b.Name, b.Variety, b.Vines})
		var g work.GroundState
		f.send(t, http.MethodGet, "/api/blocks/N1/ground", nil, 200, &g)
		require.Len(t, g.Changes, 1)
		assert.Equal(t, []any{work.GroundBlock, "Ada"}, []any{g.Changes[0].What, g.Changes[0].By})
		assert.Len(t, g.Outline[0], 5)
	})
}

func TestGround_MakeRows(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		f.send(t, http.MethodPost, "/api/blocks", map[string]any{"by": "Ada", "code": "N1", "corners": fieldAt(newAt, 50, 100)}, 201, nil)
		var m madeRowsJSON
		f.send(t, http.MethodPost, "/api/blocks/N1/rows/try", plainRows, 200, &m)
		assert.Equal(t, []any{25, 2200, 0, 0}, []any{len(m.Rows), m.Vines, m.Short, m.Missed})
		assert.InDelta(t, 2200, m.RowM, 0.01)
		assert.InDelta(t, 4400, m.PlantedM2, 0.1)
		assert.InDelta(t, 5000, m.AreaM2, 0.01)
		assert.Equal(t, 5000.0, m.VinesPerHa) // 10,000 m² ÷ (2 m × 1 m)
		require.Len(t, m.Points, 25)
		assert.Len(t, m.Points[0], 88)
		var b blockJSON
		f.send(t, http.MethodGet, "/api/blocks/N1", nil, 200, &b)
		assert.Zero(t, b.Vines, "a try keeps nothing")

		for _, c := range []struct {
			change map[string]any
			field  string
		}{
			{map[string]any{"by": nil}, "by"}, {map[string]any{"row_spacing_m": 0}, "row_spacing_m"}, {map[string]any{"vine_spacing_m": -1}, "vine_spacing_m"},
			{map[string]any{"headland_m": 60}, "headland_m"}, {map[string]any{"side_m": -1}, "side_m"}, {map[string]any{"line": []orb.Point{newAt}}, "line"},
			{map[string]any{"line": []orb.Point{newAt, newAt}}, "line"}, {map[string]any{"line": []orb.Point{newAt, {9, 40}}}, "line"},
			{map[string]any{"side": "up"}, "side"}, {map[string]any{"count": 3, "side": "N"}, "side"}, {map[string]any{"rows_from": "N"}, "rows_from"},
			{map[string]any{"vines_from": "E"}, "vines_from"}, {map[string]any{"vine_spacing_m": 0.001}, "vine_spacing_m"},
		} {
			a := f.ask(http.MethodPost, "/api/blocks/N1/rows", without(plainRows, c.change))
			require.Equal(t, 422, a.status, "%v: %s", c.change, a.body)
			assert.Equal(t, c.field, a.problem(t).Field, "%v", c.change)
		}

		f.send(t, http.MethodPost, "/api/blocks/N1/rows", plainRows, 201, &m)
		f.send(t, http.MethodPost, "/api/blocks/N1/rows", plainRows, 200, &m)
		assert.True(t, m.Known, "the same rows sent again are the same")
		f.send(t, http.MethodPost, "/api/blocks/N1/rows", without(plainRows, map[string]any{"row_spacing_m": 3}), 409, nil)
		f.send(t, http.MethodGet, "/api/blocks/N1", nil, 200, &b)
		assert.Equal(t, []any{25, 2200, 2.0, 1.0}, []any{b.Rows, b.Vines, b.RowSpacingM, b.VineSpacingM})
		west := f.found(t, "N1/1/1")
		at := frame.New(newAt).XY(west.Point)
		assert.InDelta(t, 1, at.X, 1e-3)
		assert.InDelta(t, 6.5, at.Y, 1e-3)
		assert.Equal(t, http.StatusOK, f.get("/api/blocks/N1/stand/2027").status)
		f.send(t, http.MethodPost, "/api/blocks/Q9/rows/try", plainRows, 404, nil)
	})
}

// found gives the vine that has an address now.
func (f *fixture) found(t *testing.T, address string) store.Vine {
	t.Helper()
	var got struct {
		Vines []struct {
			ID      vine.ID
			Address string
		}
	}
	f.send(t, http.MethodGet, "/api/vines?find="+address, nil, 200, &got)
	for _, v := range got.Vines {
		if v.Address == address {
			out, err := f.store.Vine(t.Context(), v.ID)
			require.NoError(t, err)
			return out
		}
	}
	require.Fail(t, "no vine has the address "+address, "%v", got)
	return store.Vine{}
}

// Rows from a line, as a snake from the east, numbered on from 40.
func TestGround_RowsFromALine(t *testing.T) {
	f := newFixture(t)
	f.send(t, http.MethodPost, "/api/blocks", map[string]any{"by": "Ada", "code": "N1", "corners": fieldAt(newAt, 50, 100)}, 201, nil)
	local := frame.New(newAt)
	var m madeRowsJSON
	f.send(t, http.MethodPost, "/api/blocks/N1/rows", without(plainRows, map[string]any{"line": []orb.Point{local.Inverse(20, 30), local.Inverse(20, 60)},
		"count": 4, "side": "E", "rows_from": "E", "vines_from": "N", "snake": true, "first": 40}), 201, &m)
	require.Len(t, m.Rows, 4)
	for i, want := range []struct {
		label string
		x, y  float64 // of vine 1
	}{{"40", 26, 93.5}, {"41", 24, 6.5}, {"42", 22, 93.5}, {"43", 20, 6.5}} {
		at := local.XY(m.Rows[i].First)
		assert.Equal(t, want.label, m.Rows[i].Label)
		assert.InDelta(t, want.x, at.X, 0.002)
		assert.InDelta(t, want.y, at.Y, 0.002)
	}
}

func TestGround_Renumber(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		f.drawn(t)
		v := f.found(t, "N1/3/10")
		b, err := f.store.Vine(t.Context(), v.ID)
		require.NoError(t, err)
		block := testBlock{Block: store.Block{ID: b.Block}}
		require.Equal(t, store.Stored, f.post(f.event(block, vine.KindMeasure, map[string]any{"quantity": "yield", "unit": "g", "value": 900}, v.ID)).Results[0].Result)
		f.send(t, http.MethodPost, "/api/orders", map[string]any{"by": "Ada", "orders": []any{map[string]any{"season": 2027, "operation": "pruning", "block": b.Block, "crew": "North",
			"rows": []any{map[string]any{"row": b.Row, "from": 10, "to": 20, "start": "near"}}}}}, 201, nil)

		order := map[string]any{"by": "Ben", "code": "N2", "rows_from": "E", "vines_from": "N", "snake": false}
		var n work.Numbers
		f.send(t, http.MethodPost, "/api/blocks/N1/numbers/try", order, 200, &n)
		assert.Equal(t, []any{true, 2200, 1}, []any{n.Changed, n.Vines, n.Orders})
		assert.Equal(t, []any{"1", "25", true}, []any{n.Rows[0].Label, n.Rows[0].Was, n.Rows[0].Turned})
		assert.Equal(t, v.ID, f.found(t, "N1/3/10").ID, "a try keeps nothing")
		for range 2 { // sent twice it is the same
			f.send(t, http.MethodPost, "/api/blocks/"+fmt.Sprint(b.Block)+"/numbers", order, 200, &n)
		}
		assert.False(t, n.Changed)

		now := f.found(t, "N2/23/79") // row 26 - 3, vine 89 - 10
		assert.Equal(t, v.ID, now.ID)
		assert.Equal(t, v.Point, now.Point)
		assert.InDelta(t, 88-v.ChainageM, now.ChainageM, 0.001)
		old, err := f.store.FindLabel(t.Context(), "N1/3/10")
		require.NoError(t, err)
		assert.Contains(t, idsOf(old), v.ID, "its old address is still found")
		var got vineJSON
		f.send(t, http.MethodGet, fmt.Sprintf("/api/vines/%d", v.ID), nil, 200, &got)
		assert.Len(t, got.Events, 1, "its record stays")
		assert.Equal(t, "N2/23/79", got.Address)
		var orders ordersJSON
		f.send(t, http.MethodGet, "/api/orders?season=2027", nil, 200, &orders)
		r := orders.Orders[0].Rows[0]
		assert.Equal(t, []any{"N2", "23", 69, 79, "far"}, []any{orders.Orders[0].Code, r.Label, r.From, r.To, r.Start}, "the same vines, from the same end")

		var g work.GroundState
		f.send(t, http.MethodGet, "/api/blocks/N2/ground", nil, 200, &g)
		require.NotEmpty(t, g.Undo)
		f.send(t, http.MethodDelete, "/api/blocks/N2/ground/"+g.Changes[1].ID+"?by=Ben", nil, 409, nil)
		f.send(t, http.MethodDelete, "/api/blocks/N2/ground/"+g.Undo+"?by=Ben", nil, 200, nil)
		back, err := f.store.Vine(t.Context(), v.ID)
		require.NoError(t, err)
		assert.InDelta(t, v.ChainageM, back.ChainageM, 1e-6)
		v.ChainageM = back.ChainageM
		assert.Equal(t, v, back)
		f.send(t, http.MethodGet, "/api/blocks/N1/ground", nil, 200, &g)
		assert.Equal(t, work.GroundUndone, g.Changes[0].What)
		f.send(t, http.MethodGet, "/api/orders?season=2027", nil, 200, &orders)
		r = orders.Orders[0].Rows[0]
		assert.Equal(t, []any{"N1", "3", 10, 20, "near"}, []any{orders.Orders[0].Code, r.Label, r.From, r.To, r.Start})

		for _, c := range []struct {
			order  map[string]any
			status int
			field  string
		}{
			{map[string]any{"by": "Ben", "code": "H3"}, 409, ""}, {map[string]any{"by": "Ben", "snake": true}, 422, "snake"},
			{map[string]any{"by": "Ben", "rows_from": "N"}, 422, "rows_from"}, {map[string]any{"by": "Ben", "vines_from": "W"}, 422, "vines_from"},
			{map[string]any{"rows_from": "E"}, 422, "by"}, {map[string]any{"by": "Ben", "code": strings.Repeat("N", 31)}, 422, "code"}, {map[string]any{"by": "Ben", "first": -1}, 422, "first"},
		} {
			a := f.ask(http.MethodPost, "/api/blocks/N1/numbers", c.order)
			require.Equal(t, c.status, a.status, "%v: %s", c.order, a.body)
			assert.Equal(t, c.field, a.problem(t).Field, "%v", c.order)
		}
	})
}

func idsOf(list []store.Vine) []vine.ID {
	out := make([]vine.ID, len(list))
	for i, v := range list {
		out[i] = v.ID
	}
	return out
}

// Rows and a block that nothing rests on go again; not once something is on record.
func TestGround_TakeBack(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		f.drawn(t)
		v := f.found(t, "N1/3/10")
		undo := func(status int) {
			t.Helper()
			var g work.GroundState
			f.send(t, http.MethodGet, fmt.Sprintf("/api/blocks/%d/ground", v.Block), nil, 200, &g)
			require.Equal(t, status == 200, g.Undo != "", g.UndoWhy)
			id := g.Undo
			if id == "" {
				id = g.Changes[0].ID
			}
			f.send(t, http.MethodDelete, fmt.Sprintf("/api/blocks/%d/ground/%s?by=Ada", v.Block, id), nil, status, nil)
		}
		note := f.event(testBlock{Block: store.Block{ID: v.Block}}, vine.KindNote, map[string]any{"text": "x"}, v.ID)
		f.send(t, http.MethodDelete, fmt.Sprintf("/api/blocks/%d/ground/none?by=Ada", v.Block), nil, 404, nil)
		undo(200)
		_, err := f.store.Vine(t.Context(), v.ID)
		require.ErrorIs(t, err, store.ErrNotFound)
		f.send(t, http.MethodPost, "/api/blocks/N1/rows", without(plainRows, map[string]any{"row_spacing_m": 2.5}), 201, nil)
		undo(200)
		undo(200)
		f.send(t, http.MethodGet, "/api/blocks/N1", nil, 404, nil)

		f.drawn(t)
		v = f.found(t, "N1/3/10")
		note["block"], note["vines"] = v.Block, []vine.ID{v.ID}
		require.Equal(t, store.Stored, f.post(note).Results[0].Result)
		undo(409)
	})
}

// The first block of an estate that has nothing yet.
func TestGround_FirstBlock(t *testing.T) {
	st := gpkgPlace(t).open(t)
	_, web := serve(t, st)
	for _, c := range []struct {
		path   string
		body   map[string]any
		status int
	}{
		{"/api/blocks/try", map[string]any{"corners": fieldAt(newAt, 50, 100)}, 200},
		{"/api/blocks", map[string]any{"by": "Ada", "code": "N1", "corners": fieldAt(newAt, 50, 100)}, 201},
		{"/api/blocks/N1/rows", plainRows, 201},
		{"/api/blocks/N1/numbers", map[string]any{"by": "Ada", "rows_from": "E"}, 200},
	} {
		a := askAt(t, web.URL, http.MethodPost, c.path, c.body)
		require.Equal(t, c.status, a.status, "%s: %s", c.path, a.body)
	}
	n, err := st.CountVines(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 2200, n)
}

// The same answers as described.
func TestGround_OpenAPI(t *testing.T) {
	f := newFixture(t)
	f.drawn(t)
	var d description
	f.get("/api/openapi.json").into(t, &d)
	for path, c := range map[string]struct {
		method, real string
		body         any
	}{
		"/api/blocks/try":                 {"post", "/api/blocks/try", map[string]any{"corners": fieldAt(homeAt, 9, 9)}},
		"/api/blocks/{block}/rows":        {"post", "/api/blocks/N1/rows", plainRows},
		"/api/blocks/{block}/rows/try":    {"post", "/api/blocks/N1/rows/try", plainRows},
		"/api/blocks/{block}/numbers/try": {"post", "/api/blocks/N1/numbers/try", map[string]any{"rows_from": "E"}},
		"/api/blocks/{block}/ground":      {"get", "/api/blocks/N1/ground", nil},
	} {
		s := d.Paths[path][c.method].Responses["200"].Content["application/json"].Schema
		var answer any
		f.send(t, strings.ToUpper(c.method), c.real, c.body, 200, &answer)
		d.fits(t, s, answer, path)
	}
}
