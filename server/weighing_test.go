package server

import (
	"encoding/csv"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

type weighingAnswer struct {
	Code          string
	Season, Again int
	Qualified     int
	Kept, Wanted  int
	CV            float64
	Passed        map[string]int
	Notes         []string
	Vines         []struct {
		ID      vine.ID
		Address string
		Row     string
		Number  int
		Lon     float64
		Lat     float64
		Range   int
		Why     string
	}
}

// Rows of ten vines leave six each where two are passed over at either end.
func TestWeighing(t *testing.T) {
	f := newFixture(t)
	var w weighingAnswer
	f.get("/api/blocks/H3/weighing?season=2027&number=6").into(t, &w)
	assert.Equal(t, "H3", w.Code)
	assert.Equal(t, testRows*(testVines-4), w.Qualified)
	assert.Equal(t, 4*testRows, w.Passed["at_ends"])
	assert.Equal(t, 0.25, w.CV, "a usual figure where nothing was measured")
	require.Len(t, w.Vines, 6)
	for _, v := range w.Vines {
		assert.True(t, v.Number > 2 && v.Number <= testVines-2, v.Address)
		assert.NotZero(t, v.Lon)
		assert.NotEmpty(t, v.Why)
	}

	// Weighed in the winter before, they are asked for again.
	event := f.event(f.home, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "values": []int{400, 500}}, w.Vines[1].ID, w.Vines[4].ID)
	event["season"] = 2026
	f.post(event)
	var again weighingAnswer
	f.get("/api/blocks/H3/weighing?season=2027&number=6&again=1&seed=9").into(t, &again)
	assert.Equal(t, 2026, again.Again)
	assert.Equal(t, 2, again.Kept)
	kept := map[string]string{}
	for _, v := range again.Vines {
		kept[v.Address] = v.Why
	}
	assert.Equal(t, "weighed in 2026", kept[w.Vines[1].Address])
	assert.Equal(t, "weighed in 2026", kept[w.Vines[4].Address])

	sheet := f.get("/api/blocks/H3/weighing.csv?season=2027&number=6")
	assert.Contains(t, sheet.header.Get("Content-Disposition"), "H3-2027-weighing.csv")
	lines, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(sheet.body), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	require.Len(t, lines, 7)
	assert.Contains(t, lines[0], "pruning_weight_g")
	assert.Equal(t, w.Vines[0].Address, lines[1][2])
}

func TestWeighing_Refused(t *testing.T) {
	f := newFixture(t)
	for path, want := range map[string]int{
		"/api/blocks/H3/weighing?season=2027&number=0":      http.StatusBadRequest,
		"/api/blocks/H3/weighing?season=2027&number=many":   http.StatusBadRequest,
		"/api/blocks/H3/weighing?season=2027&error=0":       http.StatusBadRequest,
		"/api/blocks/H3/weighing?season=2027&error=NaN":     http.StatusBadRequest,
		"/api/blocks/H3/weighing?season=2027&again=perhaps": http.StatusBadRequest,
		"/api/blocks/H3/weighing.csv?season=2027&seed=-1":   http.StatusBadRequest,
		"/api/blocks/XX/weighing?season=2027":               http.StatusNotFound,
		"/api/blocks/H3/weighing?season=1":                  http.StatusNotFound,
	} {
		assert.Equal(t, want, f.get(path).status, path)
	}
	f.post(f.event(f.home, vine.KindCondition, map[string]any{"condition": "missing"}))
	a := f.get("/api/blocks/H3/weighing?season=2027")
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, string(a.body), "40 have no living vine")
}
