package work

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/replant"
	"courson/geo/vine"
	"courson/store"
)

// What is planned, ordered, listed and noted goes with the vines, and comes back.
func TestSplit_CarriesOver(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		block, v := drawnBlock(t, st)
		furnishBlock(t, st, block, v)
		made := splitNow(t, st, block, SplitOrder{Line: lineAt([2]float64{0, 20.2}, [2]float64{20, 20.2}), Side: "N", Code: "N2"})
		assert.ElementsMatch(t, []CarriedOver{{"orders", 1}, {"lists", 2}, {"plans", 1}, {"overrides", 1}, {"replants", 1}, {"renewals", 1}, {"surveys", 1}, {"standards", 1}}, made.Carry)
		require.Len(t, made.Words, 1)
		assert.Contains(t, made.Words[0], "zones and rates of 2027")
		north := made.Parts[1].Block
		near, far := v["3/10"].ID, v["3/30"].ID
		for b, want := range map[vine.ID]vine.ID{block: near, north: far} {
			checkFurnished(t, st, b, want)
		}
		orders, err := Orders(t.Context(), st, OrderQuery{})
		require.NoError(t, err)
		require.Len(t, orders, 2)
		got := map[string][2]int{}
		for _, o := range orders {
			require.Len(t, o.Rows, 1)
			got[o.Code] = [2]int{o.Rows[0].From, o.Rows[0].To}
		}
		assert.Equal(t, map[string][2]int{"N1": {5, 20}, "N2": {21, 35}}, got)
		takeBackNow(t, st, block)
		entries, err := st.PlanEntries(t.Context(), store.PlanPruning, 2027, block)
		require.NoError(t, err)
		assert.Len(t, entries, 2)
		moves, err := ReplantMoves(t.Context(), st, block)
		require.NoError(t, err)
		assert.Len(t, moves, 2)
		orders, err = Orders(t.Context(), st, OrderQuery{})
		require.NoError(t, err)
		for _, o := range orders {
			assert.Equal(t, block, o.Block)
			assert.Equal(t, v["3/1"].Row, o.Rows[0].Row)
		}
		kept, err := KeptEvidence(t.Context(), st, block)
		require.NoError(t, err)
		points := 0
		for i := range kept {
			require.NoError(t, eachPart(t.Context(), st, block, &kept[i], func(p *keptPoints) { points += len(p.Vine) }))
		}
		assert.Equal(t, 2, points)
	})
}

// furnishBlock gives vines 3/10 and 3/30 something of every kind.
func furnishBlock(t *testing.T, st store.Store, block vine.ID, v map[string]store.Vine) {
	t.Helper()
	near, far := v["3/10"], v["3/30"]
	both := []vine.ID{near.ID, far.ID}
	require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
		g, _, _, err := LoadGround(t.Context(), tx, block)
		if err != nil {
			return err
		}
		entries := []store.PlanEntry{{Vine: near.ID, Nodes: 10, Canes: 1, Spurs: 2}, {Vine: far.ID, Nodes: 12, Canes: 1, Spurs: 2}}
		for _, kind := range []store.PlanKind{store.PlanPruning, PlanOverride} {
			if _, err := tx.SavePlan(store.Plan{Kind: kind, Season: 2027, Block: block, By: "Ada", Source: "rule"}, entries); err != nil {
				return err
			}
		}
		if err := SaveOrder(tx, g, &Order{Season: 2027, Operation: "pruning", Block: block, Crew: "A", Rows: []OrderRow{{Row: near.Row, From: 5, To: 35}}}, "Ada", clock()); err != nil {
			return err
		}
		h := Handed{Season: 2027, Block: block, Vines: both}
		if err := HandOver(tx, g, &WeighingList{Handed: h, Unit: "g"}, "Ada", clock()); err != nil {
			return err
		}
		h.Vines = []vine.ID{near.ID, far.ID}
		if err := (&ReviewList{h}).HandOver(tx, g, "Ada", clock()); err != nil {
			return err
		}
		day := replant.Day(20000)
		moves := []replant.Move{{Vine: near.ID, To: replant.ToReplace, Day: day}, {Vine: far.ID, To: replant.ToReplace, Day: day}}
		if err := AddReplantMoves(t.Context(), tx, g, moves, "Ada", clock()); err != nil {
			return err
		}
		for _, x := range []store.Vine{near, far} {
			if err := tx.SavePaper(store.Paper{Kind: PaperRenewal, Key: fmt.Sprint(x.ID), Block: block, Value: json.RawMessage(`{"plans":[{"arm":"a","left":2027,"use":2028,"remove":2029}]}`)}); err != nil {
				return err
			}
		}
		points := &keptPoints{Lon: []float64{8, 8}, Lat: []float64{49, 49}, Vine: both, Score: []float64{0.5, 0.6}}
		j, err := newJournal(t.Context(), tx)
		if err != nil {
			return err
		}
		if _, err := keepEvidence(t.Context(), j, block, Kept{Kind: Detections, Name: "flight", Season: 2027, Points: 2, Stretches: [][2]vine.ID{both2(both)}}, points); err != nil {
			return err
		}
		if err := tx.SaveStandards(store.Standards{Block: block, By: "Ada", Value: json.RawMessage(`{"vigour":{"limits_kg_m":[0.1,0.2,0.3,0.4]}}`)}); err != nil {
			return err
		}
		return tx.SavePaper(store.Paper{Kind: PaperZones, Key: zonesKey(block, 2027), Season: 2027, Block: block, Value: json.RawMessage(`{"id":"z"}`)})
	}))
}

func both2(v []vine.ID) [2]vine.ID { return [2]vine.ID{v[0], v[1]} }

// checkFurnished holds that a block has of every kind what is of one vine, no more.
func checkFurnished(t *testing.T, st store.Store, block, want vine.ID) {
	t.Helper()
	ctx := t.Context()
	for _, kind := range []store.PlanKind{store.PlanPruning, PlanOverride} {
		entries, err := st.PlanEntries(ctx, kind, 2027, block)
		require.NoError(t, err)
		require.Len(t, entries, 1, kind)
		assert.Equal(t, want, entries[0].Vine)
	}
	weighing, err := WeighingLists(ctx, st, HandedQuery{Block: block})
	require.NoError(t, err)
	require.Len(t, weighing, 1)
	assert.Equal(t, []vine.ID{want}, weighing[0].Vines)
	reviews, err := ReviewLists(ctx, st, HandedQuery{Block: block})
	require.NoError(t, err)
	require.Len(t, reviews, 1)
	assert.Equal(t, []vine.ID{want}, reviews[0].Vines)
	moves, err := ReplantMoves(ctx, st, block)
	require.NoError(t, err)
	require.Len(t, moves, 1)
	assert.Equal(t, want, moves[0].Vine)
	renewals, err := Renewals(ctx, st, block)
	require.NoError(t, err)
	require.Len(t, renewals, 1)
	assert.Contains(t, renewals, want)
	kept, err := KeptEvidence(ctx, st, block)
	require.NoError(t, err)
	require.Len(t, kept, 1)
	require.NoError(t, eachPart(ctx, st, block, &kept[0], func(p *keptPoints) { assert.Equal(t, []vine.ID{want}, p.Vine) }))
	require.Len(t, kept[0].Stretches, 1)
	assert.Contains(t, kept[0].Stretches[0], want)
	standards, err := ownStandards(ctx, st, block)
	require.NoError(t, err)
	require.NotNil(t, standards)
	zones, err := NewestZones(ctx, st, block, 2027)
	require.NoError(t, err)
	assert.Nil(t, zones)
}
