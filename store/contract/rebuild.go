package contract

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func rebuildTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"nothing is wrong":           rebuildClean,
		"damage is found and mended": rebuildMends,
	}
}

func rebuildClean(t *testing.T, h Harness) {
	s := h.open(t)
	got, err := s.Rebuild(t.Context(), true, nil)
	require.NoError(t, err)
	assert.Zero(t, got)
	a, b, d := plant(t, s, "A", 2, 7), plant(t, s, "B", 1, 3), newDevice("d")
	send(t, s, everyKind(a, d)...)
	before := picture(t, s, a)
	lastDone, lastTotal := 0, 0
	got, err = s.Rebuild(t.Context(), true, func(done, total int) {
		assert.GreaterOrEqual(t, done, lastDone)
		lastDone, lastTotal = done, total
	})
	require.NoError(t, err)
	assert.Equal(t, store.Rebuilt{Vines: 17}, got)
	assert.Equal(t, 17, lastDone)
	assert.Equal(t, 17, lastTotal)
	assert.Equal(t, before, picture(t, s, a), "what is right is not touched, not even a revision")
	assert.NotZero(t, b.block.ID)
}

func rebuildMends(t *testing.T, h Harness) {
	if len(h.Corrupt) == 0 {
		t.Skip("the harness knows no way to damage this store")
	}
	s := h.open(t)
	f, d := plant(t, s, "A", 2, 7), newDevice("d")
	sent := everyKind(f, d)
	more := d.event(2028, someVines(f.vines[0]...), seen(vine.Weak))
	send(t, s, append(sent, more)...)
	v := f.vines[0][2]
	for _, name := range sorted(h.Corrupt) {
		t.Run(name, func(t *testing.T) {
			before := picture(t, s, f)
			revision := blockNow(t, s, f.block.ID).Revision
			h.Corrupt[name](t, s, v.ID)
			for _, write := range []bool{false, true} {
				got, err := s.Rebuild(t.Context(), write, nil)
				require.NoError(t, err)
				assert.Equal(t, store.Rebuilt{Vines: 14, Wrong: 1}, got, "write %v", write)
			}
			got, err := s.Rebuild(t.Context(), false, nil)
			require.NoError(t, err)
			assert.Equal(t, store.Rebuilt{Vines: 14}, got)
			for season := 2026; season <= 2029; season++ {
				requireFold(t.Context(), t, s, f, keptAll(append(sent, more)), season)
			}
			assert.NotEqual(t, before, picture(t, s, f))
			assert.Greater(t, blockNow(t, s, f.block.ID).Revision, revision, "whoever holds the block learns of it")
		})
	}
}
