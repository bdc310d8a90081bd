package postgis_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/postgis"
)

// plant lays out blocks of rows of vines and gives them as stored.
func plant(t testing.TB, s store.Store, blocks, rows, vines int) ([]store.Block, []store.Row, []store.Vine) {
	t.Helper()
	var bs []store.Block
	var rs []store.Row
	var vs []store.Vine
	err := s.Update(context.Background(), func(tx store.Tx) error {
		for b := range blocks {
			x := 5 + 0.01*float64(b)
			bs = append(bs, store.Block{Code: string(rune('A'+b%26)) + string(rune('0'+b/26)), Variety: "Rosella", Planted: 2010, RowSpacingM: 2, VineSpacingM: 1,
				Outline: orb.MultiPolygon{{{{x, 45}, {x + .005, 45}, {x + .005, 45.005}, {x, 45.005}, {x, 45}}}}})
		}
		if err := tx.SaveBlocks(bs); err != nil {
			return err
		}
		for _, b := range bs {
			for r := range rows {
				at := b.Outline[0][0][0]
				x := at[0] + .005*float64(r+1)/float64(rows+1)
				rs = append(rs, store.Row{Block: b.ID, Label: string(rune('1'+r%9)) + string(rune('a'+r/9)), Ord: r + 1,
					Line: orb.MultiLineString{{{x, 45}, {x, 45.005}}}, LengthM: float64(vines)})
			}
		}
		if err := tx.SaveRows(rs); err != nil {
			return err
		}
		for _, r := range rs {
			for v := range vines {
				vs = append(vs, store.Vine{Block: r.Block, Row: r.ID, Number: v + 1, ChainageM: float64(v),
					Point: orb.Point{r.Line[0][0][0], 45 + .005*float64(v)/float64(vines)}})
			}
		}
		return tx.SaveVines(vs)
	})
	require.NoError(t, err)
	return bs, rs, vs
}

var epoch = time.Date(2027, 1, 12, 9, 0, 0, 0, time.UTC)

func event(body vine.Body, block vine.ID, vines ...vine.ID) vine.Event {
	return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: 1, At: epoch, Received: epoch, By: "Ada",
		Season: 2027, Target: vine.Target{Block: block, Vines: vines}, Kind: body.Kind(), Body: body}
}

func TestSmoke(t *testing.T) {
	ctx := context.Background()
	s := open(t, newDatabase(t), postgis.Options{})
	bs, rs, vs := plant(t, s, 2, 3, 10)
	require.NoError(t, s.Ready(ctx))
	blocks, err := s.Blocks(ctx)
	require.NoError(t, err)
	require.Equal(t, bs[0].Outline, blocks[0].Outline)
	rows, err := s.Rows(ctx, bs[0].ID)
	require.NoError(t, err)
	require.Equal(t, rs[:3], rows)
	var got []store.Vine
	for v, err := range s.Vines(ctx, bs[0].ID) {
		require.NoError(t, err)
		got = append(got, v)
	}
	require.Equal(t, vs[:30], got)
	changes, err := s.Changes(ctx)
	require.NoError(t, err)
	answers, err := s.Append(ctx, []vine.Event{
		event(vine.Sighting{Condition: vine.Dead, Cause: "frost"}, bs[0].ID, vs[3].ID),
		event(vine.Work{Operation: "pruning", Progress: vine.Done}, bs[0].ID),
		event(vine.Work{Operation: "pruning", Progress: vine.Done}, 999),
	})
	require.NoError(t, err)
	require.Equal(t, store.Stored, answers[0].Result)
	require.Equal(t, store.Stored, answers[1].Result)
	require.Equal(t, store.Refused, answers[2].Result)
	t.Log(answers[2].Reason)
	c := <-changes
	require.Equal(t, bs[0].ID, c.Block)
	n := 0
	for st, err := range s.States(ctx, bs[0].ID, 2027, 0) {
		require.NoError(t, err)
		n++
		_ = st
	}
	require.Equal(t, 30, n)
	events, err := s.Events(ctx, store.EventQuery{Vine: vs[3].ID})
	require.NoError(t, err)
	require.Len(t, events, 2)
	r, err := s.Rebuild(ctx, false, nil)
	require.NoError(t, err)
	require.Equal(t, store.Rebuilt{Vines: 60}, r)
	found, err := s.FindLabel(ctx, "a0/1A/4")
	require.NoError(t, err)
	require.Len(t, found, 1)
}
