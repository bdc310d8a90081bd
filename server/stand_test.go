package server

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func TestStand_BinaryThenChanges(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		a := f.get("/api/blocks/H3/stand/2027")
		require.Equal(t, http.StatusOK, a.status)
		head, column := readStand(t, a.body)
		assert.Equal(t, testRows*testVines, head.Count)
		assert.Equal(t, "H3", head.Code)
		assert.Len(t, column("condition"), head.Count)
		ids := column("id")
		assert.Equal(t, uint32(f.home.vines[0].ID), binary.LittleEndian.Uint32(ids))
		tag := a.header.Get("ETag")
		assert.Equal(t, http.StatusNotModified, f.get("/api/blocks/H3/stand/2027", "If-None-Match", tag).status)

		f.post(f.done(f.far, f.far.vines[0].ID))
		assert.Equal(t, http.StatusNotModified, f.get("/api/blocks/H3/stand/2027", "If-None-Match", tag).status, "another block changed")
		f.post(f.done(f.home, f.home.vines[6].ID), f.event(f.home, vine.KindCondition, map[string]any{"condition": "dead"}, f.home.vines[9].ID))
		assert.Equal(t, http.StatusOK, f.get("/api/blocks/H3/stand/2027", "If-None-Match", tag).status)

		var d struct {
			Block     vine.ID
			Season    int
			Revision  int64
			Whole     bool
			Index     []int
			Condition []int
			Progress  []int
			Nodes     []int
			Totals    struct{ Gaps int }
		}
		f.get(fmt.Sprintf("/api/blocks/H3/stand/2027?since=%d", head.Revision)).into(t, &d)
		assert.False(t, d.Whole)
		assert.Equal(t, []int{6, 9}, d.Index)
		assert.Equal(t, []int{0, int(vine.Dead)}, d.Condition)
		assert.Equal(t, []int{int(vine.Done), 0}, d.Progress)
		assert.Equal(t, []int{255, 255}, d.Nodes)
		assert.Equal(t, 1, d.Totals.Gaps)
		assert.Greater(t, d.Revision, head.Revision)

		f.get(fmt.Sprintf("/api/blocks/H3/stand/2027?since=%d", d.Revision)).into(t, &d)
		assert.Empty(t, d.Index)
		assert.NotNil(t, d.Index, "an empty list, not null")
		f.get(fmt.Sprintf("/api/blocks/H3/stand/2027?since=%d", d.Revision+100)).into(t, &d)
		assert.True(t, d.Whole, "a revision from the future belongs to other data")
	})
}

func TestStand_WholeAfterTheGroundChanged(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		head, _ := readStand(t, f.get("/api/blocks/H3/stand/2027").body)
		moved := f.home.vines[0]
		moved.Tag = "corner"
		require.NoError(t, f.store.Update(t.Context(), func(tx store.Tx) error { return tx.SaveVines([]store.Vine{moved}) }))
		require.Eventually(t, func() bool {
			var d struct{ Whole bool }
			f.get(fmt.Sprintf("/api/blocks/H3/stand/2027?since=%d", head.Revision)).into(t, &d)
			return d.Whole
		}, 5*time.Second, 5*time.Millisecond)
	})
}

type standHead struct {
	Version  int
	Block    vine.ID
	Code     string
	Season   int
	Revision int64
	Count    int
	Columns  []struct {
		Name   string
		Type   string
		Offset int
		Length int
	}
}

// readStand reads the binary form as its description says.
func readStand(t testing.TB, body []byte) (standHead, func(string) []byte) {
	t.Helper()
	require.Equal(t, "CRSN", string(body[:4]))
	length := binary.LittleEndian.Uint32(body[4:])
	var h standHead
	require.NoError(t, json.Unmarshal(body[8:8+length], &h))
	return h, func(name string) []byte {
		for _, c := range h.Columns {
			if c.Name == name {
				return body[c.Offset : c.Offset+c.Length]
			}
		}
		t.Fatalf("no column %s", name)
		return nil
	}
}
