package server

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// crewsAtP1 is the patchy block with a plan and two crews.
func crewsAtP1(t *testing.T) (*fixture, testBlock) {
	f, b, _ := planned(t)
	f.send(t, http.MethodPut, "/api/crews/North", map[string]any{"people": 4, "hours_per_day": 7, "skilled": true}, 200, nil)
	f.send(t, http.MethodPut, "/api/crews/South", map[string]any{"people": 2, "hours_per_day": 7, "skilled": true}, 200, nil)
	return f, b
}

func TestShare(t *testing.T) {
	f, b := crewsAtP1(t)
	f.post(f.event(b, vine.KindCondition, map[string]any{"condition": "diseased"}, b.vines[35].ID))
	row := f.event(b, vine.KindPruned, map[string]any{})
	row["row"] = b.rows[0].ID
	delete(row, "vines")
	f.post(row)
	ask := func(change map[string]any) (got work.Shared) {
		t.Helper()
		body := map[string]any{"season": 2027, "operation": "pruning", "blocks": []vine.ID{b.ID}, "crews": []string{"North", "South"}, "day": "2027-01-12", "days": 10}
		for k, v := range change {
			body[k] = v
		}
		f.send(t, http.MethodPost, "/api/orders/share", body, 200, &got)
		return got
	}
	got := ask(nil)
	rows, vines := map[vine.ID]int{}, 0
	for _, o := range got.Orders {
		for _, r := range o.Rows {
			if !o.Sick {
				rows[r.Row]++
			}
		}
	}
	assert.Len(t, rows, 19, "the row that is done is left out")
	for id, n := range rows {
		assert.Equal(t, 1, n, "row %d once", id)
	}
	for _, c := range got.Crews {
		vines += c.Vines
	}
	assert.Equal(t, 570, vines)
	assert.Equal(t, 30, got.LeftOut)
	// North has twice the people: about twice the work, both in days as even as rows allow.
	assert.InDelta(t, 2, got.Crews[0].Hours/got.Crews[1].Hours, 0.35)
	sick := got.Orders[len(got.Orders)-1]
	for _, o := range got.Orders {
		if o.Sick {
			sick = o
		}
	}
	require.True(t, sick.Sick)
	assert.Equal(t, []int{6, 6}, []int{sick.Rows[0].From, sick.Rows[0].To}, "the sick vine alone")
	// Up one row and down the next.
	long := got.Orders[0]
	for k := 1; k < len(long.Rows); k++ {
		assert.NotEqual(t, long.Rows[k-1].Start, long.Rows[k].Start)
	}
	assert.Equal(t, "far", ask(map[string]any{"corner": "far"}).Orders[0].Rows[0].Start)

	// A day off moves everything on; one day is too short for all.
	for _, o := range ask(map[string]any{"off": []string{"2027-01-12"}}).Orders {
		assert.Greater(t, o.Day, "2027-01-12")
	}
	f.send(t, http.MethodPut, "/api/crews/One", map[string]any{"people": 1, "hours_per_day": 6, "skilled": true}, 200, nil)
	short := ask(map[string]any{"days": 1, "crews": []string{"One"}})
	assert.Positive(t, short.Later)
	assert.InDelta(t, 6, short.Crews[0].Hours, 2)

	// By rule: only rows that hold a weak patch.
	f.ready("P1")
	weak := ask(map[string]any{"rule": "weak"})
	n := 0
	for _, o := range weak.Orders {
		n += len(o.Rows)
	}
	assert.Greater(t, n, 3)
	assert.Less(t, n, 19)
	assert.Empty(t, ask(map[string]any{"rule": "young"}).Orders)

	// What is proposed can be kept as it is.
	var made ordersJSON
	f.send(t, http.MethodPost, "/api/orders", map[string]any{"by": "Ada", "orders": got.Orders}, 201, &made)
	assert.Len(t, made.Orders, len(got.Orders))

	for _, c := range []map[string]any{
		{"rule": "moon"}, {"crews": []string{"Nobody"}}, {"crews": []string{}}, {"day": "soon"}, {"days": 99}, {"off": []string{"x"}}, {"operation": "dancing"},
	} {
		body := map[string]any{"season": 2027, "operation": "pruning", "blocks": []vine.ID{b.ID}, "crews": []string{"North"}, "day": "2027-01-12"}
		for k, v := range c {
			body[k] = v
		}
		assert.Equal(t, 422, f.ask(http.MethodPost, "/api/orders/share", body).status, "%v", c)
	}
}

