package server

import (
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func (f *fixture) send(t *testing.T, method, url string, body any, status int, into any) {
	t.Helper()
	a := f.ask(method, url, body)
	require.Equal(t, status, a.status, "%s %s: %s", method, url, a.body)
	if into != nil {
		require.NoError(t, json.Unmarshal(a.body, into))
	}
}

// planned makes a plan of the patchy block.
func planned(t *testing.T) (*fixture, testBlock, pruningJSON) {
	f, b := patchyEstate(t)
	f.ready("P1")
	var made pruningJSON
	f.send(t, http.MethodPost, "/api/blocks/P1/pruning", map[string]any{"season": 2027, "by": "Ada"}, http.StatusCreated, &made)
	return f, b, made
}

func TestPruning_Plan(t *testing.T) {
	f, b, made := planned(t)
	require.NotNil(t, made.Plan)
	assert.Equal(t, "Ada", made.Plan.By)
	assert.True(t, made.Fresh)
	assert.Equal(t, 600, made.Sum.Living)
	assert.Len(t, made.Versions, 1)
	total := 0
	for k, n := range made.Sum.Nodes {
		total += k * n
	}
	assert.Equal(t, made.Sum.NodesInAll, total)

	// Preview: harder limits give fewer nodes, and nothing is kept.
	var preview previewJSON
	tight := map[string]any{"pruning": map[string]any{"limits": map[string]any{"cap_per_vine": 8}}}
	f.send(t, http.MethodPost, "/api/blocks/P1/pruning/preview", map[string]any{"season": 2027, "standards": tight}, 200, &preview)
	assert.Less(t, preview.Sum.NodesInAll, made.Sum.NodesInAll)
	assert.LessOrEqual(t, len(preview.Sum.Nodes), 9)
	var again pruningJSON
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning?season=2027", nil, 200, &again)
	assert.Len(t, again.Versions, 1)
	assert.True(t, again.Fresh)

	// The plan is on the stand, and so on every map.
	v, err := f.server.stands.Stand(t.Context(), b.ID, 2027)
	require.NoError(t, err)
	sum := 0
	for i := range v.Stand.Nodes {
		sum += int(v.Stand.Nodes[i])
		assert.NotZero(t, v.Stand.LoadOf(i))
	}
	assert.Equal(t, made.Sum.NodesInAll, sum)

	// A second version with other standards: compared vine by vine, standards kept.
	f.send(t, http.MethodPost, "/api/blocks/P1/pruning", map[string]any{"season": 2027, "by": "Bo", "standards": tight}, 201, &again)
	require.Len(t, again.Versions, 2)
	assert.Equal(t, 8.0, again.Sum.CapPerVine)
	assert.True(t, again.Sum.WithinCaps)
	var c compareJSON
	f.send(t, http.MethodGet, fmt.Sprintf("/api/blocks/P1/pruning/compare?season=2027&with=%d", made.Plan.ID), nil, 200, &c)
	assert.Equal(t, []int{600, made.Sum.NodesInAll, again.Sum.NodesInAll}, []int{c.Vines, c.NodesWith, c.NodesNow})
	assert.Zero(t, c.More)
	assert.Positive(t, c.Fewer)
	assert.NotEmpty(t, c.List)

	// A weight that comes in later makes the plan stale, not other.
	f.post(f.event(b, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "values": []float64{5}}, b.vines[7].ID))
	require.Eventually(t, func() bool {
		f.send(t, http.MethodGet, "/api/blocks/P1/pruning?season=2027", nil, 200, &again)
		return !again.Fresh
	}, 20*time.Second, 20*time.Millisecond, "the weight is heard of")
	assert.Len(t, again.Versions, 2)
}

