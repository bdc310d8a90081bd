package gpkg_test

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

// scattered makes vines of one row, anywhere on earth, with some piled up in one
// place as in a careless survey.
func scattered(random *rand.Rand, block, row vine.ID, first, n int) []store.Vine {
	out := make([]store.Vine, n)
	for i := range out {
		p := orb.Point{random.Float64()*360 - 180, random.Float64()*180 - 90}
		if i%10 == 0 {
			p = orb.Point{3.5, 43.25}
		}
		out[i] = store.Vine{Block: block, Row: row, Number: first + i, Point: p}
	}
	return out
}

// TestSpatialIndex writes vines in all the ways in which the index is kept in
// step and holds window queries through it against looking at every vine.
func TestSpatialIndex(t *testing.T) {
	skipUnderRace(t)
	path := filepath.Join(t.TempDir(), "x.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	defer s.Close()
	triggers := query(t, path, "SELECT sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY name")
	require.Len(t, triggers, 27)
	random := rand.New(rand.NewPCG(1, 2))
	var block, row vine.ID
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error {
		b := []store.Block{{Code: "A"}}
		if err := tx.SaveBlocks(b); err != nil {
			return err
		}
		r := []store.Row{{Block: b[0].ID, Label: "1"}}
		block = b[0].ID
		err := tx.SaveRows(r)
		row = r[0].ID
		return err
	}))
	var vines []store.Vine
	add := func(n int, portions int) func(store.Tx) error {
		return func(tx store.Tx) error {
			for part := range slices.Chunk(scattered(random, block, row, len(vines)+1, n), n/portions) {
				if err := tx.SaveVines(part); err != nil {
					return err
				}
				vines = append(vines, part...)
			}
			return nil
		}
	}
	move := func(n int) func(store.Tx) error {
		return func(tx store.Tx) error {
			some := slices.Clone(vines[:n])
			for i := range some {
				some[i].Point = orb.Point{-some[i].Point[1], some[i].Point[0] / 2}
			}
			copy(vines, some)
			return tx.SaveVines(some)
		}
	}
	for _, c := range []struct {
		name string
		do   func(store.Tx) error
	}{
		{"few, one by one", add(60, 3)},
		{"some moved, one by one", move(30)},
		{"more, one by one", add(2500, 25)},
		{"many, packed", add(24000, 8)},
		{"one after packing", add(1, 1)},
		{"some moved after packing", move(100)},
		{"more moved, one by one", move(3000)},
		{"nearly all moved, packed", move(26000)},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.NoError(t, s.Update(t.Context(), c.do))
			checkIndex(t, path, vines, random)
			assert.Equal(t, triggers, query(t, path, "SELECT sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY name"))
		})
	}
}

func checkIndex(t *testing.T, path string, vines []store.Vine, random *rand.Rand) {
	t.Helper()
	assert.Equal(t, []string{"ok"}, query(t, path, "SELECT rtreecheck('rtree_vine_geom')"))
	assert.Equal(t, []string{strconv.Itoa(len(vines))}, query(t, path, "SELECT count(*) FROM rtree_vine_geom"))
	for range 12 {
		x, y := random.Float64()*360-180, random.Float64()*180-90
		w, h := random.Float64()*40, random.Float64()*40
		found := map[string]bool{}
		for _, id := range query(t, path, fmt.Sprintf("SELECT id FROM rtree_vine_geom WHERE maxx >= %v AND minx <= %v AND maxy >= %v AND miny <= %v", x, x+w, y, y+h)) {
			found[id] = true
		}
		in := orb.Bound{Min: orb.Point{x, y}, Max: orb.Point{x + w, y + h}}
		near := in.Pad(1e-4) // the index rounds outwards to 32-bit floats
		for _, v := range vines {
			id := strconv.FormatInt(v.ID, 10)
			if in.Contains(v.Point) {
				assert.True(t, found[id], "vine %d at %v is missing in %v", v.ID, v.Point, in)
			}
			if found[id] {
				assert.True(t, near.Contains(v.Point), "vine %d at %v is not in %v", v.ID, v.Point, in)
			}
		}
	}
}
