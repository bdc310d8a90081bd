package gpkg_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/ncruces/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/contract"
	"courson/store/gpkg"
)

// TestContractByCopies holds a store to the contract that writes a copy after
// every read, so that nearly all that is read comes from copies.
func TestContractByCopies(t *testing.T) {
	paths := make(map[store.Store]string)
	opened := func(t *testing.T, path string) store.Store {
		s := open(t, path, gpkg.Options{Create: true})
		s.KeepAtOnce()
		paths[s] = path
		return s
	}
	contract.Run(t, contract.Harness{
		Open:  func(t *testing.T) store.Store { return opened(t, filepath.Join(t.TempDir(), "estate.gpkg")) },
		Again: func(t *testing.T, s store.Store) store.Store { return opened(t, paths[s]) },
	})
}

// looked is what one reading of a block gave.
type looked struct {
	vines  []store.Vine
	states []store.VineState
}

func lookAt(t *testing.T, s store.Store, block vine.ID, season int) (l looked) {
	for v, err := range s.Vines(t.Context(), block) {
		require.NoError(t, err)
		l.vines = append(l.vines, v)
	}
	for st, err := range s.States(t.Context(), block, season, 0) {
		require.NoError(t, err)
		l.states = append(l.states, st)
	}
	return l
}

// TestCopiesNeverStale lets this program, a second one and a GIS write to a file
// in any order, and holds what is read through copies against the tables.
func TestCopiesNeverStale(t *testing.T) {
	skipUnderRace(t)
	random := rand.New(rand.NewPCG(7, 27))
	hits := 0
	for range 8 {
		w := newWriters(t, filepath.Join(t.TempDir(), "x.gpkg"))
		steps := slices.Sorted(maps.Keys(w.steps()))
		for range 16 {
			if random.IntN(2) == 0 {
				w.look(t, w.stores[random.IntN(2)])
			}
			name := steps[random.IntN(len(steps))]
			w.steps()[name](w.stores[random.IntN(2)])
			for _, s := range w.stores {
				hits += w.look(t, s)
			}
			if t.Failed() {
				t.Fatalf("after: %s", name)
			}
		}
		w.close()
	}
	assert.Positive(t, hits, "nothing was read from copies: nothing was tested")
}

// writers are two stores on one file, and a block in it.
type writers struct {
	t      *testing.T
	path   string
	stores [2]*gpkg.Store
	block  vine.ID
	row    vine.ID
	n      int // vines planted, events and labels made
	sent   []uuid.UUID
}

func newWriters(t *testing.T, path string) *writers {
	w := &writers{t: t, path: path}
	for i := range w.stores {
		s, err := gpkg.Open(context.Background(), path, gpkg.Options{Create: true})
		require.NoError(t, err)
		s.KeepAtOnce()
		w.stores[i] = s
	}
	require.NoError(t, w.stores[0].Update(context.Background(), func(tx store.Tx) error {
		b := []store.Block{{Code: "A"}}
		if err := tx.SaveBlocks(b); err != nil {
			return err
		}
		w.block = b[0].ID
		return w.plant(tx)
	}))
	return w
}

func (w *writers) close() {
	for _, s := range w.stores {
		require.NoError(w.t, s.Close())
	}
}

// plant adds a row of five.
func (w *writers) plant(tx store.Tx) error {
	w.n++
	r := []store.Row{{Block: w.block, Label: fmt.Sprint(w.n), Ord: -w.n}}
	if err := tx.SaveRows(r); err != nil {
		return err
	}
	w.row = r[0].ID
	vines := make([]store.Vine, 5)
	for i := range vines {
		vines[i] = store.Vine{Block: w.block, Row: w.row, Number: i + 1, ChainageM: float64(i) * 1.1, Planted: 2000 + i, Part: i / 3}
		vines[i].Point[0], vines[i].Point[1] = 3+float64(w.n)/1000, 43+float64(i)/1000
	}
	vines[3].Tag = fmt.Sprintf("tag %d", w.n)
	return tx.SaveVines(vines)
}

// look reads the block and gives how much of it came from copies.
func (w *writers) look(t *testing.T, s *gpkg.Store) int {
	const season = 2027
	vines, states, copies, err := s.FromRows(context.Background(), w.block, season)
	require.NoError(t, err)
	got := lookAt(t, s, w.block, season)
	require.Equal(t, vines, got.vines)
	require.Equal(t, states, got.states)
	n, err := s.CountVines(context.Background())
	require.NoError(t, err)
	require.Equal(t, len(vines), n)
	return copies
}

