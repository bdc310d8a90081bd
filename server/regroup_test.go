package server

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// acrossN1 is a line from west to east across the drawn block, 50.2 m north of its
// southern edge: between the 44th and the 45th vine of every row.
func acrossN1() []orb.Point {
	f := frame.New(newAt)
	return []orb.Point{f.Inverse(10, 50.2), f.Inverse(40, 50.2)}
}

// noteBy is what a phone sends of a vine.
func noteBy(seq uint64, t vine.Target, text string) vine.Event {
	now := time.Date(2027, 1, 12, 10, 0, int(seq), 0, time.UTC)
	return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: seq, At: now, By: "Eva", Season: 2027, Target: t, Kind: vine.KindNote, Body: vine.Note{Text: text}}
}

func TestGround_SplitAndJoin(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		f.drawn(t)
		far, near := f.found(t, "N1/3/60"), f.found(t, "N1/3/20")
		asPhoneKnowsIt := vine.Target{Block: far.Block, Row: far.Row, Vines: []vine.ID{far.ID}}
		var ans batchAnswer
		f.send(t, http.MethodPost, "/api/events", map[string]any{"events": []any{noteBy(1, asPhoneKnowsIt, "before")}}, 200, &ans)
		require.Equal(t, store.Stored, ans.Results[0].Result)

		order := map[string]any{"by": "Ada", "line": acrossN1(), "side": "N", "code": "N2", "name": "Above the road"}
		var try, made work.Regrouped
		f.send(t, http.MethodPost, "/api/blocks/N1/split/try", order, 200, &try)
		assert.Equal(t, 25*44, try.Vines)
		require.Len(t, try.Parts, 2)
		assert.InDelta(t, 50*49.8, try.Parts[1].AreaM2, 0.5)
		f.send(t, http.MethodGet, "/api/blocks/N2", nil, 404, nil)
		f.send(t, http.MethodPost, "/api/blocks/N1/split", order, 201, &made)
		f.send(t, http.MethodPost, "/api/blocks/N1/split", order, 409, nil)
		var b blockJSON
		f.send(t, http.MethodGet, "/api/blocks/N2", nil, 200, &b)
		assert.Equal(t, []any{25, 25 * 44, "Above the road"}, []any{b.Rows, b.Vines, b.Name})
		assert.Equal(t, http.StatusOK, f.get("/api/blocks/N2/stand/2027").status)
		f.send(t, http.MethodGet, "/api/blocks/N1", nil, 200, &b)
		assert.Equal(t, 25*44, b.Vines)

		// The vine is found by either address; a phone that has not heard is understood.
		assert.Equal(t, far.ID, f.found(t, "N2/3/60").ID)
		var byOld struct {
			Vines []struct{ ID vine.ID }
		}
		f.send(t, http.MethodGet, "/api/vines?find=N1/3/60", nil, 200, &byOld)
		require.Len(t, byOld.Vines, 1)
		assert.Equal(t, far.ID, byOld.Vines[0].ID)
		f.send(t, http.MethodPost, "/api/events", map[string]any{"events": []any{noteBy(2, asPhoneKnowsIt, "after")}}, 200, &ans)
		require.Equal(t, store.Stored, ans.Results[0].Result, ans.Results[0].Reason)
		history := string(f.get(fmt.Sprintf("/api/vines/%d", far.ID)).body)
		assert.Contains(t, history, "before")
		assert.Contains(t, history, "after")

		var state work.GroundState
		f.send(t, http.MethodGet, "/api/blocks/N1/ground", nil, 200, &state)
		assert.Equal(t, work.GroundSplit, state.Changes[0].What)
		assert.Equal(t, "N2", state.Changes[0].OtherCode)
		f.send(t, http.MethodDelete, fmt.Sprintf("/api/blocks/N1/ground/%s?by=Ada", state.Undo), nil, 200, nil)
		f.send(t, http.MethodGet, "/api/blocks/N2", nil, 404, nil)
		assert.Equal(t, far.ID, f.found(t, "N1/3/60").ID)
		assert.Equal(t, near.Row, f.found(t, "N1/3/60").Row)

		// Split again and joined with labels counted on.
		f.send(t, http.MethodPost, "/api/blocks/N1/split", order, 201, &made)
		with := map[string]any{"by": "Ada", "with": made.Parts[1].Block}
		assert.Equal(t, "labels", f.ask(http.MethodPost, "/api/blocks/N1/join", with).problem(t).Field)
		with["labels"] = "on"
		f.send(t, http.MethodPost, "/api/blocks/N1/join/try", with, 200, &try)
		f.send(t, http.MethodPost, "/api/blocks/N1/join", with, 200, &made)
		assert.Equal(t, try.Parts, made.Parts)
		assert.Equal(t, far.ID, f.found(t, "N1/28/60").ID)
		f.send(t, http.MethodGet, "/api/blocks/N2", nil, 404, nil)
		assert.Contains(t, string(f.get(fmt.Sprintf("/api/vines/%d", far.ID)).body), "before")
		f.send(t, http.MethodGet, "/api/blocks/N1/ground", nil, 200, &state)
		f.send(t, http.MethodDelete, fmt.Sprintf("/api/blocks/N1/ground/%s?by=Ada", state.Undo), nil, 200, nil)
		assert.Equal(t, far.ID, f.found(t, "N2/3/60").ID)
	})
}

