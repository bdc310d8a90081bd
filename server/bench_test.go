package server

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/tile"
	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

// The estate of the benchmarks: blocks of 100 rows of 100 vines, ten blocks to
// the side, on a GeoPackage file: a million vines about each of which something
// is recorded.
const (
	benchSide   = 10
	benchRows   = 100
	benchInRow  = 100
	benchVines  = benchSide * benchSide * benchRows * benchInRow
	benchRowM   = 2.2
	benchVineM  = 1.0
	benchSeason = 2027
)

var benchAt = orb.Point{8.1, 49.2}

// bigEstate makes the file.
func bigEstate(b *testing.B) (path string, blocks []store.Block) {
	path = filepath.Join(b.TempDir(), "big.gpkg")
	st, err := gpkg.Open(b.Context(), path, gpkg.Options{Create: true})
	require.NoError(b, err)
	defer func() { require.NoError(b, st.Close()) }()
	f := frame.New(benchAt)
	require.NoError(b, st.Update(b.Context(), func(tx store.Tx) error {
		if err := tx.SaveEstate(store.Estate{ID: 1, Name: "Weitried", ScoreScale: "1-5"}); err != nil {
			return err
		}
		for k := range benchSide * benchSide {
			blk, err := plantBig(tx, f, k)
			if err != nil {
				return err
			}
			blocks = append(blocks, blk)
		}
		return nil
	}))
	for k, blk := range blocks {
		recordBig(b, st, blk, k)
	}
	return path, blocks
}

func plantBig(tx store.Tx, f frame.Frame, k int) (store.Block, error) {
	width, height := benchRowM*benchRows, benchVineM*benchInRow
	x0, y0 := float64(k%benchSide)*(width+10), float64(k/benchSide)*(height+10)
	at := func(x, y float64) orb.Point { return f.Inverse(x0+x, y0+y) }
	blocks := []store.Block{{Code: fmt.Sprintf("B%02d", k), Variety: "Riesling", Planted: 2000 + k%25, RowSpacingM: benchRowM, VineSpacingM: benchVineM,
		Outline: orb.MultiPolygon{{{at(0, 0), at(width, 0), at(width, height), at(0, height), at(0, 0)}}}}}
	if err := tx.SaveBlocks(blocks); err != nil {
		return blocks[0], err
	}
	rows := make([]store.Row, benchRows)
	for r := range rows {
		x := (float64(r) + 0.5) * benchRowM
		rows[r] = store.Row{Block: blocks[0].ID, Label: fmt.Sprint(r + 1), Ord: r + 1, LengthM: height, Line: orb.MultiLineString{{at(x, 0), at(x, height)}}}
	}
	if err := tx.SaveRows(rows); err != nil {
		return blocks[0], err
	}
	vines := make([]store.Vine, 0, benchRows*benchInRow)
	for r, row := range rows {
		for v := range benchInRow {
			along := (float64(v) + 0.5) * benchVineM
			vines = append(vines, store.Vine{Block: blocks[0].ID, Row: row.ID, Number: v + 1, Point: at((float64(r)+0.5)*benchRowM, along), ChainageM: along})
		}
	}
	return blocks[0], tx.SaveVines(vines)
}

// recordBig records the condition of every vine and the work on a third.
func recordBig(b *testing.B, st store.Store, blk store.Block, k int) {
	event := func(body vine.Body, row vine.ID) vine.Event {
		return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "bench", Seq: uint64(k + 1), At: testNow, When: testNow, Received: testNow,
			Season: benchSeason, Target: vine.Target{Block: blk.ID, Row: row}, Kind: body.Kind(), Body: body}
	}
	rows, err := st.Rows(b.Context(), blk.ID)
	require.NoError(b, err)
	events := []vine.Event{event(vine.Sighting{Condition: vine.Bearing}, 0)}
	for _, r := range rows[:benchRows/3] {
		events = append(events, event(vine.Work{Operation: vine.Pruning, Progress: vine.Done}, r.ID))
	}
	_, err = st.Append(b.Context(), events)
	require.NoError(b, err)
}

// benchServer opens the file and makes a server.
func benchServer(b *testing.B, path string) (*Server, func()) {
	st, err := gpkg.Open(context.Background(), path, gpkg.Options{})
	require.NoError(b, err)
	s, err := New(Config{Store: st, Now: func() time.Time { return testNow }, Pages: testPages()})
	require.NoError(b, err)
	return s, func() {
		require.NoError(b, s.Close())
		require.NoError(b, st.Close())
	}
}

// fetch asks the handler itself, as a browser would.
func fetch(b *testing.B, h http.Handler, path string) *httptest.ResponseRecorder {
	r := httptest.NewRequestWithContext(b.Context(), http.MethodGet, path, nil)
	r.Host = "localhost"
	r.Header.Set("Accept-Encoding", "gzip")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		b.Fatalf("%s: %d %s", path, w.Code, w.Body)
	}
	return w
}

