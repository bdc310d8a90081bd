package server

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"net/http"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/server/findings"
	"courson/store"
)

// patchyEstate is a block of 20 rows of 30 vines in which a corner of 8 rows by
// 12 vines is weak: everybody is scored in two winters, one vine in six is
// weighed in the second.
func patchyEstate(t *testing.T) (*fixture, testBlock) {
	f := newFixture(t, func(c *Config) { c.FindAfter = 20 * time.Millisecond })
	var b testBlock
	require.NoError(t, f.store.Update(t.Context(), func(tx store.Tx) (err error) {
		b, err = plantBlockOf(tx, "P1", orb.Point{8.15, 49.21}, 2005, 20, 30)
		return err
	}))
	rng := rand.New(rand.NewPCG(5, 8))
	var batch []map[string]any
	for r := range b.rows {
		var ids []vine.ID
		var now, before, grams []float64
		var weighed []vine.ID
		for v := range 30 {
			id := b.vines[r*30+v].ID
			kgM := 0.6 + 0.06*rng.NormFloat64()
			ids, before = append(ids, id), append(before, score(kgM))
			if r < 8 && v < 12 {
				kgM -= 0.3
			}
			now = append(now, score(kgM))
			if (r*30+v)%6 == 0 {
				weighed, grams = append(weighed, id), append(grams, max(0, kgM*vineM*1000))
			}
		}
		measure := func(q vine.Quantity, unit, scale string, values []float64, vines []vine.ID, season int) {
			e := f.event(b, vine.KindMeasure, map[string]any{"quantity": q, "unit": unit, "scale": scale, "values": values}, vines...)
			e["season"] = season
			batch = append(batch, e)
		}
		measure(vine.VisualScore, "score", "1-5", before, ids, 2026)
		measure(vine.VisualScore, "score", "1-5", now, ids, 2027)
		measure(vine.PruningWeight, "g", "", grams, weighed, 2027)
	}
	for _, a := range f.post(batch...).Results {
		require.Equal(t, store.Stored, a.Result, a.Reason)
	}
	return f, b
}

// score is the score of so much wood, to a tenth.
func score(kgM float64) float64 { return max(1, min(5, float64(int(10*(1+4*kgM)))/10)) }

// ready waits for findings of the block.
func (f *fixture) ready(block string) (out findingsJSON) {
	f.t.Helper()
	require.Eventually(f.t, func() bool {
		f.get("/api/blocks/"+block+"/findings?season=2027").into(f.t, &out)
		return out.State == findings.Ready
	}, 20*time.Second, 20*time.Millisecond, "findings of %s", block)
	return out
}