func TestGround_SplitRefused(t *testing.T) {
	f := newFixture(t)
	f.drawn(t)
	order := map[string]any{"by": "Ada", "line": acrossN1(), "side": "N", "code": "N2"}
	for _, c := range []struct {
		change map[string]any
		field  string
	}{
		{map[string]any{"by": nil}, "by"}, {map[string]any{"line": nil}, "line"}, {map[string]any{"line": []orb.Point{newAt, newAt}}, "line"},
		{map[string]any{"line": []orb.Point{newAt, {500, 40}}}, "line"}, {map[string]any{"side": "E"}, "side"}, {map[string]any{"side": "up"}, "side"},
		{map[string]any{"code": ""}, "code"}, {map[string]any{"code": "a/b"}, "code"},
	} {
		a := f.ask(http.MethodPost, "/api/blocks/N1/split", without(order, c.change))
		require.Equal(t, 422, a.status, "%v: %s", c.change, a.body)
		assert.Equal(t, c.field, a.problem(t).Field, "%v: %s", c.change, a.body)
	}
	f.send(t, http.MethodPost, "/api/blocks/Q9/split", order, 404, nil)
	f.send(t, http.MethodPost, "/api/blocks/N1/join", map[string]any{"by": "Ada", "with": 1 << 40}, 404, nil)
	a := f.ask(http.MethodPost, "/api/blocks/N1/join", map[string]any{"by": "Ada", "with": f.found(t, "N1/1/1").Block})
	assert.Equal(t, "with", a.problem(t).Field)
}

// A crew goes on with its order when the block was split: on rows as its phones know
// them, and as they are now.
func TestCrew_AfterASplit(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	device, _ := g.join("North")
	row := g.far.vines[0].Row
	g.order("1", "North", "open", g.far, 0)
	var made vine.ID
	require.NoError(t, g.store.Update(t.Context(), func(tx store.Tx) error {
		b := []store.Block{{Code: "Z9"}}
		if err := tx.SaveBlocks(b); err != nil {
			return err
		}
		made = b[0].ID
		return tx.MoveRows([]vine.ID{row}, made, time.Now())
	}))
	var ans batchAnswer
	g.ask(http.MethodPost, "/api/events", map[string]any{"events": []any{g.done(g.far, g.far.vines[0].ID)}}, device...).into(t, &ans)
	assert.Equal(t, store.Stored, ans.Results[0].Result, ans.Results[0].Reason)
	v, err := g.store.Vine(t.Context(), g.far.vines[0].ID)
	require.NoError(t, err)
	assert.Equal(t, made, v.Block)
}