func (w *writers) append(s *gpkg.Store, body vine.Body, season int, vines ...vine.ID) {
	w.n++
	e := small{block: w.block}.event(w.n%60, body, vines...)
	e.Season = season
	answers, err := s.Append(context.Background(), []vine.Event{e})
	require.NoError(w.t, err)
	require.Equal(w.t, store.Stored, answers[0].Result, answers[0].Reason)
	w.sent = append(w.sent, e.ID)
}

func (w *writers) first(s *gpkg.Store) store.Vine {
	return lookAt(w.t, s, w.block, 2027).vines[0]
}

// steps are the ways in which the file changes.
func (w *writers) steps() map[string]func(*gpkg.Store) {
	t, ctx := w.t, w.t.Context()
	change := func(s *gpkg.Store, do func(*store.Vine)) {
		v := w.first(s)
		do(&v)
		require.NoError(t, s.Update(ctx, func(tx store.Tx) error { return tx.SaveVines([]store.Vine{v}) }))
	}
	gis := func(sql string) func(*gpkg.Store) {
		return func(s *gpkg.Store) { require.NoError(t, behind(w.path, sql)) }
	}
	return map[string]func(*gpkg.Store){
		"an event about a vine": func(s *gpkg.Store) {
			w.append(s, vine.Sighting{Condition: vine.Weak}, 2027, w.first(s).ID)
		},
		"an event about the block, the year before": func(s *gpkg.Store) {
			w.append(s, vine.Sighting{Condition: vine.Young}, 2026)
		},
		"an event taken back": func(s *gpkg.Store) {
			if len(w.sent) > 0 {
				w.append(s, vine.Void{Event: w.sent[len(w.sent)-1]}, 2027)
				w.sent = nil // a void of a void is refused
			}
		},
		"new rows":  func(s *gpkg.Store) { require.NoError(t, s.Update(ctx, w.plant)) },
		"a new tag": func(s *gpkg.Store) { change(s, func(v *store.Vine) { v.Tag += "x" }) },
		"a vine moved": func(s *gpkg.Store) {
			change(s, func(v *store.Vine) { v.Point[0] += 1e-5 })
		},
		"another planting of the block": func(s *gpkg.Store) {
			require.NoError(t, s.Update(ctx, func(tx store.Tx) error {
				b, err := tx.Blocks(ctx)
				if err != nil {
					return err
				}
				b[0].Planted++
				return tx.SaveBlocks(b)
			}))
		},
		"read while writing, and given up": func(s *gpkg.Store) {
			stop := errors.New("stop")
			err := s.Update(ctx, func(tx store.Tx) error {
				if err := w.plant(tx); err != nil {
					return err
				}
				for _, err := range tx.Vines(ctx, w.block) {
					require.NoError(t, err)
				}
				w.look(t, s) // from beside the transaction
				return stop
			})
			require.ErrorIs(t, err, stop)
		},
		"GIS: a vine moved":        gis("UPDATE vine SET chainage_m = chainage_m + 1 WHERE id = (SELECT max(id) FROM vine)"),
		"GIS: the order of rows":   gis("UPDATE vine_row SET ord = -ord"),
		"GIS: a vine taken out":    gis("DELETE FROM vine WHERE id = (SELECT max(id) FROM vine) AND number > 1"),
		"GIS: a vine put in":       gis("INSERT INTO vine SELECT max(id) + 1000, geom, block_id, row_id, number + 900, 0, 0, 0, NULL, NULL FROM vine"),
		"GIS: all states gone":     gis("DELETE FROM vine_state"),
		"GIS: a state overwritten": gis("INSERT OR REPLACE INTO vine_state SELECT * FROM vine_state ORDER BY id LIMIT 1"),
		"GIS: a state":             gis("UPDATE vine_state SET condition = 'dead' WHERE id = (SELECT max(id) FROM vine_state)"),
	}
}

// behind runs SQL on a file as a GIS does: with the standard's functions, and
// with nothing of this program.
func behind(path, sql string) error {
	c, err := sqlite3.Open(path)
	if err != nil {
		return err
	}
	defer c.Close()
	if err = c.BusyTimeout(time.Minute); err == nil {
		err = gpkg.Extend(c)
	}
	if err == nil {
		err = c.Exec(sql)
	}
	return err
}

