package stands

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
	"courson/store/postgis"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// The invented estate of these tests: blocks of two rows side by side, going
// east.
const (
	rowVines = 12
	spacingM = 1.25
)

var testNow = time.Date(2027, time.January, 20, 10, 0, 0, 0, time.UTC)

// estate is a store with blocks A0, A1 … and counters of what was read.
type estate struct {
	store.Store
	t      testing.TB
	blocks []store.Block
	rows   map[vine.ID][]store.Row
	vines  map[vine.ID][]store.Vine
	seq    atomic.Uint64

	mu       sync.Mutex
	whole    int                 // stands read whole
	parts    int                 // stands read in part
	grounds  int                 // grounds read
	onStates func(vine.ID) error // called before states are read
}

// newEstate plants an estate in a GeoPackage of the test's own.
func newEstate(t testing.TB, blocks int) *estate {
	st, err := gpkg.Open(t.Context(), filepath.Join(t.TempDir(), "estate.gpkg"), gpkg.Options{Create: true})
	require.NoError(t, err)
	return plantIn(t, st, blocks)
}

// newPostgisEstate plants an estate in a database of the test's own, where
// COURSON_TEST_POSTGIS names a server.
func newPostgisEstate(t testing.TB, blocks int) *estate {
	server := os.Getenv("COURSON_TEST_POSTGIS")
	if server == "" {
		if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
			t.Fatal("COURSON_TEST_POSTGIS is not set and COURSON_TEST_REQUIRE=1 asks for it")
		}
		t.Skip("COURSON_TEST_POSTGIS is not set: it names a PostGIS server where databases may be made")
	}
	name := "courson_stands_" + strings.ReplaceAll(uuid.NewString(), "-", "")[:16]
	on := func(sql string) {
		conn, err := pgx.Connect(context.Background(), server)
		require.NoError(t, err)
		_, err = conn.Exec(context.Background(), sql)
		require.NoError(t, errors.Join(err, conn.Close(context.Background())))
	}
	on("CREATE DATABASE " + name)
	t.Cleanup(func() { on("DROP DATABASE IF EXISTS " + name + " WITH (FORCE)") })
	u, err := url.Parse(server)
	require.NoError(t, err)
	u.Path = "/" + name
	st, err := postgis.Open(t.Context(), u.String(), postgis.Options{Create: true, Estate: "test", MaxConns: 6})
	require.NoError(t, err)
	return plantIn(t, st, blocks)
}

func plantIn(t testing.TB, st store.Store, blocks int) *estate {
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	e := &estate{Store: st, t: t, rows: map[vine.ID][]store.Row{}, vines: map[vine.ID][]store.Vine{}}
	require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
		if err := tx.SaveEstate(store.Estate{Name: "Trockenried", ScoreScale: "1-5"}); err != nil {
			return err
		}
		for i := range blocks {
			if err := e.plant(tx, fmt.Sprintf("A%d", i), orb.Point{8.1 + 0.001*float64(i), 49.2}); err != nil {
				return err
			}
		}
		return nil
	}))
	return e
}

func (e *estate) plant(tx store.Tx, code string, at orb.Point) error {
	f := frame.New(at)
	length := spacingM * rowVines
	blocks := []store.Block{{Code: code, Planted: 2015, RowSpacingM: 2, VineSpacingM: spacingM,
		Outline: orb.MultiPolygon{{{f.Inverse(0, 0), f.Inverse(4, 0), f.Inverse(4, length), f.Inverse(0, length), f.Inverse(0, 0)}}}}}
	if err := tx.SaveBlocks(blocks); err != nil {
		return err
	}
	id := blocks[0].ID
	rows := make([]store.Row, 2)
	for r := range rows {
		x := float64(2*r + 1)
		rows[r] = store.Row{Block: id, Label: fmt.Sprint(r + 1), Ord: r + 1, LengthM: length,
			Line: orb.MultiLineString{{f.Inverse(x, 0), f.Inverse(x, length)}}}
	}
	if err := tx.SaveRows(rows); err != nil {
		return err
	}
	var vines []store.Vine
	for r, row := range rows {
		for v := range rowVines {
			along := (float64(v) + 0.5) * spacingM
			vines = append(vines, store.Vine{Block: id, Row: row.ID, Number: v + 1, Point: f.Inverse(float64(2*r+1), along), ChainageM: along})
		}
	}
	if err := tx.SaveVines(vines); err != nil {
		return err
	}
	e.blocks = append(e.blocks, blocks[0])
	e.rows[id], e.vines[id] = rows, vines
	return nil
}

func (e *estate) Vines(ctx context.Context, block vine.ID) iter.Seq2[store.Vine, error] {
	e.mu.Lock()
	e.grounds++
	e.mu.Unlock()
	return e.Store.Vines(ctx, block)
}

func (e *estate) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	e.mu.Lock()
	if after == 0 {
		e.whole++
	} else {
		e.parts++
	}
	before := e.onStates
	e.mu.Unlock()
	if before != nil {
		if err := before(block); err != nil {
			return func(yield func(store.VineState, error) bool) { yield(store.VineState{}, err) }
		}
	}
	return e.Store.States(ctx, block, season, after)
}

func (e *estate) before(f func(vine.ID) error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.onStates = f
}

// read gives how many grounds, whole stands and parts of stands were read.
func (e *estate) read() [3]int {
	e.mu.Lock()
	defer e.mu.Unlock()
	return [3]int{e.grounds, e.whole, e.parts}
}

// cache starts a cache over the estate.
func (e *estate) cache(o Options) *Cache {
	c := New(e, o)
	require.NoError(e.t, c.Start(e.t.Context()))
	e.t.Cleanup(c.Close)
	return c
}

// record stores a body for vines of a block.
func (e *estate) record(season int, block int, body vine.Body, vines ...vine.ID) vine.Event {
	e.t.Helper()
	ev := vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: e.seq.Add(1), At: testNow, When: testNow, Received: testNow,
		By: "Ada", Season: season, Target: vine.Target{Block: e.blocks[block].ID, Vines: vines}, Kind: body.Kind(), Body: body}
	answers, err := e.Append(e.t.Context(), []vine.Event{ev})
	require.NoError(e.t, err)
	require.Equal(e.t, store.Stored, answers[0].Result, answers[0].Reason)
	return ev
}

var done = vine.Work{Operation: vine.Pruning, Progress: vine.Done}

func (e *estate) vine(block, i int) vine.ID { return e.vines[e.blocks[block].ID][i].ID }

var errBroken = errors.New("the disk hums")
