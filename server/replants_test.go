package server

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func TestReplants(t *testing.T) {
	f, b := patchyEstate(t)
	seen := func(condition, cause string, days int, ids ...vine.ID) {
		t.Helper()
		e := f.event(b, vine.KindCondition, map[string]any{"condition": condition, "cause": cause}, ids...)
		e["at"] = testNow.AddDate(0, 0, -days)
		require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	}
	v := func(i int) vine.ID { return b.vines[i].ID }
	seen("missing", "", 9, v(10), v(11))
	seen("dead", "frost", 20, v(40))
	seen("dead", "frost", 8, v(40)) // a second look
	seen("dead", "", 9, v(70))      // one look is not enough
	seen("diseased", "leafroll", 9, v(100))
	var got replantsJSON
	url := "/api/blocks/P1/replants?season=2027"
	f.send(t, http.MethodGet, url, nil, 200, &got)
	assert.Equal(t, []int{2, 1, 1}, []int{got.Counts["missing"], got.Counts["dead standing"], got.Counts["doubtful"]}, "%v", got.Counts)
	assert.Equal(t, []int{3, 600}, []int{got.Full.Gaps, got.Full.Positions})
	actions := map[string]string{}
	for _, c := range got.Candidates {
		actions[c.Address] = c.Action
	}
	assert.Equal(t, "replace", actions["P1/1/11"])
	assert.Equal(t, "replace", actions["P1/2/11"])
	assert.Equal(t, "look", actions["P1/3/11"], "dead once only")
	assert.Equal(t, "replace", actions["P1/4/11"], "leafroll")
	assert.Equal(t, "test", actions["P1/4/12"], "its neighbour")
	require.NotNil(t, got.Comparison, got.Why)
	assert.NotEmpty(t, got.Comparison.Advice)
	assert.NotEmpty(t, got.Limits)
	assert.Contains(t, strings.Join(got.Cautions, " "), "rules")
	found := false
	for _, row := range got.Review {
		for _, item := range row.Items {
			found = found || item.Address == "P1/3/11" && len(item.Reasons) > 0
		}
	}
	assert.True(t, found, "the doubtful one is to be looked at")

	// Steps of places, none skipped; the order follows.
	steps := "/api/blocks/P1/replants/steps"
	f.send(t, http.MethodPost, steps, map[string]any{"by": "Ada", "to": "to replace", "vines": []vine.ID{v(10), v(11), v(40)}, "day": "2027-01-05"}, 200, nil)
	f.send(t, http.MethodGet, url+"&plant_on=2028-09-01", nil, 200, &got)
	require.NotNil(t, got.Order)
	require.Len(t, got.Order.Lines, 1)
	assert.Equal(t, []int{3, 4}, []int{got.Order.Lines[0].Positions, got.Order.Lines[0].Order}, "3 places at a survival of 0.83")
	assert.Equal(t, "2027-03-01", got.Order.OrderBy.String(), "18 months before")
	assert.Equal(t, 422, f.ask(http.MethodPost, steps, map[string]any{"to": "planted", "vines": []vine.ID{v(10)}, "day": "2027-01-06"}).status, "no hole is dug")
	assert.Equal(t, 422, f.ask(http.MethodPost, steps, map[string]any{"to": "ordered", "vines": []vine.ID{v(10), v(200)}, "day": "2027-01-06"}).status, "one of them is not on the way")
	for _, to := range []string{"ordered", "hole dug", "planted", "took"} {
		f.send(t, http.MethodPost, steps, map[string]any{"to": to, "vines": []vine.ID{v(10)}, "day": "2027-01-07", "batch": "N-4"}, 200, nil)
	}
	f.send(t, http.MethodGet, url, nil, 200, &got)
	stages := map[string]string{}
	for _, p := range got.Places {
		stages[p.Address] = p.Stage
	}
	assert.Equal(t, map[string]string{"P1/1/11": "took", "P1/1/12": "to replace", "P1/2/11": "to replace"}, stages)
	assert.Equal(t, 2, got.Order.Lines[0].Positions)

	// The estate, and the table.
	var all estateReplantsJSON
	f.send(t, http.MethodGet, "/api/replants?season=2027", nil, 200, &all)
	for _, r := range all.Blocks {
		if r.Code == "P1" {
			assert.Equal(t, []int{600, 3, 3}, []int{r.Positions, r.Gaps, r.OnTheWay})
			assert.NotEmpty(t, r.Advice)
		}
	}
	lines, err := csv.NewReader(strings.NewReader(string(f.get("/api/replants.csv?season=2027").body))).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"courson_id", "address"}, lines[0][:2])
	assert.Contains(t, fmt.Sprint(lines), "P1/1/11")

	// Standards bind: with a limit of its own the block is beyond it.
	f.send(t, http.MethodPut, "/api/blocks/P1/standards", map[string]any{"standards": map[string]any{"replants": map[string]any{"limits": map[string]any{"too_many": 0.001}}}}, 200, nil)
	f.send(t, http.MethodGet, "/api/replants?season=2027", nil, 200, &all)
	assert.Contains(t, all.Limits["too_many"], b.ID)
	assert.Equal(t, 422, f.ask(http.MethodPut, "/api/blocks/P1/standards", map[string]any{"standards": map[string]any{"replants": map[string]any{"limits": map[string]any{"too_many": 7}}}}).status)
	for _, bad := range []map[string]any{{"to": "ordered"}, {"to": "nowhere", "vines": []vine.ID{v(3)}}, {"to": "to replace", "vines": []vine.ID{v(3)}, "day": "soon"}, {"to": "to replace", "vines": []vine.ID{9_999_999}}} {
		assert.Equal(t, 422, f.ask(http.MethodPost, steps, bad).status, "%v", bad)
	}
}
