package demoestate

import (
	"context"
	"errors"
	"fmt"
	"time"

	"courson/geo/replant"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// What has been decided for the year beyond the winter's work: compost by zones in
// two blocks, and the gaps of another that are being filled.
var (
	composted = map[string]string{
		"C1": `{"zones": {"method": "k-means", "zones": 3, "width_m": 4.4}, "rates": {"material": "compost", "aim": "even out", "rule": "by zone", "unit": "t/ha", "by_zone": [20, 12, 4]}}`,
		"C3": `{"zones": {"method": "k-means", "zones": 2, "width_m": 4.4}, "rates": {"material": "compost", "aim": "even out", "rule": "by zone", "unit": "t/ha", "by_zone": [18, 6]}}`,
	}
	refilled = "C4"
)

// decided keeps the decisions of the blocks that this estate has.
func (m *maker) decided(ctx context.Context, tx store.Tx, now time.Time) error {
	for _, b := range m.begun {
		if text, ok := composted[b.block.Code]; ok {
			if err := zoned(ctx, tx, b.block, text, now.AddDate(0, 0, -9)); err != nil {
				return fmt.Errorf("zones of block %s: %w", b.block.Code, err)
			}
		}
		if b.block.Code == refilled {
			if err := m.refill(ctx, tx, b.block, now); err != nil {
				return fmt.Errorf("replants of block %s: %w", b.block.Code, err)
			}
		}
	}
	return nil
}

// zoned keeps a version of zones with their rates; a block that cannot be cut has none.
func zoned(ctx context.Context, tx store.Tx, b store.Block, order string, now time.Time) error {
	o, err := work.ParseRateOrder([]byte(order))
	if err != nil {
		return err
	}
	g, _, err := work.GroundOf(ctx, tx, b)
	if err != nil {
		return err
	}
	got, err := work.MakeRates(ctx, work.RateJob{Estate: Name, Block: b, Season: CurrentSeason, Order: o,
		In: func(ctx context.Context, season int) (work.Measured, error) {
			return work.MeasuredOn(ctx, tx, g, season)
		}})
	if errors.Is(err, work.ErrRates) {
		return nil
	}
	if err != nil {
		return err
	}
	_, err = work.SaveZones(tx, got, "agronomist", "compost before bud break", now)
	return err
}

// steps of the gaps on their way: how many days ago, and of how many places.
var steps = []struct {
	to    replant.Stage
	ago   int
	most  int
	batch string
}{{replant.ToReplace, 24, 40, ""}, {replant.Ordered, 17, 26, "N-27"}, {replant.HoleDug, 3, 11, ""}}

// refill takes the first gaps of a block some steps on.
func (m *maker) refill(ctx context.Context, tx store.Tx, b store.Block, now time.Time) error {
	g, _, err := work.GroundOf(ctx, tx, b)
	if err != nil {
		return err
	}
	var gaps []vine.ID
	for st, err := range tx.States(ctx, b.ID, CurrentSeason, 0) {
		if err != nil {
			return err
		}
		if st.State.Condition == vine.Missing {
			gaps = append(gaps, st.Vine)
		}
	}
	for _, s := range steps {
		var moves []replant.Move
		day := replant.DayOf(now.AddDate(0, 0, -s.ago), m.log.zone)
		for _, id := range gaps[:min(len(gaps), s.most)] {
			moves = append(moves, replant.Move{Vine: id, To: s.to, Day: day, By: "agronomist", Batch: s.batch})
		}
		if err := work.AddReplantMoves(ctx, tx, g, moves, "agronomist", now); err != nil {
			return err
		}
	}
	return nil
}