func TestPruning_Refuses(t *testing.T) {
	f, _, made := planned(t)
	for _, c := range []struct {
		method, url string
		body        any
		status      int
		want        string
	}{
		{http.MethodPost, "/api/blocks/P1/pruning/preview", map[string]any{"season": 2027, "standards": map[string]any{"pruning": map[string]any{"load_rule": map[string]any{"kind": "by moon"}}}}, 422, "kind"},
		{http.MethodPost, "/api/blocks/P1/pruning/preview", map[string]any{"season": 2027, "options": map[string]any{"untreated_every": 1}}, 422, "untreated_every"},
		{http.MethodPost, "/api/blocks/P1/pruning/preview", map[string]any{"season": 2027, "standards": map[string]any{"pruning": map[string]any{"limits": map[string]any{"cap_per_ha": 10}}}}, 422, "cap_per_ha"},
		{http.MethodPost, "/api/blocks/P1/pruning", map[string]any{"season": 1200}, 404, "season"},
		{http.MethodPost, "/api/blocks/ZZ/pruning", map[string]any{"season": 2027}, 404, "ZZ"},
		{http.MethodPost, "/api/blocks/P1/pruning", map[string]any{"season": 2027, "colour": 1}, 400, "colour"},
		{http.MethodGet, fmt.Sprintf("/api/blocks/H3/pruning/compare?season=2027&with=%d", made.Plan.ID), nil, 404, "not a pruning plan of block H3"},
		{http.MethodGet, "/api/blocks/P1/pruning/compare?season=2027&with=x", nil, 400, "version"},
		{http.MethodGet, "/api/blocks/P1/pruning/runs?season=2027&goal=luck", nil, 400, "balance"},
		{http.MethodGet, "/api/blocks/P1/pruning/runs?season=2027&change=-1", nil, 400, "change"},
		{http.MethodGet, "/api/blocks/H3/pruning/runs?season=2027", nil, 404, "no pruning plan"},
		{http.MethodGet, "/api/blocks/P1/pruning/practice?season=2027&number=0", nil, 400, "number"},
		{http.MethodGet, "/api/vines/999999/pruning?season=2027", nil, 404, "999999"},
		{http.MethodPost, "/api/pruning/renewal", map[string]any{"arms": []any{map[string]any{"name": "left", "shoots": []any{map[string]any{"on": "the moon"}}}}}, 422, "moon"},
		{http.MethodPost, "/api/pruning/renewal", map[string]any{"arms": []any{}}, 422, "wanted 1 to 12"},
		{http.MethodPost, "/api/pruning/renewal", map[string]any{"vine": 999999, "season": 2027, "arms": []any{map[string]any{"name": "left"}}}, 404, "999999"},
	} {
		a := f.ask(c.method, c.url, c.body)
		assert.Equal(t, c.status, a.status, "%s: %s", c.url, a.body)
		assert.Contains(t, string(a.body), c.want, c.url)
	}
}