func benchTile(b *testing.B, z uint8) tile.Tile {
	f := frame.New(benchAt)
	p := f.Inverse(benchSide/2*(benchRowM*benchRows+10)+30, benchSide/2*(benchVineM*benchInRow+10)+30)
	t, err := tile.At(p[0], p[1], z)
	require.NoError(b, err)
	return t
}

func tileAddress(t tile.Tile) string { return fmt.Sprintf("/tiles/%d/%s.mvt", benchSeason, t) }

// BenchmarkMillion measures a server over a million vines: start, memory, tiles
// and the way of an event into the tile.
func BenchmarkMillion(b *testing.B) {
	path, blocks := bigEstate(b)
	b.Run("start/tile-z17", func(b *testing.B) { benchStart(b, path, tileAddress(benchTile(b, 17))) })
	b.Run("start/tile-z14-all-blocks", func(b *testing.B) { benchStart(b, path, tileAddress(benchTile(b, 14))) })
	b.Run("start/estate", func(b *testing.B) { benchStart(b, path, "/api/estate") })
	b.Run("memory", func(b *testing.B) { benchMemory(b, path) })
	s, end := benchServer(b, path)
	defer end()
	require.NoError(b, s.Warm(b.Context()))
	for _, z := range []uint8{13, 14, 15, 16, 17, 18, 20} {
		b.Run(fmt.Sprintf("tile-drawn/z%d", z), func(b *testing.B) { benchDrawn(b, s, z) })
	}
	b.Run("tile-kept/z17", func(b *testing.B) {
		for b.Loop() {
			fetch(b, s.Handler(), tileAddress(benchTile(b, 17)))
		}
	})
	b.Run("event-to-tile", func(b *testing.B) { benchEvent(b, s, blocks) })
	b.Run("stand-binary", func(b *testing.B) {
		for b.Loop() {
			fetch(b, s.Handler(), fmt.Sprintf("/api/blocks/%s/stand/%d", blocks[55].Code, benchSeason))
		}
	})
}

// benchStart measures from opening the file to the first answer.
func benchStart(b *testing.B, path, address string) {
	for b.Loop() {
		s, end := benchServer(b, path)
		fetch(b, s.Handler(), address)
		b.StopTimer()
		end()
		b.StartTimer()
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/start")
}

// benchMemory holds one season of all blocks, then two more.
func benchMemory(b *testing.B, path string) {
	for b.Loop() {
		before := heapBytes()
		s, end := benchServer(b, path)
		for n, season := range []int{benchSeason, benchSeason + 1, benchSeason - 1} {
			require.NoError(b, s.stands.Warm(b.Context(), season))
			held := heapBytes() - before
			b.ReportMetric(held/benchVines/float64(n+1), fmt.Sprintf("B/vine/season(%d)", n+1))
			if n == 0 {
				b.ReportMetric(float64(s.stands.Stats().Bytes)/benchVines, "B/vine-accounted")
			}
		}
		runtime.KeepAlive(s)
		end()
	}
}

func heapBytes() float64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc)
}

// benchDrawn draws tiles that are not kept and reports the slow end.
func benchDrawn(b *testing.B, s *Server, z uint8) {
	middle := benchTile(b, z)
	var took []time.Duration
	n := 0
	for b.Loop() {
		s.tiles = newTileCache(1) // keeps nothing
		t := middle
		if z >= 16 { // go round among the blocks
			t.X += uint32(n % 3)
			t.Y -= uint32(n / 3 % 2)
		}
		n++
		start := time.Now()
		fetch(b, s.Handler(), tileAddress(t))
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
	s.tiles = newTileCache(defaultTileBytes)
}

// benchEvent posts an event and fetches the tile it changes.
func benchEvent(b *testing.B, s *Server, blocks []store.Block) {
	blk := blocks[benchSide*benchSide/2+benchSide/2]
	v, err := s.stands.Stand(b.Context(), blk.ID, benchSeason)
	require.NoError(b, err)
	address := tileAddress(benchTile(b, 17))
	tag := fetch(b, s.Handler(), address).Header().Get("ETag")
	var took []time.Duration
	n := 0
	for b.Loop() {
		n++
		body := fmt.Sprintf(`{"events":[{"id":%q,"device":"bench","seq":%d,"at":"2027-01-20T09:59:00Z","season":%d,"block":%d,"vines":[%d],"kind":"work","value":{"operation":"pruning","progress":%q}}]}`,
			uuid.Must(uuid.NewV7()), 1000+n, benchSeason, blk.ID, v.Stand.Ground.ID[n%1000], []string{"done", "to_redo"}[n%2])
		r := httptest.NewRequestWithContext(b.Context(), http.MethodPost, "/api/events", strings.NewReader(body))
		r.Host = "localhost"
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		start := time.Now()
		s.Handler().ServeHTTP(w, r)
		next := fetch(b, s.Handler(), address).Header().Get("ETag")
		took = append(took, time.Since(start))
		if !strings.Contains(w.Body.String(), `"stored"`) || next == tag {
			b.Fatalf("%s; tag %s", w.Body, next)
		}
		tag = next
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
}
