package gpkg_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

// TestCopiesLaid makes a large block in one transaction in all orders, and holds
// the copies that come with it against the tables.
func TestCopiesLaid(t *testing.T) {
	skipUnderRace(t)
	ctx := context.Background()
	type maker struct {
		store.Tx
		block store.Block
		rows  []store.Row
		vines []store.Vine
	}
	events := func(m *maker, bodies ...vine.Body) error {
		var out []vine.Event
		for i, body := range bodies {
			var some []vine.ID
			if len(m.vines) > 0 && i > 0 { // the first is about the block
				some = []vine.ID{m.vines[i].ID, m.vines[len(m.vines)/2].ID}
			}
			e := small{block: m.block.ID}.event(i, body, some...)
			e.Season -= i % 2
			out = append(out, e)
		}
		_, err := m.Append(ctx, out)
		return err
	}
	weight := 300.0
	bodies := []vine.Body{vine.Sighting{Condition: vine.Bearing}, vine.Sighting{Condition: vine.Dead, Cause: "frost"},
		vine.Work{Operation: vine.Pruning, Progress: vine.Done}, vine.Measure{Quantity: vine.PruningWeight, Unit: "g", Value: &weight}}
	read := func(m *maker) error {
		for _, err := range m.States(ctx, m.block.ID, 2027, 0) {
			if err != nil {
				return err
			}
		}
		return nil
	}
	for _, c := range []struct {
		name          string
		before, after func(*maker) error
	}{
		{name: "vines alone"},
		{name: "vines, then events", after: func(m *maker) error { return events(m, bodies...) }},
		{name: "events, then vines", before: func(m *maker) error { return events(m, bodies[0]) }},
		{"events before and after", func(m *maker) error { return events(m, bodies[0]) }, func(m *maker) error { return events(m, bodies...) }},
		{name: "folded twice", after: func(m *maker) error {
			if err := events(m, bodies...); err != nil {
				return err
			}
			if err := read(m); err != nil {
				return err
			}
			return events(m, bodies[1:]...)
		}},
		{name: "rows set in another order after the fold", after: func(m *maker) error {
			if err := events(m, bodies...); err != nil {
				return err
			}
			if err := read(m); err != nil {
				return err
			}
			m.rows[0].Ord = 99
			return m.SaveRows(m.rows)
		}},
		{name: "vines written over", after: func(m *maker) error {
			if err := events(m, bodies...); err != nil {
				return err
			}
			m.vines[5].Tag = "other"
			m.vines[6].Planted = 2011
			return m.SaveVines(m.vines)
		}},
		{name: "a row more after the fold", after: func(m *maker) error {
			if err := events(m, bodies...); err != nil {
				return err
			}
			if err := read(m); err != nil {
				return err
			}
			row := []store.Row{{Block: m.block.ID, Label: "more"}}
			if err := m.SaveRows(row); err != nil {
				return err
			}
			return m.SaveVines([]store.Vine{{Block: m.block.ID, Row: row[0].ID, Number: 1, Part: 1 << 40}})
		}},
	} {
		for _, order := range []string{"as they stand", "shuffled"} {
			t.Run(c.name+", "+order, func(t *testing.T) {
				s := open(t, filepath.Join(t.TempDir(), "x.gpkg"), gpkg.Options{Create: true})
				defer s.Close()
				m := &maker{}
				require.NoError(t, s.Update(ctx, func(tx store.Tx) error {
					m.Tx = tx
					blocks := []store.Block{{Code: "A", Planted: 2010}}
					if err := tx.SaveBlocks(blocks); err != nil {
						return err
					}
					m.block = blocks[0]
					m.rows, m.vines = scatteredRows(m.block.ID, order == "shuffled")
					if err := tx.SaveRows(m.rows); err != nil {
						return err
					}
					for i := range m.vines {
						m.vines[i].Row = m.rows[m.vines[i].Row].ID
					}
					if c.before != nil {
						all := m.vines
						m.vines = nil
						if err := c.before(m); err != nil {
							return err
						}
						m.vines = all
					}
					for from := 0; from < len(m.vines); from += 700 {
						if err := tx.SaveVines(m.vines[from:min(from+700, len(m.vines))]); err != nil {
							return err
						}
					}
					if c.after != nil {
						return c.after(m)
					}
					return nil
				}))
				vines, states, copies, err := s.FromRows(ctx, m.block.ID, 2027)
				require.NoError(t, err)
				assert.GreaterOrEqual(t, len(vines), len(m.vines))
				want := 1
				if len(states) > 0 {
					want = 2
				}
				assert.Equal(t, want, copies)
				got := lookAt(t, s, m.block.ID, 2027)
				assert.Equal(t, vines, got.vines)
				assert.Equal(t, states, got.states)
				check, err := s.Rebuild(ctx, false, nil)
				require.NoError(t, err)
				assert.Zero(t, check.Wrong)
			})
		}
	}
}

// scatteredRows gives rows and vines whose Row is yet the place of their row.
func scatteredRows(block vine.ID, shuffled bool) (rows []store.Row, vines []store.Vine) {
	for i := range 30 {
		rows = append(rows, store.Row{Block: block, Label: fmt.Sprint(i), Ord: i / 2}) // two by two alike
		for n := range 75 {
			vines = append(vines, store.Vine{Block: block, Row: vine.ID(i), Number: n + 1, ChainageM: float64(n), Planted: n % 2 * 2012, Tag: map[int]string{3: "x"}[n]})
		}
	}
	if shuffled {
		random := rand.New(rand.NewPCG(3, 9))
		random.Shuffle(len(vines), func(i, j int) { vines[i], vines[j] = vines[j], vines[i] })
		for i := range rows {
			rows[i].Ord = -rows[i].Ord
		}
	}
	return rows, vines
}
