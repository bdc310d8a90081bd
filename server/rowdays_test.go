package server

import (
	"encoding/csv"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// rowBy is a row's event by somebody at a time.
func rowBy(f *fixture, b testBlock, who string, at time.Time, row int, kind vine.Kind, value map[string]any, vines ...vine.ID) map[string]any {
	e := f.event(b, kind, value, vines...)
	e["by"], e["at"], e["row"] = who, at, b.rows[row].ID
	if len(vines) == 0 {
		delete(e, "vines")
	}
	return e
}

// TestProgress_Rows counts rows done and left by day, crew and block, and writes
// them as tables.
func TestProgress_Rows(t *testing.T) {
	f, b := crewsAtP1(t)
	at := testNow.AddDate(0, 0, -2).Truncate(24 * time.Hour).Add(8 * time.Hour)
	first := b.rows[2]
	half := b.vines[2*30 : 2*30+20]
	var most []vine.ID
	for _, v := range half {
		most = append(most, v.ID)
	}
	for _, a := range f.post(
		rowBy(f, b, "North: Ana", at, 0, vine.KindPruned, map[string]any{}),
		rowBy(f, b, "South: Bea", at, 1, vine.KindPruned, map[string]any{}),
		rowBy(f, b, "North: Ana", at, 2, vine.KindPruned, map[string]any{}, most...),          // most of row 3
		rowBy(f, b, "South: Bea", at.AddDate(0, 0, 1), 2, vine.KindPruned, map[string]any{}),  // and its end, a day later
		rowBy(f, b, "South: Bea", at, 3, vine.KindPruned, map[string]any{}, b.vines[3*30].ID), // a vine of row 4
		rowBy(f, b, "South: Bea", at, 4, vine.KindCondition, map[string]any{"condition": "diseased"}, b.vines[4*30+7].ID),
	).Results {
		require.Equal(t, store.Stored, a.Result, a.Reason)
	}
	row := func(k int) map[string]any { return map[string]any{"row": b.rows[k].ID} }
	f.send(t, http.MethodPost, "/api/orders", map[string]any{"by": "Ada", "orders": []any{
		map[string]any{"season": 2027, "operation": "pruning", "block": b.ID, "crew": "South", "rows": []any{row(3), row(5)}}, // for any day
		map[string]any{"season": 2027, "operation": "pruning", "block": b.ID, "crew": "North", "day": "2027-02-02", "rows": []any{row(0), row(3), row(4)}},
		map[string]any{"season": 2027, "operation": "tying", "block": b.ID, "crew": "North", "day": "2027-02-02", "rows": []any{row(6)}},
	}}, 201, nil)

	var got work.Progressed
	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &got)
	day := func(n int) string { return at.AddDate(0, 0, n).Format(time.DateOnly) }
	var here []work.RowDay
	for _, d := range got.Rows {
		if d.Code == "P1" {
			here = append(here, d)
		}
	}
	one := func(day, crew string, done, left int) work.RowDay {
		return work.RowDay{Day: day, Crew: crew, Block: b.ID, Code: "P1", Done: done, Left: left}
	}
	assert.Equal(t, []work.RowDay{one(day(0), "North", 1, 0), one(day(0), "South", 1, 0), one(day(1), "North", 1, 0),
		one("2027-02-02", "North", 0, 2), one("", "South", 0, 1), one("", "", 0, 14)}, here)

	// What is counted by day adds up to what is counted by block.
	for _, p := range got.Blocks {
		done, left := 0, 0
		for _, d := range got.Rows {
			if d.Block == p.Block {
				done, left = done+d.Done, left+d.Left
			}
		}
		assert.Equal(t, []int{p.RowsDone, p.Rows - p.RowsDone}, []int{done, left}, p.Code)
	}

	table := func(url string) [][]string {
		a := f.get(url)
		require.Equal(t, 200, a.status, "%s", a.body)
		assert.Contains(t, a.header.Get("Content-Disposition"), "attachment")
		list, err := csv.NewReader(strings.NewReader(string(a.body))).ReadAll()
		require.NoError(t, err)
		return list
	}
	rows := table("/api/progress.csv?season=2027")
	assert.Equal(t, []string{"operation", "block", "row", "vines", "vines_done", "vines_skipped", "vines_left", "done_on", "done_by", "ordered_for", "ordered_from"}, rows[0])
	lines := map[string][]string{}
	for _, l := range rows[1:] {
		if l[1] == "P1" {
			lines[l[2]] = l[3:]
		}
	}
	assert.Len(t, lines, 20)
	assert.Equal(t, []string{"30", "30", "0", "0", day(1), "North", "", ""}, lines[first.Label])
	assert.Equal(t, []string{"30", "1", "0", "29", "", "", "2027-02-02", "North"}, lines[b.rows[3].Label])
	assert.Equal(t, []string{"30", "0", "0", "30", "", "", "", ""}, lines[b.rows[9].Label])
	days := table("/api/progress.csv?season=2027&by=day")
	assert.Len(t, days, len(got.Rows)+1)
	assert.Equal(t, []string{"pruning", day(0), "North", "P1", "1", "0"}, days[1])
	assert.Equal(t, 400, f.get("/api/progress.csv?by=moon").status)
	tying := table("/api/progress.csv?season=2027&operation=tying")
	assert.Equal(t, "tying", tying[1][0])
}

