package server

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// TestOperations_Own: an estate keeps its own list beside the usual one: what it adds
// is shared among crews like the rest, what cannot be meant is refused, and its other
// standards stay.
func TestOperations_Own(t *testing.T) {
	f, _, _ := planned(t)
	type list struct{ Operations []operationJSON }
	var usual, got list
	f.send(t, http.MethodGet, "/api/operations", nil, 200, &usual)
	f.send(t, http.MethodPut, "/api/standards", map[string]any{"by": "Ada", "standards": map[string]any{"rows": map[string]any{"vines_per_section": 7}}}, 200, nil)

	for _, bad := range []map[string]any{
		{"name": "", "minutes": map[string]any{"cane": 1}}, {"name": "mulching"}, {"name": "mulching", "minutes": map[string]any{"cane": -1}},
		{"name": "mulching", "minutes": map[string]any{"cane": 1}, "after": "no such work"},
	} {
		assert.Equal(t, 422, f.ask(http.MethodPut, "/api/operations", map[string]any{"by": "Ada", "own": []any{bad}}).status, "%v", bad)
	}
	mulch := map[string]any{"name": "mulching", "minutes": map[string]any{"cane": 0.5, "spur": 0.5, "young": 0.5}, "after": vine.Pruning, "source": "our own clock"}
	f.send(t, http.MethodPut, "/api/operations", map[string]any{"by": "Ada", "own": []any{mulch}}, 200, &got)
	require.Len(t, got.Operations, len(usual.Operations)+1)
	last := got.Operations[len(got.Operations)-1]
	assert.Equal(t, []any{"mulching", true, 0.5, vine.Pruning}, []any{last.Name, last.Own, last.Minutes.Cane, last.After})
	assert.NotEmpty(t, last.Cautions)
	assert.False(t, got.Operations[0].Own)

	var share struct {
		Orders []map[string]any
		Notes  []string
	}
	var blocks struct{ Blocks []struct{ ID vine.ID } }
	f.send(t, http.MethodPut, "/api/crews/North", map[string]any{"name": "North", "people": 2, "hours_per_day": 8}, 200, nil)
	f.get("/api/blocks").into(t, &blocks)
	f.send(t, http.MethodPost, "/api/orders/share", map[string]any{"season": 2027, "operation": "mulching", "rule": "all", "crews": []string{"North"}, "day": "2027-01-12", "blocks": []vine.ID{blocks.Blocks[0].ID}}, 200, &share)

	var settled standardsJSON
	f.send(t, http.MethodGet, "/api/standards", nil, 200, &settled)
	assert.Equal(t, 7, settled.Standards.Rows.VinesPerSection, "what else was set stays")
	f.send(t, http.MethodPut, "/api/operations", map[string]any{"by": "Ada", "own": []any{}}, 200, &got)
	assert.Len(t, got.Operations, len(usual.Operations))
}
