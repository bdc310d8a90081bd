package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestStandards(t *testing.T) {
	f, _ := patchyEstate(t)
	f.ready("P1")
	var got standardsJSON
	f.get("/api/blocks/P1/standards").into(t, &got)
	assert.Nil(t, got.Made)
	assert.False(t, got.Own)
	assert.Equal(t, 0.05, got.Standards.Patches.Rate)
	assert.NotEmpty(t, got.Systems)

	// The classes follow the block's own limits, on the map and in the findings.
	before := f.ready("P1")
	set := func(url, value string, status int) answer {
		t.Helper()
		a := f.ask(http.MethodPut, url, map[string]any{"by": "Ada", "standards": json.RawMessage(value)})
		require.Equal(t, status, a.status, string(a.body))
		return a
	}
	set("/api/blocks/P1/standards", `{"vigour": {"limits_kg_m": [0.1, 0.2, 0.25, 0.3]}, "patches": {"rate": 0.2, "least_vines": 30}}`, 200).into(t, &got)
	assert.True(t, got.Own)
	assert.Equal(t, "Ada", got.By)
	assert.Equal(t, 0.8, got.Standards.Patches.Level, "left out: the default")
	require.Eventually(t, func() bool { return f.ready("P1").Found != before.Found }, 20*time.Second, 20*time.Millisecond)
	after := f.ready("P1")
	assert.Equal(t, []float64{0.1, 0.2, 0.25, 0.3}, after.Vigour.Limits[:])
	assert.Greater(t, after.Vigour.Classes[5], before.Vigour.Classes[5])
	assert.Equal(t, 0.2, after.Patches.Rate)

	// The estate's count where the block has none of its own.
	set("/api/standards", `{"vigour": {"limits_kg_m": [0.5, 0.6, 0.7, 0.8]}, "patches": {"level": 0.9}}`, 200)
	f.get("/api/blocks/P1/standards").into(t, &got)
	assert.Equal(t, 0.1, got.Standards.Vigour.LimitsKgM[0])
	assert.Equal(t, 0.9, got.Standards.Patches.Level, "part by part")
	f.get(fmt.Sprintf("/api/blocks/%d/standards", f.home.ID)).into(t, &got)
	assert.Equal(t, 0.5, got.Standards.Vigour.LimitsKgM[0])
	assert.False(t, got.Own)

	for value, want := range map[string]string{
		`{"vigour": {"limits_kg_m": [0.5, 0.4, 0.7, 0.8]}}`: "limits_kg_m",
		`{"vigour": {"limit": 1}}`:                          "limit",
		`{"patches": {"rate": 0}}`:                          "patches.rate",
		`{"patches": {"level": 0.2}}`:                       "patches.level",
		`{"pruning": {"limits": {"shoots_per_m": -1}}}`:     "shoots_per_m",
		`{"colour": {}}`:                                    "colour",
		`[]`:                                                "standards",
	} {
		assert.Contains(t, string(set("/api/blocks/P1/standards", value, 422).body), want, value)
	}
	assert.Equal(t, 400, f.ask(http.MethodPut, "/api/standards", map[string]any{"by": "x"}).status)
	assert.Equal(t, 400, f.ask(http.MethodPut, "/api/standards", map[string]any{"standards": map[string]any{}, "x": 1}).status)
	assert.Equal(t, 404, f.ask(http.MethodPut, "/api/blocks/ZZ/standards", map[string]any{"standards": map[string]any{}}).status)
	assert.Equal(t, 405, f.ask(http.MethodPost, "/api/standards", map[string]any{}).status)
}