// TestProgress_LostDay moves what is open of a day that was rained off, and the
// finish with it.
func TestProgress_LostDay(t *testing.T) {
	f, b := crewsAtP1(t)
	f.send(t, http.MethodDelete, "/api/crews/North", nil, 204, nil)
	today := testNow.Format(time.DateOnly) // a Wednesday
	require.Equal(t, time.Wednesday, testNow.Weekday())
	order := func(day string, row int, operation string) map[string]any {
		return map[string]any{"season": 2027, "operation": operation, "block": b.ID, "crew": "South", "day": day, "rows": []any{map[string]any{"row": b.rows[row].ID}}}
	}
	f.send(t, http.MethodPost, "/api/orders", map[string]any{"by": "Ada", "orders": []any{
		order(today, 0, "pruning"), order(today, 1, "pruning"), order(today, 0, "pulling brush"), order("2027-01-23", 2, "pruning"), order("", 3, "pruning"), order("2027-01-19", 4, "pruning")}}, 201, nil)
	require.Equal(t, store.Stored, f.post(rowBy(f, b, "South: Bea", testNow, 1, vine.KindPruned, map[string]any{})).Results[0].Result)
	var before, after work.Progressed
	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &before)
	require.NotEmpty(t, before.Forecast.Likely)
	assert.Empty(t, before.Lost)

	var said struct {
		Moved int
		Lost  []string
	}
	f.send(t, http.MethodPut, "/api/progress/lost-day", map[string]any{"season": 2027, "day": "2027-01-21", "days": 0, "by": "Ada"}, 200, &said)
	f.send(t, http.MethodPut, "/api/progress/lost-day", map[string]any{"season": 2027, "day": today, "days": 1, "later": true, "by": "Ada"}, 200, &said)
	assert.Equal(t, []string{today, "2027-01-21"}, said.Lost)
	assert.Equal(t, 3, said.Moved, "what is done stays, and what is for no day, and what was for a day before")
	var list ordersJSON
	f.send(t, http.MethodGet, "/api/orders?season=2027", nil, 200, &list)
	days := map[string][]string{}
	for _, o := range list.Orders {
		days[o.Day] = append(days[o.Day], o.Operation+" "+o.Rows[0].Label)
	}
	assert.Equal(t, map[string][]string{"": {"pruning 4"}, "2027-01-19": {"pruning 5"}, today: {"pruning 2"},
		"2027-01-22": {"pruning 1", "pulling brush 1"}, // the 21st is lost too
		"2027-01-25": {"pruning 3"},                    // a Saturday's goes on to Monday
	}, days)

	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &after)
	assert.Equal(t, []string{today, "2027-01-21"}, after.Lost)
	assert.Greater(t, after.Forecast.Early, before.Forecast.Early)
	assert.Greater(t, after.Forecast.Likely, before.Forecast.Likely)
	assert.Greater(t, after.Forecast.Late, before.Forecast.Late)
	assert.Contains(t, after.Forecast.Why, "2 days")

	// Taken back: the finish is as before; orders stay where they are.
	for _, day := range said.Lost {
		f.send(t, http.MethodPut, "/api/progress/lost-day", map[string]any{"season": 2027, "day": day, "lost": false, "by": "Ada"}, 200, &said)
	}
	assert.Empty(t, said.Lost)
	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &after)
	assert.Equal(t, before.Forecast.Likely, after.Forecast.Likely)
	for _, c := range []map[string]any{{"day": "soon"}, {"day": today, "days": 61}, {"day": today, "days": -1}} {
		c["season"] = 2027
		assert.Equal(t, 422, f.ask(http.MethodPut, "/api/progress/lost-day", c).status, "%v", c)
	}
}