// TestCopiesKept opens a file again and again: what was read once is read from
// copies then, also by a reader, who makes none.
func TestCopiesKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	f := plantSmall(t, s)
	_, err := s.Append(t.Context(), f.everything())
	require.NoError(t, err)
	copies := func(s *gpkg.Store) int {
		_, _, n, err := s.FromRows(t.Context(), f.block, 2027)
		require.NoError(t, err)
		return n
	}
	assert.Zero(t, copies(s), "a small block is copied when it is read")
	want := lookAt(t, s, f.block, 2027)
	require.NoError(t, s.Close()) // writes what waits
	for _, o := range []gpkg.Options{{ReadOnly: true}, {}} {
		s = open(t, path, o)
		assert.Equal(t, 2, copies(s))
		assert.Equal(t, want, lookAt(t, s, f.block, 2027))
		require.NoError(t, s.Close())
	}
	require.NoError(t, behind(path, "DELETE FROM block_copy"))
	s = open(t, path, gpkg.Options{ReadOnly: true})
	assert.Equal(t, want, lookAt(t, s, f.block, 2027))
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"0"}, query(t, path, "SELECT count(*) FROM block_copy"))
}

// TestCopiesAtOnce writes a large block: its copies are there when the
// transaction is.
func TestCopiesAtOnce(t *testing.T) {
	skipUnderRace(t)
	s := open(t, filepath.Join(t.TempDir(), "x.gpkg"), gpkg.Options{Create: true})
	defer s.Close()
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error { return importBlock(t.Context(), tx, 1) }))
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	vines, states, copies, err := s.FromRows(t.Context(), blocks[0].ID, 2027)
	require.NoError(t, err)
	assert.Equal(t, 2, copies)
	got := lookAt(t, s, blocks[0].ID, 2027)
	assert.Equal(t, vines, got.vines)
	assert.Equal(t, states, got.states)
}

// TestCopiesChecked damages copies so that they still count.
func TestCopiesChecked(t *testing.T) {
	const now = "revision = (SELECT revision FROM block_revision), edits = (SELECT value FROM counter WHERE name = 'edits')"
	for name, sql := range map[string]string{
		"states of yesterday":   "UPDATE block_copy SET " + now + ", data = (SELECT data FROM old WHERE season = 2027) WHERE season = 2027",
		"vines of yesterday":    "UPDATE block_copy SET data = (SELECT data FROM old WHERE season = 0) WHERE season = 0",
		"states cut short":      "UPDATE block_copy SET data = substr(data, 1, length(data) - 3) WHERE season = 2027",
		"a byte of the vines":   "UPDATE block_copy SET data = CAST(substr(data, 1, 20) || x'17' || substr(data, 22) AS BLOB) WHERE season = 0",
		"states of no form":     "UPDATE block_copy SET data = x'ff00' WHERE season = 2027",
		"the vines for a state": "UPDATE block_copy SET data = (SELECT data FROM block_copy WHERE season = 0) WHERE season = 2027",
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "x.gpkg")
			s := open(t, path, gpkg.Options{Create: true})
			defer s.Close()
			s.KeepAtOnce()
			f := plantSmall(t, s)
			lookAt(t, s, f.block, 2027)
			require.NoError(t, behind(path, "CREATE TABLE old AS SELECT * FROM block_copy"))
			f.vines[2].Tag = "new"
			require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error { return tx.SaveVines(f.vines) }))
			_, err := s.Append(t.Context(), f.everything())
			require.NoError(t, err)
			want := lookAt(t, s, f.block, 2027)
			before, err := s.Blocks(t.Context())
			require.NoError(t, err)
			require.NoError(t, behind(path, sql))
			for _, write := range []bool{false, true} {
				got, err := s.Rebuild(t.Context(), write, nil)
				require.NoError(t, err)
				assert.Equal(t, 6, got.Vines)
				assert.Positive(t, got.Wrong, "write %v", write)
			}
			got, err := s.Rebuild(t.Context(), false, nil)
			require.NoError(t, err)
			assert.Zero(t, got.Wrong)
			assert.Equal(t, want, lookAt(t, s, f.block, 2027))
			after, err := s.Blocks(t.Context())
			require.NoError(t, err)
			assert.Greater(t, after[0].GroundRev, before[0].GroundRev, "whoever holds the block learns of it")
		})
	}
}
