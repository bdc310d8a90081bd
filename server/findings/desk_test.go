package findings

import (
	"context"
	"errors"
	"iter"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/server/stands"
	"courson/store"
	"courson/store/gpkg"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// spoilt is a store whose states cannot be read while it is told so, or take
// as long as somebody waits.
type spoilt struct {
	store.Store
	fail  chan error
	began chan struct{}
	hold  chan struct{}
}

func (s *spoilt) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	select {
	case err := <-s.fail:
		return func(yield func(store.VineState, error) bool) { yield(store.VineState{}, err) }
	default:
	}
	if s.hold != nil && after == 0 {
		select {
		case s.began <- struct{}{}:
		default:
		}
		select {
		case <-s.hold:
		case <-ctx.Done():
			return func(yield func(store.VineState, error) bool) { yield(store.VineState{}, ctx.Err()) }
		}
	}
	return s.Store.States(ctx, block, season, after)
}

// oneBlock is an estate of one scored row of 30 vines, and a desk for it.
func oneBlock(t *testing.T, spoil *spoilt) (*Desk, Key) {
	ctx := t.Context()
	st, err := gpkg.Open(ctx, filepath.Join(t.TempDir(), "estate.gpkg"), gpkg.Options{Create: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	f := frame.New(orb.Point{8.1, 49.2})
	var block store.Block
	require.NoError(t, st.Update(ctx, func(tx store.Tx) error {
		blocks := []store.Block{{Code: "A", RowSpacingM: 2, VineSpacingM: 1, Planted: 2005}}
		if err := tx.SaveBlocks(blocks); err != nil {
			return err
		}
		block = blocks[0]
		rows := []store.Row{{Block: block.ID, Label: "1", Ord: 1, LengthM: 30, Line: orb.MultiLineString{{f.Inverse(0, 0), f.Inverse(0, 30)}}}}
		if err := tx.SaveRows(rows); err != nil {
			return err
		}
		var vines []store.Vine
		for i := range 30 {
			vines = append(vines, store.Vine{Block: block.ID, Row: rows[0].ID, Number: i + 1, ChainageM: float64(i), Point: f.Inverse(0, float64(i))})
		}
		return tx.SaveVines(vines)
	}))
	now := time.Now()
	score := 3.0
	_, err = st.Append(ctx, []vine.Event{{ID: uuid.Must(uuid.NewV7()), Device: "d", Seq: 1, At: now, When: now, Received: now, Season: 2027,
		Target: vine.Target{Block: block.ID}, Kind: vine.KindMeasure, Body: vine.Measure{Quantity: vine.VisualScore, Unit: "score", Scale: "1-5", Value: &score}}})
	require.NoError(t, err)
	var s store.Store = st
	if spoil != nil {
		spoil.Store, s = st, spoil
	}
	cache := stands.New(s, stands.Options{})
	require.NoError(t, cache.Start(ctx))
	t.Cleanup(cache.Close)
	d := New(s, cache, slog.New(slog.DiscardHandler), time.Millisecond, nil)
	d.Start(ctx)
	t.Cleanup(d.Close)
	return d, Key{block.ID, 2027}
}

// reach waits for a state.
func reach(t *testing.T, d *Desk, k Key, want State) Status {
	t.Helper()
	var got Status
	require.Eventually(t, func() bool { _, got = d.Of(k); return got.State == want }, 10*time.Second, 5*time.Millisecond, "%v", want)
	return got
}

// TestDesk_SaysWhyNot: vines that are all alike have no patches, and what is
// found says so in words.
func TestDesk_SaysWhyNot(t *testing.T) {
	d, k := oneBlock(t, nil)
	notices := d.Subscribe(t.Context())
	_, status := d.Of(k)
	assert.Equal(t, Waiting, status.State)
	d.Look(2027)
	status = reach(t, d, k, Ready)
	f, _ := d.Of(k)
	require.NotNil(t, f.Patches)
	assert.Error(t, f.Patches.Refused)
	assert.Equal(t, f.Found.Stamp, status.Stamp)
	n := <-notices
	assert.Equal(t, k, n.Key)
	assert.Equal(t, Ready, n.State)
}

// TestDesk_Fails: a store that cannot be read is told as it is, and the next
// try works.
func TestDesk_Fails(t *testing.T) {
	s := &spoilt{fail: make(chan error, 1)}
	d, k := oneBlock(t, s)
	s.fail <- errors.New("the disk is gone")
	d.Look(2027)
	assert.Contains(t, reach(t, d, k, Failed).Detail, "the disk is gone")
	d.Again([]Key{k})
	reach(t, d, k, Ready)
}

// TestDesk_Cancel: work that runs ends at once; what waits is taken out; both
// can be taken up again.
func TestDesk_Cancel(t *testing.T) {
	s := &spoilt{fail: make(chan error), began: make(chan struct{}), hold: make(chan struct{})}
	d, k := oneBlock(t, s)
	d.Look(2027)
	<-s.began
	reach(t, d, k, Running)
	d.Cancel([]Key{k})
	reach(t, d, k, Cancelled)
	close(s.hold)
	d.Again([]Key{k})
	reach(t, d, k, Ready)
}