func TestPruning_OneVine(t *testing.T) {
	f, b, _ := planned(t)
	id := b.vines[3*30+5].ID
	below, above := map[string]any{"nodes": 2, "first_bud_faces": "below"}, map[string]any{"nodes": 3, "first_bud_faces": "above"}
	for season, spur := range map[int]map[string]any{2025: below, 2026: above} {
		e := f.event(b, vine.KindPruned, map[string]any{"arms": []any{
			map[string]any{"name": "left", "canes": []any{map[string]any{"nodes": 8, "length_mm": 700}}, "spurs": []any{spur},
				"large_cuts": []any{map[string]any{"face": "upper", "diameter_mm": 24}}, "climb_mm": 18},
		}}, id)
		e["season"] = season
		require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	}
	var v vinePruningJSON
	url := fmt.Sprintf("/api/vines/%d/pruning?season=2027", id)
	f.send(t, http.MethodGet, url, nil, 200, &v)
	assert.Equal(t, "P1/4/6", v.Address)
	assert.Regexp(t, `^\d canes? of \d+|^\d spurs of`, v.Line)
	assert.Equal(t, "result", v.Steps[len(v.Steps)-1].Key)
	require.Len(t, v.Arms, 1)
	assert.Equal(t, 36.0, v.Arms[0].ClimbMM)
	assert.Equal(t, "unbroken", string(v.Arms[0].Path))
	assert.Len(t, v.Arms[0].Cuts, 2)
	assert.Contains(t, v.Arms[0].Expect[0], "second node", "what was left inverted last winter")
	assert.NotEmpty(t, v.Rule)
	assert.Contains(t, strings.Join(v.Cautions, " "), "work-safety")
	d := xml.NewDecoder(strings.NewReader(v.Drawing))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err, "the drawing is XML")
	}
	require.NotNil(t, v.Planned)

	// The last winter's load is known now: 11 nodes; the plan may rise to 14 at most.
	assert.LessOrEqual(t, v.Nodes, 14)

	// An override goes before that, and says who and why.
	f.send(t, http.MethodPut, "/api/blocks/P1/pruning/overrides", map[string]any{"season": 2027, "vines": []vine.ID{id}, "nodes": 6}, 422, nil)
	var list []map[string]any
	f.send(t, http.MethodPut, "/api/blocks/P1/pruning/overrides", map[string]any{"season": 2027, "by": "Ada", "reason": "split trunk", "vines": []vine.ID{id}, "nodes": 6}, 200, &list)
	require.Len(t, list, 1)
	assert.EqualValues(t, id, list[0]["vine"])
	f.send(t, http.MethodGet, url, nil, 200, &v)
	assert.Equal(t, 6, v.Nodes)
	require.NotNil(t, v.Override)
	assert.Equal(t, []any{"split trunk", "Ada"}, []any{v.Override.Reason, v.Override.By})
	f.send(t, http.MethodPut, "/api/blocks/P1/pruning/overrides", map[string]any{"season": 2027, "vines": []vine.ID{id}, "clear": true}, 200, &list)
	assert.Empty(t, list)
	f.send(t, http.MethodGet, url, nil, 200, &v)
	assert.Nil(t, v.Override)

	// A renewal over several winters falls due step by step.
	renewals := fmt.Sprintf("/api/vines/%d/renewals", id)
	f.send(t, http.MethodPut, renewals, map[string]any{"by": "Ada", "plans": []any{map[string]any{"arm": "left", "left": 2027, "use": 2027}}}, 422, nil)
	f.send(t, http.MethodPut, renewals, map[string]any{"by": "Ada", "plans": []any{map[string]any{"arm": "left", "left": 2026, "use": 2027, "remove": 2028, "done": "left"}}}, 200, nil)
	f.send(t, http.MethodGet, url, nil, 200, &v)
	require.Len(t, v.Renewals, 1)
	assert.Equal(t, []string{"left", "use it"}, []string{v.Renewals[0].Arm, v.Renewals[0].Step})
	var due struct{ Vines []renewalDueJSON }
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/renewals?season=2027", nil, 200, &due)
	require.Len(t, due.Vines, 1)
	assert.Equal(t, "P1/4/6", due.Vines[0].Address)
	f.send(t, http.MethodPut, renewals, map[string]any{"plans": []any{}}, 200, nil)
	f.send(t, http.MethodGet, url, nil, 200, &v)
	assert.Empty(t, v.Renewals)
}

