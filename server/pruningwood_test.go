package server

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// TestRenewal_ChoosesWood: an arm whose lower shoot has its first bud on top. With
// internodes of 8 and 30 mm its second bud takes the part of the first, the head
// climbing 38 mm, which is fair in one winter (common practice).
func TestRenewal_ChoosesWood(t *testing.T) {
	f, b, _ := planned(t)
	shoot := func(more map[string]any) map[string]any {
		s := map[string]any{"on": "spur", "node": 1, "wood_years": 2, "sound": true, "base_bud_sound": true}
		for k, v := range more {
			s[k] = v
		}
		return s
	}
	left := map[string]any{"name": "left", "shoots": []any{
		shoot(map[string]any{"faces": "above", "base_mm": 8, "internode_mm": 30, "diameter_mm": 8.4}),
		shoot(map[string]any{"node": 2, "out_mm": 55, "faces": "below", "base_mm": 12, "internode_mm": 70, "diameter_mm": 9.5}),
	}}
	right := map[string]any{"name": "right", "shoots": []any{
		shoot(map[string]any{"faces": "below", "base_mm": 10, "diameter_mm": 7}),
		shoot(map[string]any{"node": 2, "out_mm": 40, "faces": "below", "base_mm": 10, "diameter_mm": 11}),
	}}
	ask := func(body map[string]any) (got woodJSON) {
		f.send(t, http.MethodPost, "/api/pruning/renewal", body, 200, &got)
		return got
	}
	got := ask(map[string]any{"canes": 1, "arms": []any{left, right}})
	require.Len(t, got.Arms, 2)
	l, r := got.Arms[0], got.Arms[1]
	require.NotNil(t, l.Spur)
	assert.Equal(t, []any{1, 3, 38.0, true}, []any{l.Spur.Shoot, l.Spur.Nodes, l.Spur.ClimbMM, l.Spur.ClimbKnown})
	assert.Equal(t, 2, l.Cane.Shoot)
	assert.Contains(t, strings.Join(l.FollowUps, " "), "rub off the first")
	assert.NotEmpty(t, l.Alternatives)
	for _, a := range l.Alternatives {
		assert.NotEmpty(t, a.Drawback, "another way says what is against it")
	}
	assert.Equal(t, []any{1, 2}, []any{r.Spur.Shoot, r.Cane.Shoot}, "a spur below and a cane above")
	require.NotNil(t, got.Keep)
	assert.Equal(t, "right", got.Keep.Arm, "the stronger cane stays")
	assert.Contains(t, strings.Join(got.Cautions, " "), "work-safety")

	assert.Nil(t, ask(map[string]any{"canes": 2, "arms": []any{left, right}}).Keep, "each arm keeps its own")
	tight := ask(map[string]any{"canes": 1, "climb_limit_mm": 20, "arms": []any{left}}).Arms[0]
	assert.Equal(t, 1, tight.Spur.Nodes, "under a tighter limit the base bud takes over")
	assert.NotEmpty(t, ask(map[string]any{"arms": []any{map[string]any{"name": "left"}}}).Arms[0].Rule, "nobody looked: the rule")

	// What is recorded of the vine is told: the spur that was left, and which arm
	// carried the cane, so that of two equal canes the other one is proposed.
	id := b.vines[3*30+5].ID
	e := f.event(b, vine.KindPruned, map[string]any{"arms": []any{
		map[string]any{"name": "left", "canes": []any{map[string]any{"nodes": 8}}, "spurs": []any{map[string]any{"nodes": 3, "first_bud_faces": "above"}}},
		map[string]any{"name": "right", "spurs": []any{map[string]any{"nodes": 2, "first_bud_faces": "below"}}},
	}}, id)
	e["season"] = 2026
	require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	twin := map[string]any{"name": "right", "shoots": left["shoots"]}
	known := ask(map[string]any{"vine": id, "season": 2027, "canes": 1, "arms": []any{left, twin}})
	assert.Contains(t, strings.Join(known.Arms[0].Notes, " "), "second node")
	require.NotNil(t, known.Keep)
	assert.True(t, known.Keep.Free)
	assert.Equal(t, "right", known.Keep.Arm)
}