func TestFindings_OfABlock(t *testing.T) {
	f, b := patchyEstate(t)
	got := f.ready("P1")

	require.NotNil(t, got.Vigour)
	assert.Equal(t, 100, got.Vigour.Measured)
	assert.Equal(t, 500, got.Vigour.Calibrated)
	require.Len(t, got.Vigour.Calibrations, 1)
	assert.Greater(t, got.Vigour.Calibrations[0].R2, 0.8)
	n := 0
	for _, bin := range got.Vigour.Histogram {
		n += bin.Measured + bin.Calibrated + bin.Estimated
	}
	assert.Equal(t, 600, n, "the histogram counts every vine")

	require.NotNil(t, got.Patches)
	assert.Equal(t, vine.VisualScore, got.Patches.Quantity)
	assert.Empty(t, got.Patches.Refused)
	assert.True(t, got.Patches.Structured)
	require.NotEmpty(t, got.Patches.List)
	p := got.Patches.List[0]
	assert.Equal(t, "P1-2027-w1", p.ID)
	assert.InDelta(t, 96, p.Vines, 15, "the planted corner")
	assert.InDelta(t, 96*rowM*vineM/1e4, p.Hectares, 0.005)
	require.NotNil(t, p.Since)
	assert.Less(t, p.Since.Percent, -20.0)
	assert.InDelta(t, 0, p.Since.RestPercent, 5)
	assert.Nil(t, got.Likely, "every vine was seen")

	require.NotNil(t, got.Change)
	assert.Equal(t, 2026, got.Change.Since)
	assert.False(t, got.Change.Ranks)
	assert.Equal(t, 600, got.Change.Pairs)
	assert.Equal(t, 20, got.Change.All.Rows.N)

	t.Run("the stand shows them", func(t *testing.T) {
		s, err := stand.ReadBinary(f.get("/api/blocks/P1/stand/2027").body)
		require.NoError(t, err)
		assert.Equal(t, got.Found, s.Stamp())
		in, _ := s.Ground.IndexOf(b.vines[3*30+4].ID)
		out, _ := s.Ground.IndexOf(b.vines[16*30+25].ID)
		assert.Equal(t, stand.PatchWeak, s.PatchOf(in))
		assert.Equal(t, stand.PatchPlain, s.PatchOf(out))
		assert.Less(t, s.ChangeOf(in), uint8(3))
	})
	t.Run("a page that shows others fetches anew", func(t *testing.T) {
		var d changesJSON
		f.get(fmt.Sprintf("/api/blocks/P1/stand/2027?since=%d&found=", 1<<30-1)).into(t, &d)
		assert.True(t, d.Whole)
		rev := d.Revision
		f.get(fmt.Sprintf("/api/blocks/P1/stand/2027?since=%d&found=%s", rev, got.Found)).into(t, &d)
		assert.False(t, d.Whole)
		f.get(fmt.Sprintf("/api/blocks/P1/stand/2027?since=%d&found=", rev)).into(t, &d)
		assert.True(t, d.Whole)
		assert.Equal(t, got.Found, d.Found)
	})
	t.Run("files", func(t *testing.T) {
		rows, err := csv.NewReader(bytes.NewReader(f.get("/api/blocks/P1/findings.csv?season=2027").body)).ReadAll()
		require.NoError(t, err)
		assert.Len(t, rows, 601)
		all, err := geojson.UnmarshalFeatureCollection(f.get("/api/patches.geojson?season=2027&block=P1").body)
		require.NoError(t, err)
		require.Len(t, all.Features, len(got.Patches.List))
		ring := all.Features[0].Geometry.(orb.MultiPolygon)[0][0]
		assert.Equal(t, orb.CCW, ring.Orientation(), "RFC 7946, 3.1.6: exterior rings run anticlockwise")
		assert.Equal(t, "weak", all.Features[0].Properties["kind"])
		rows, err = csv.NewReader(bytes.NewReader(f.get("/api/patches.csv?season=2027&block=P1").body)).ReadAll()
		require.NoError(t, err)
		assert.Len(t, rows, 1+len(got.Patches.List))
		rows, err = csv.NewReader(bytes.NewReader(f.get("/api/change.csv?season=2027&since=2026&block=P1").body)).ReadAll()
		require.NoError(t, err)
		assert.Greater(t, len(rows), 2)
	})
	t.Run("described", func(t *testing.T) {
		var d description
		f.get("/api/openapi.json").into(t, &d)
		for path, real := range map[string]string{"/api/blocks/{block}/findings": "/api/blocks/P1/findings?season=2027", "/api/findings": "/api/findings?season=2027"} {
			var answer any
			f.get(real).into(t, &answer)
			d.fits(t, d.Paths[path]["get"].Responses["200"].Content["application/json"].Schema, answer, path)
		}
	})
}

// TestFindings_FollowMeasures: work on the vines leaves findings and their
// stamp alone; a new weight does not, and tiles get another tag.
func TestFindings_FollowMeasures(t *testing.T) {
	f, b := patchyEstate(t)
	first := f.ready("P1")
	tag := func() string { return f.get(tilePath(t, b, 17)).header.Get("ETag") }
	f.post(f.done(b, b.vines[0].ID))
	before := tag()
	time.Sleep(200 * time.Millisecond)
	assert.Equal(t, first.Found, f.ready("P1").Found)
	assert.Equal(t, before, tag())

	f.post(f.event(b, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "value": 900}, b.vines[1].ID))
	require.Eventually(t, func() bool { return f.ready("P1").Found != first.Found }, 20*time.Second, 20*time.Millisecond)
	assert.Equal(t, 101, f.ready("P1").Vigour.Measured)
	assert.NotEqual(t, before, tag())
}

