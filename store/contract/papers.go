package contract

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/store"
)

func paperVersions(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "A", 1, 1)
	made := time.Date(2027, 1, 5, 7, 30, 0, 123_456_000, time.UTC)
	save := func(p store.Paper) {
		update(t, s, func(tx store.Tx) error { return tx.SavePaper(p) })
	}
	of := func(q store.PaperQuery) (keys, values []string) {
		t.Helper()
		list, err := s.Papers(t.Context(), q)
		require.NoError(t, err)
		for _, p := range list {
			keys, values = append(keys, p.Key), append(values, string(p.Value))
		}
		return keys, values
	}
	save(store.Paper{Kind: "crew", Key: "north", By: "Ada", Made: made, Value: []byte(`{"n":1}`)})
	save(store.Paper{Kind: "crew", Key: "Étoile", Value: []byte(`{"n":5}`)})
	save(store.Paper{Kind: "crew", Key: "north", By: "Bo", Value: []byte(`{"n":2}`)})
	save(store.Paper{Kind: "crew", Key: "south", Season: 2027, Value: []byte(`{"n":3}`)})
	save(store.Paper{Kind: "other", Key: "north", Value: []byte(`{"n":4}`)})
	keys, values := of(store.PaperQuery{Kind: "crew"})
	assert.Equal(t, []string{"north", "south", "Étoile"}, keys, "by bytes of the key")
	assert.JSONEq(t, `{"n":2}`, values[0])
	keys, _ = of(store.PaperQuery{Kind: "crew", Season: 2027})
	assert.Equal(t, []string{"south"}, keys)
	keys, values = of(store.PaperQuery{Kind: "crew", Key: "north", Versions: true})
	assert.Equal(t, []string{"north", "north"}, keys)
	assert.JSONEq(t, `{"n":1}`, values[1], "newest first")
	all, err := s.Papers(t.Context(), store.PaperQuery{Kind: "crew", Key: "north", Versions: true})
	require.NoError(t, err)
	assert.Equal(t, []any{"Ada", made}, []any{all[1].By, all[1].Made})

	// An empty object takes it away; a new version brings it back.
	save(store.Paper{Kind: "crew", Key: "north", Value: []byte(` { } `)})
	keys, _ = of(store.PaperQuery{Kind: "crew"})
	assert.Equal(t, []string{"south", "Étoile"}, keys)
	save(store.Paper{Kind: "crew", Key: "north", Value: []byte(`{"n":6}`)})
	keys, _ = of(store.PaperQuery{Kind: "crew"})
	assert.Len(t, keys, 3)

	// One of a block counts as a change of its plans, others change nothing.
	before, err := s.Blocks(t.Context())
	require.NoError(t, err)
	save(store.Paper{Kind: "crew", Key: "west", Value: []byte(`{"n":7}`)})
	same, err := s.Blocks(t.Context())
	require.NoError(t, err)
	assert.Equal(t, before[0].Revision, same[0].Revision)
	save(store.Paper{Kind: "order", Key: "1", Season: 2027, Block: f.block.ID, Value: []byte(`{"n":8}`)})
	after, err := s.Blocks(t.Context())
	require.NoError(t, err)
	assert.Greater(t, after[0].Revision, before[0].Revision)
	assert.Equal(t, after[0].GroundRev, before[0].GroundRev)
}

func paperChecks(t *testing.T, h Harness) {
	s := h.open(t)
	for name, p := range map[string]store.Paper{
		"no kind":       {Key: "a", Value: []byte(`{"a":1}`)},
		"no key":        {Kind: "a", Value: []byte(`{"a":1}`)},
		"a long key":    {Kind: "a", Key: strings.Repeat("k", 201), Value: []byte(`{"a":1}`)},
		"no value":      {Kind: "a", Key: "a"},
		"a list":        {Kind: "a", Key: "a", Value: []byte(`[1]`)},
		"broken":        {Kind: "a", Key: "a", Value: []byte(`{"a"`)},
		"a zero":        {Kind: "a", Key: "a", Value: []byte(`{"a":"\u0000"}`)},
		"zero in key":   {Kind: "a", Key: "a\x00", Value: []byte(`{"a":1}`)},
		"far season":    {Kind: "a", Key: "a", Season: 12, Value: []byte(`{"a":1}`)},
		"unknown block": {Kind: "a", Key: "a", Block: 77, Value: []byte(`{"a":1}`)},
	} {
		require.Error(t, s.Update(t.Context(), func(tx store.Tx) error { return tx.SavePaper(p) }), name)
	}
	list, err := s.Papers(t.Context(), store.PaperQuery{Kind: "a"})
	require.NoError(t, err)
	assert.Empty(t, list)
}