func TestProgress(t *testing.T) {
	f, b := crewsAtP1(t)
	var got work.Progressed
	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &got)
	require.NotNil(t, got.Forecast)
	left := got.Forecast.LeftHours
	assert.Positive(t, left)

	// Two days of two crews, one vine a minute and a half.
	at := testNow.AddDate(0, 0, -2).Truncate(24 * time.Hour).Add(8 * time.Hour)
	var batch []map[string]any
	for k := range 160 {
		e := f.event(b, vine.KindPruned, map[string]any{}, b.vines[k].ID)
		e["by"] = []string{"North: Ana", "North: Ana", "South: Bea", "North: Ana"}[k/40]
		day := at.AddDate(0, 0, k/80)
		e["at"] = day.Add(time.Duration(k%40) * 90 * time.Second)
		batch = append(batch, e)
	}
	for _, a := range f.post(batch...).Results {
		require.Equal(t, store.Stored, a.Result, a.Reason)
	}
	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &got)
	for _, p := range got.Blocks {
		if p.Code == "P1" {
			assert.Equal(t, work.BlockProgress{Block: b.ID, Code: "P1", Vines: 600, Done: 160, Rows: 20, RowsDone: 5}, p)
		}
	}
	require.Len(t, got.Days, 2)
	assert.Equal(t, []int{80, 160}, []int{got.Days[0].Total, got.Days[1].Total})
	crews := map[string]int{}
	for _, c := range got.Crews {
		crews[c.Crew] += c.Done
	}
	assert.Equal(t, map[string]int{"North": 120, "South": 40}, crews)
	require.NotEmpty(t, got.Rates)
	assert.Equal(t, 3, got.Rates[0].Spells, "two days of Ana, one of Bea")
	assert.Greater(t, got.Rates[0].Vines, got.Rates[0].Spells)
	assert.InDelta(t, 40, got.Rates[0].PerHour, 15, "a vine in a minute and a half, drawn to the planning figure")
	assert.Less(t, got.Forecast.LeftHours, left)
	assert.NotEmpty(t, got.Forecast.Likely)
	assert.LessOrEqual(t, got.Forecast.Early, got.Forecast.Likely)

	for day, want := range map[string]any{"2029-01-01": true, "2020-01-01": false} {
		f.send(t, http.MethodPut, "/api/progress/deadline", map[string]any{"season": 2027, "day": day}, 200, nil)
		f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &got)
		require.NotNil(t, got.Forecast.Within, day)
		assert.Equal(t, want, *got.Forecast.Within)
	}
	f.send(t, http.MethodPut, "/api/progress/deadline", map[string]any{"season": 2027, "day": ""}, 200, nil)
	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &got)
	assert.Empty(t, got.Forecast.Deadline)
	assert.Equal(t, 422, f.ask(http.MethodPut, "/api/progress/deadline", map[string]any{"season": 2027, "day": "spring"}).status)

	// Another operation knows nothing of pruning, and waits for it where it must.
	f.send(t, http.MethodGet, "/api/progress?season=2027&operation=checking", nil, 200, &got)
	assert.Empty(t, got.Days)
	assert.Equal(t, 422, f.ask(http.MethodGet, "/api/progress?season=2027&operation=dancing", nil).status)

	// Vines of the second day to look at again, the same for the same seed.
	var checks struct{ Vines []work.CheckVine }
	url := fmt.Sprintf("/api/checks?season=2027&day=%s&number=4&seed=3", at.AddDate(0, 0, 1).Format(time.DateOnly))
	f.send(t, http.MethodGet, url, nil, 200, &checks)
	people := map[string]int{}
	for _, c := range checks.Vines {
		people[c.By]++
		assert.NotEmpty(t, c.Planned)
		assert.Equal(t, "as instructed", c.Left)
	}
	assert.Equal(t, map[string]int{"North: Ana": 4, "South: Bea": 4}, people)
	assert.Equal(t, f.get(url).body, f.get(url).body)
}

// TestProgress_TwoInOneRow puts two people who prune one row at the same time
// before the leader; both records stay.
func TestProgress_TwoInOneRow(t *testing.T) {
	f, b := crewsAtP1(t)
	at := testNow.Add(-3 * time.Hour)
	for k := range 12 {
		for _, who := range []string{"North: Ana", "South: Bea"} {
			e := f.event(b, vine.KindPruned, map[string]any{}, b.vines[k].ID)
			e["by"], e["device"], e["seq"] = who, "phone of "+who, k+1
			e["at"] = at.Add(time.Duration(k) * time.Minute)
			require.Equal(t, store.Stored, f.post(e).Results[0].Result)
		}
	}
	var got work.Progressed
	f.send(t, http.MethodGet, "/api/progress?season=2027", nil, 200, &got)
	require.Len(t, got.Clashes, 1)
	assert.Equal(t, []string{"P1", "1"}, []string{got.Clashes[0].Code, got.Clashes[0].Label})
	assert.Len(t, got.Clashes[0].Vines, 12)
}