func TestPruning_InTheRows(t *testing.T) {
	f, b, _ := planned(t)
	var cut runsJSON
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/runs?season=2027", nil, 200, &cut)
	require.Len(t, cut.Rows, 20)
	assert.LessOrEqual(t, len(cut.Marks), 6)
	meaning, vines := map[string]string{}, 0
	for _, m := range cut.Marks {
		meaning[m.Word] = m.Text
	}
	for _, row := range cut.Rows {
		next := 1
		for _, p := range row.Pieces {
			assert.Equal(t, meaning[p.Mark], p.Text, "one mark, one meaning")
			assert.Equal(t, next, p.From)
			next, vines = p.To+1, vines+p.Vines
		}
		assert.Equal(t, 31, next)
	}
	assert.Equal(t, 600, vines)
	var fine runsJSON
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/runs?season=2027&goal=greatest&limit=0&words=0", nil, 200, &fine)
	assert.Greater(t, fine.Runs, cut.Runs)
	assert.Zero(t, fine.Misfit)
	table, err := csv.NewReader(strings.NewReader(string(f.get("/api/blocks/P1/pruning/runs.csv?season=2027").body))).ReadAll()
	require.NoError(t, err)
	assert.Len(t, table, cut.Runs+1)

	var morning practiceJSON
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/practice?season=2027&seed=4", nil, 200, &morning)
	require.Len(t, morning.Vines, 20)
	rows := map[string]bool{}
	for _, v := range morning.Vines {
		rows[strings.Split(v.Address, "/")[1]] = true
	}
	assert.Greater(t, len(rows), 8, "spread over the rows")
	same := f.get("/api/blocks/P1/pruning/practice?season=2027&seed=4").body
	assert.Equal(t, f.get("/api/blocks/P1/pruning/practice?season=2027&seed=4").body, same)

	// What was left: one pruner leaves two too many on a row, another as instructed.
	v, err := f.server.stands.Stand(t.Context(), b.ID, 2027)
	require.NoError(t, err)
	var batch []map[string]any
	for k := range 30 {
		i := 2*30 + k
		e := f.event(b, vine.KindPruned, map[string]any{"nodes": int(v.Stand.Nodes[i]) + 2, "reason": "strong"}, b.vines[i].ID)
		e["by"] = "North"
		batch = append(batch, e)
	}
	row := f.event(b, vine.KindPruned, map[string]any{})
	row["row"], row["by"] = b.rows[3].ID, "South"
	delete(row, "vines")
	batch = append(batch, row, f.event(b, vine.KindMeasure, map[string]any{"quantity": "shoot_count", "unit": "shoots", "values": []float64{float64(v.Stand.Nodes[60]) + 1}}, b.vines[60].ID),
		f.event(b, vine.KindPruned, map[string]any{"arms": []any{map[string]any{"name": "right", "spurs": []any{map[string]any{"nodes": 3, "first_bud_faces": "above"}}}}}, b.vines[200].ID))
	for _, a := range f.post(batch...).Results {
		require.Equal(t, store.Stored, a.Result, a.Reason)
	}
	var left leftJSON
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/left?season=2027", nil, 200, &left)
	assert.Equal(t, 61, left.All.Vines)
	for _, d := range left.Pruners {
		switch d.Key {
		case "North":
			assert.InDelta(t, 2, d.Mean, 1e-9)
			assert.Equal(t, "too many", string(d.Leaning))
		case "South":
			assert.Zero(t, d.Mean)
			assert.Equal(t, "even", string(d.Leaning))
		}
	}
	assert.Equal(t, "3", left.Rows[0].Key)
	require.NotNil(t, left.Budburst)
	assert.Equal(t, 1, left.Budburst.Vines)

	// The inverted spur is on the list for spring, and on the map.
	var due followJSON
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/follow-ups?season=2027", nil, 200, &due)
	require.Equal(t, 1, due.Count)
	assert.Equal(t, []any{b.vines[200].ID, "rub_off"}, []any{due.Vines[0].ID, due.Vines[0].Job})
	v, err = f.server.stands.Stand(t.Context(), b.ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, vine.FollowRubOff, v.Stand.FollowOf(200))
	f.post(f.event(b, vine.KindWork, map[string]any{"operation": vine.ShootThinning, "progress": "done"}, b.vines[200].ID))
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/follow-ups?season=2027", nil, 200, &due)
	assert.Zero(t, due.Count)
	assert.Contains(t, string(f.get("/api/blocks/P1/pruning/follow-ups.csv?season=2027").body), "P1/7/21")
}

// TestPruning_Drought: every fourth row is left untreated and the year after
// compares both.
func TestPruning_Drought(t *testing.T) {
	f, b := patchyEstate(t)
	f.ready("P1")
	var made pruningJSON
	f.send(t, http.MethodPost, "/api/blocks/P1/pruning", map[string]any{"season": 2027, "options": map[string]any{"drought": true, "untreated_every": 4},
		"standards": map[string]any{"pruning": map[string]any{"drought": map[string]any{"wish": "ease"}}}}, 201, &made)
	assert.True(t, made.Fresh)
	assert.Contains(t, strings.Join(made.Notes, " "), "Every 4. row")
	var left leftJSON
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/left?season=2027", nil, 200, &left)
	assert.Nil(t, left.Treated)
	assert.NotEmpty(t, left.Why)
	var batch []map[string]any
	for r, row := range b.rows[:12] {
		var ids []vine.ID
		var grams []float64
		for k := range 10 {
			ids = append(ids, b.vines[r*30+k].ID)
			grams = append(grams, 300+float64(k)+200*float64((r+1)%4/3))
		}
		e := f.event(b, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "values": grams}, ids...)
		e["season"] = 2028
		batch = append(batch, e)
		_ = row
	}
	for _, a := range f.post(batch...).Results {
		require.Equal(t, store.Stored, a.Result, a.Reason)
	}
	f.send(t, http.MethodGet, "/api/blocks/P1/pruning/left?season=2027", nil, 200, &left)
	require.NotNil(t, left.Treated, left.Why)
	assert.Equal(t, []int{90, 30}, []int{left.Treated.Treated, left.Treated.Untreated})
	assert.True(t, left.Treated.Told)
}