// TestOrdersWeigh adds up a changed proposal to the hours that sharing gives.
func TestOrdersWeigh(t *testing.T) {
	f, b := crewsAtP1(t)
	f.post(f.event(b, vine.KindCondition, map[string]any{"condition": "diseased"}, b.vines[35].ID))
	var shared work.Shared
	f.send(t, http.MethodPost, "/api/orders/share", map[string]any{"season": 2027, "operation": "pruning", "blocks": []vine.ID{b.ID}, "crews": []string{"North", "South"}, "day": "2027-01-12", "days": 10}, 200, &shared)
	require.Zero(t, shared.Later)
	weigh := func(orders []work.Order, rule string) (got work.Weighed) {
		t.Helper()
		f.send(t, http.MethodPost, "/api/orders/weigh", map[string]any{"season": 2027, "operation": "pruning", "rule": rule, "orders": orders}, 200, &got)
		return got
	}
	same := weigh(shared.Orders, "all")
	total := 0.0
	for _, c := range shared.Crews {
		for _, g := range same.Crews {
			if g.Name == c.Name {
				assert.InDelta(t, c.Hours, g.Hours, 1e-9, c.Name)
				assert.Equal(t, c.Vines, g.Vines, c.Name)
				assert.Equal(t, c.Rows, g.Rows, "a row with a sick vine is one row")
				total += g.Hours
			}
		}
	}

	// The first row goes to the other crew: its hours go with it, exactly.
	moved := append([]work.Order{}, shared.Orders...)
	row := moved[0].Rows[0]
	moved[0].Rows = moved[0].Rows[1:]
	other := moved[0]
	other.Crew, other.Rows = map[string]string{"North": "South", "South": "North"}[moved[0].Crew], []work.OrderRow{row}
	now := weigh(append(moved, other), "all")
	hours := now.Orders[len(now.Orders)-1]
	assert.Equal(t, []work.RowWork{{Row: row.Row, Vines: hours.Vines, Hours: hours.Hours}}, hours.Rows)
	sum := 0.0
	for _, c := range now.Crews {
		was := same.Crews[0]
		if was.Name != c.Name {
			was = same.Crews[1]
		}
		sum += c.Hours
		assert.InDelta(t, hours.Hours, math.Abs(c.Hours-was.Hours), 1e-9, c.Name)
	}
	assert.InDelta(t, total, sum, 1e-9)

	// A run of a row has its part, and what is done meanwhile has none.
	part := []work.Order{{Season: 2027, Operation: "pruning", Block: b.ID, Crew: "North", Rows: []work.OrderRow{{Row: b.rows[9].ID, From: 1, To: 10}, {Row: b.rows[9].ID, From: 11, To: 30}, {Row: b.rows[9].ID}}}}
	got := weigh(part, "all").Orders[0].Rows
	assert.Equal(t, []int{10, 20, 30}, []int{got[0].Vines, got[1].Vines, got[2].Vines})
	assert.InDelta(t, got[2].Hours, got[0].Hours+got[1].Hours, 1e-9)
	f.post(f.event(b, vine.KindPruned, map[string]any{}, b.vines[9*30].ID))
	assert.Equal(t, 9, weigh(part, "all").Orders[0].Rows[0].Vines)
	assert.Zero(t, weigh(part, "young").Orders[0].Vines, "none of them is young")

	for name, c := range map[string]map[string]any{
		"no orders": {"orders": []any{}}, "a rule": {"rule": "moon", "orders": part}, "an operation": {"operation": "dancing", "orders": part},
		"a row": {"orders": []any{map[string]any{"block": b.ID, "crew": "North", "rows": []any{map[string]any{"row": 1}}}}},
	} {
		body := map[string]any{"season": 2027, "operation": "pruning"}
		for k, v := range c {
			body[k] = v
		}
		assert.Equal(t, 422, f.ask(http.MethodPost, "/api/orders/weigh", body).status, name)
	}
}
