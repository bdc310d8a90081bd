package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/server/work"
)

// surveyText is a survey of a block's vines but some, moved by degrees east.
func surveyText(b testBlock, without map[int]bool, east float64) string {
	var out strings.Builder
	out.WriteString("name,lat,lon,fix\n")
	for i, v := range b.vines {
		if !without[i] {
			fmt.Fprintf(&out, "t%d,%.9f,%.9f,fixed\n", i, v.Point[1], v.Point[0]+east)
		}
	}
	return out.String()
}

// takesIn sends one file in the way of all imports.
func (f *fixture) takesIn(t *testing.T, order map[string]any, text string, try bool) answer {
	t.Helper()
	said, err := json.Marshal(order)
	require.NoError(t, err)
	body, kind := files(t, string(said), [2]string{"winter.csv", text})
	to := "/api/imports"
	if try {
		to += "/try"
	}
	return f.ask(http.MethodPost, to, body, "Content-Type", kind)
}

func TestImports_SurveyAndDetections(t *testing.T) {
	f, b := patchyEstate(t)
	order := func(as string, more map[string]any) map[string]any {
		out := map[string]any{"as": as, "date": "2027-01-10", "by": "Ana"}
		for k, v := range more {
			out[k] = v
		}
		return out
	}
	take := func(order map[string]any, text string, try bool) (report work.Report) {
		a := f.takesIn(t, order, text, try)
		require.Equal(t, 200, a.status, "%s", a.body)
		require.NoError(t, json.Unmarshal(a.body, &report))
		return report
	}
	without := map[int]bool{33: true, 34: true, 210: true}
	text := surveyText(b, without, 0)

	// A dry run keeps nothing; the import does, once.
	report := take(order("survey", nil), text, true)
	require.True(t, report.DryRun)
	require.Equal(t, []int{597, 597, 3}, []int{report.Points.Read, report.Points.Sure, report.Points.Without})
	var got replantsJSON
	const url = "/api/blocks/P1/replants?season=2027"
	f.send(t, http.MethodGet, url, nil, 200, &got)
	require.Empty(t, got.Evidence)
	report = take(order("survey", nil), text, false)
	require.Equal(t, 597, report.Points.Made)
	report = take(order("survey", nil), text, false)
	require.Equal(t, []int{0, 597}, []int{report.Points.Made, report.Points.Unchanged})
	take(order("detections", nil), "courson_id,score\n"+fmt.Sprint(b.vines[33].ID)+",0.9\n", false)

	// What each source said, and when, stands with each place.
	f.send(t, http.MethodGet, url, nil, 200, &got)
	require.Equal(t, 3, got.Counts["missing"], "%v", got.Counts)
	require.Len(t, got.Evidence, 2)
	assert.Equal(t, "winter", got.Evidence[0].Name)
	said := map[string]string{}
	for _, row := range got.Review {
		for _, item := range row.Items {
			if item.ID == b.vines[33].ID {
				assert.Equal(t, "2027-01-10", item.Day)
				for _, s := range item.Said {
					said[s.Source.String()] = s.Day.String() + " " + s.By + " " + s.Text
				}
			}
		}
	}
	assert.Equal(t, map[string]string{"surveyed trunks": "2027-01-10 winter no trunk, where every trunk was measured", "detections": "2027-01-10 winter score 0.90"}, said)

	// A shift is told and asked about; a dry run shows it with its numbers.
	moved := surveyText(b, without, 0.00002)
	report = take(order("survey", map[string]any{"date": "2027-01-11"}), moved, true)
	require.True(t, report.Refused)
	require.NotNil(t, report.Points.Shift)
	a := f.takesIn(t, order("survey", map[string]any{"date": "2027-01-11"}), moved, false)
	require.Equal(t, 422, a.status)
	assert.Contains(t, string(a.body), "shift take-off")

	for _, bad := range []map[string]any{order("rows", nil), order("survey", map[string]any{"date": "soon"}), order("survey", map[string]any{"shift": "perhaps"}),
		order("survey", map[string]any{"decimal": ";"}), order("survey", map[string]any{"accuracy_m": -1})} {
		assert.Equal(t, 422, f.takesIn(t, bad, text, false).status, "%v", bad)
	}
	assert.Equal(t, 422, f.takesIn(t, order("survey", nil), "lat\n1\n", false).status)

	// Steps carry what was planted; list, holes and plants are held together.
	steps := "/api/blocks/P1/replants/steps"
	two := []vine.ID{b.vines[33].ID, b.vines[34].ID}
	for _, s := range []map[string]any{{"to": "to replace"}, {"to": "ordered", "batch": "N-4", "grade": "first", "clone": "181", "rootstock": "3309C", "cultivar": "red"}, {"to": "hole dug"}} {
		s["vines"], s["day"], s["by"] = two, "2027-01-12", "Ana"
		f.send(t, http.MethodPost, steps, s, 200, nil)
	}
	f.send(t, http.MethodPost, steps, map[string]any{"to": "planted", "vines": two[:1], "day": "2027-01-13"}, 200, nil)
	f.send(t, http.MethodGet, url, nil, 200, &got)
	assert.Equal(t, []int{2, 2, 1, 1}, []int{got.Settled.Survey, got.Settled.Holes, got.Settled.Planted, got.Settled.Agreed})
	require.Len(t, got.Settled.Mismatches, 1)
	assert.Equal(t, two[1], got.Settled.Mismatches[0].ID)
	assert.Contains(t, got.Settled.Mismatches[0].Text, "open hole")
	assert.Equal(t, []string{"first", "181", "3309C"}, []string{got.Places[0].Grade, got.Places[0].Clone, got.Places[0].Rootstock})
	var v struct {
		Plantings []vine.Planting `json:"plantings"`
	}
	f.send(t, http.MethodGet, fmt.Sprintf("/api/vines/%d", two[0]), nil, 200, &v)
	last := v.Plantings[len(v.Plantings)-1]
	assert.Equal(t, vine.Planting{From: 2027, Rootstock: "3309C", Clone: "181", Batch: "N-4", Grade: "first"}, last)

	// Holes as they were counted in the block: one place was not asked for, one was
	// planted without a hole that anybody counted.
	counts := "/api/blocks/P1/replants/counts?season=2027"
	var settled settledJSON
	f.send(t, http.MethodPost, counts, map[string]any{"holes": []vine.ID{two[1], b.vines[210].ID}}, 200, &settled)
	assert.Equal(t, []int{2, 2, 1, 0}, []int{settled.Survey, settled.Holes, settled.Planted, settled.Agreed}, settled.Text)
	texts := map[vine.ID]string{}
	for _, m := range settled.Mismatches {
		texts[m.ID] = m.Text
	}
	assert.Equal(t, map[vine.ID]string{two[0]: "planted, but no hole was counted", two[1]: "hole dug, not planted: an open hole; mark or fill it",
		b.vines[210].ID: "a hole that the survey does not ask for: an open hole; mark or fill it"}, texts)
	f.send(t, http.MethodPost, counts, map[string]any{"holes": []vine.ID{b.vines[400].ID}, "planted": []vine.ID{}}, 200, &settled)
	assert.Equal(t, []int{2, 1, 0, 3}, []int{settled.Survey, settled.Holes, settled.Planted, len(settled.Mismatches)})
	assert.Equal(t, 422, f.ask(http.MethodPost, counts, map[string]any{"holes": []vine.ID{9_999_999}}).status)
}