func TestFindings_OfABlockWithoutMeasures(t *testing.T) {
	f, _ := patchyEstate(t)
	f.post(f.event(f.home, vine.KindNote, map[string]any{"text": "x"}, f.home.vines[0].ID))
	got := f.ready("H3")
	assert.Zero(t, got.Vigour.Measured+got.Vigour.Calibrated+got.Vigour.Estimated)
	assert.Nil(t, got.Patches)
	assert.Nil(t, got.Change)
	var all estateFindingsJSON
	f.get("/api/findings?season=2027").into(t, &all)
	for _, b := range all.Blocks {
		if b.Code == "H3" {
			assert.Nil(t, b.MeanKgM, "no value is not a weight of 0")
		}
	}
}

func TestFindings_Orders(t *testing.T) {
	f, b := patchyEstate(t)
	stamp := f.ready("P1").Found
	for _, c := range []struct {
		name   string
		body   any
		status int
	}{
		{"again", map[string]any{"season": 2027, "blocks": []vine.ID{b.ID}, "do": "again"}, http.StatusAccepted},
		{"all blocks", map[string]any{"season": 2027, "blocks": nil, "do": "again"}, http.StatusAccepted},
		{"cancel", map[string]any{"season": 2027, "blocks": nil, "do": "cancel"}, http.StatusAccepted},
		{"another word", map[string]any{"season": 2027, "do": "dance"}, http.StatusBadRequest},
		{"no such block", map[string]any{"season": 2027, "blocks": []vine.ID{-4}, "do": "again"}, http.StatusNotFound},
		{"no such season", map[string]any{"season": 1850, "do": "again"}, http.StatusNotFound},
		{"not JSON", "do it", http.StatusBadRequest},
		{"an unknown field", map[string]any{"season": 2027, "do": "again", "who": 1}, http.StatusBadRequest},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.status, f.ask(http.MethodPost, "/api/findings", c.body).status)
		})
	}
	f.ask(http.MethodPost, "/api/findings", map[string]any{"season": 2027, "do": "again"})
	assert.Equal(t, stamp, f.ready("P1").Found, "the same measures give the same stamp")
	for path, status := range map[string]int{
		"/api/blocks/P1/findings?season=2027&since=2027": http.StatusBadRequest,
		"/api/blocks/P1/findings?season=2027&since=1850": http.StatusNotFound,
		"/api/blocks/XX/findings?season=2027":            http.StatusNotFound,
		"/api/patches.csv?season=2027&block=XX":          http.StatusNotFound,
	} {
		assert.Equal(t, status, f.get(path).status, path)
	}
}

// TestFindings_ChooseSeason: the map compares with the season that was chosen.
func TestFindings_ChooseSeason(t *testing.T) {
	f, b := patchyEstate(t)
	var ids []vine.ID
	var values []float64
	for _, v := range b.vines {
		ids, values = append(ids, v.ID), append(values, 1.5)
	}
	e := f.event(b, vine.KindMeasure, map[string]any{"quantity": vine.VisualScore, "unit": "score", "scale": "1-5", "values": values}, ids...)
	e["season"] = 2025
	require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	before := f.ready("P1")
	require.NotNil(t, before.Change)
	assert.Equal(t, 2026, before.Change.Since)
	f.send(t, http.MethodPut, "/api/findings/since", map[string]any{"season": 2027, "since": 2025}, 200, nil)
	require.Eventually(t, func() bool { c := f.ready("P1").Change; return c != nil && c.Since == 2025 }, 20*time.Second, 20*time.Millisecond)
	v, err := f.server.stands.Stand(t.Context(), b.ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, uint8(5), v.Stand.ChangeOf(400), "gained much since 2025")
	f.send(t, http.MethodPut, "/api/findings/since", map[string]any{"season": 2027, "since": 0}, 200, nil)
	require.Eventually(t, func() bool { c := f.ready("P1").Change; return c != nil && c.Since == 2026 }, 20*time.Second, 20*time.Millisecond)
	assert.Equal(t, 422, f.ask(http.MethodPut, "/api/findings/since", map[string]any{"season": 2026, "since": 2027}).status)
}
