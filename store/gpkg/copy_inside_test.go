package gpkg

import (
	"math"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
	"courson/store"
)

func drawVine(t *rapid.T) store.Vine {
	number := rapid.Float64().Filter(func(v float64) bool { return !math.IsNaN(v) })
	v := store.Vine{
		ID: rapid.Int64().Draw(t, "id"), Block: 7, Row: rapid.Int64().Draw(t, "row"), Number: rapid.Int().Draw(t, "number"),
		ChainageM: number.Draw(t, "chainage"), Part: rapid.IntRange(0, 9).Draw(t, "part"),
		Planted: rapid.SampledFrom([]int{0, 1999, 2020}).Draw(t, "planted"), Tag: rapid.SampledFrom([]string{"", "é 1", "7"}).Draw(t, "tag"),
	}
	v.Point[0], v.Point[1] = number.Draw(t, "lon"), number.Draw(t, "lat")
	return v
}

// TestCopyForms packs vines and states and gets back what went in.
func TestCopyForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		vines := rapid.SliceOf(rapid.Custom(drawVine)).Draw(t, "vines")
		got, err := unpackVines(unseal(seal(packVines(vines))), 7)
		require.NoError(t, err)
		require.Len(t, got, len(vines))
		for i := range vines {
			require.Equal(t, vines[i], got[i])
		}

		h := &heldStates{season: 2027, index: make(map[string]int)}
		for i := range rapid.IntRange(0, 20).Draw(t, "n") {
			v := heldVine{id: vine.ID(rapid.Int64().Draw(t, "id")), at: -1}
			if i%3 > 0 {
				v.changed, v.at = rapid.Int64().Draw(t, "changed"), int64(len(h.data))
				h.add(drawRecord(t, v.id))
				v.size = int32(int64(len(h.data)) - v.at)
			}
			h.vines = append(h.vines, v)
		}
		want, err := h.list()
		require.NoError(t, err)
		back, err := unpackStates(unseal(seal(h.pack())), 2027)
		require.NoError(t, err)
		states, err := back.list()
		require.NoError(t, err)
		if !reflect.DeepEqual(want, states) {
			t.Fatalf("want %+v, got %+v", want, states)
		}
	})
}

// FuzzCopy reads copies that anyone may have written into a file: they give
// something or an error, and what they give is no more than they hold.
func FuzzCopy(f *testing.F) {
	vines := packVines([]store.Vine{{ID: 3, Row: 2, Number: 1, Tag: "x"}, {ID: 4, Row: 2, Number: 2}})
	f.Add(vines)
	f.Add(seal(vines))
	h := &heldStates{words: []string{"frost"}, data: []byte{0, 2, 2, 2, 2, 2, 2, 0, 1, 1}}
	h.vines = []heldVine{{id: 9, changed: 3, size: int32(len(h.data))}}
	f.Add(h.pack())
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1})
	f.Fuzz(func(t *testing.T, data []byte) {
		if plain := unseal(data); plain != nil {
			assert.Equal(t, plain, unseal(seal(plain)))
		}
		if vines, err := unpackVines(data, 1); err == nil {
			assert.LessOrEqual(t, len(vines)*leastVine, len(data))
		}
		if h, err := unpackStates(data, 2027); err == nil {
			states, _ := h.list()
			assert.LessOrEqual(t, len(states)*leastState, len(data))
		}
	})
}
