package server

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// TestOperation: map and tiles show the progress of another operation than
// pruning, each with a tag of its own.
func TestOperation(t *testing.T) {
	f := newFixture(t)
	b := f.home
	e := f.event(b, vine.KindWork, map[string]any{"operation": "tying", "progress": "done"}, b.vines[0].ID, b.vines[1].ID)
	require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	f.post(f.event(b, vine.KindPruned, map[string]any{}, b.vines[2].ID))
	of := func(query string) (*stand.Stand, string) {
		a := f.get("/api/blocks/H3/stand/2027" + query)
		require.Equal(t, 200, a.status)
		s, err := stand.ReadBinary(a.body)
		require.NoError(t, err)
		return s, a.header.Get("ETag")
	}
	pruned, tagA := of("")
	tied, tagB := of("?operation=tying")
	assert.Equal(t, []vine.Progress{0, 0, 2}, pruned.Progress[:3])
	assert.Equal(t, []vine.Progress{2, 2, 0}, tied.Progress[:3])
	assert.NotEqual(t, tagA, tagB)
	assert.Equal(t, pruned.Progress, func() []vine.Progress { s, _ := of("?operation=pruning"); return s.Progress }())
	assert.Equal(t, http.StatusNotModified, f.get("/api/blocks/H3/stand/2027?operation=tying", "If-None-Match", tagB).status)

	var change changesJSON
	f.get("/api/blocks/H3/stand/2027?operation=tying&since=1").into(t, &change)
	for k, i := range change.Index {
		assert.Equal(t, int(tied.Progress[i]), change.Progress[k])
	}

	// Lists count what the map shows.
	var blocks struct{ Blocks []blockJSON }
	f.get("/api/blocks?season=2027&operation=tying").into(t, &blocks)
	for _, k := range blocks.Blocks {
		if k.Code == "H3" {
			assert.Equal(t, 2, k.Totals.Done())
		}
	}
	var block blockJSON
	f.get("/api/blocks/H3?season=2027&operation=tying").into(t, &block)
	assert.Equal(t, []int{2, 2}, []int{block.Totals.Done(), block.RowList[0].Done})
	f.get("/api/blocks/H3?season=2027").into(t, &block)
	assert.Equal(t, []int{1, 1}, []int{block.Totals.Done(), block.RowList[0].Done})

	url := tilePath(t, b, 17)
	plain, other := f.get(url), f.get(url+"?operation=tying")
	require.Equal(t, 200, plain.status)
	require.Equal(t, 200, other.status)
	assert.NotEqual(t, plain.header.Get("ETag"), other.header.Get("ETag"))
	assert.NotEqual(t, plain.body, other.body)
	assert.Equal(t, 400, f.get("/api/blocks/H3/stand/2027?operation="+strings.Repeat("x", 61)).status)
}
