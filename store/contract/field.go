package contract

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// field is a block with its rows and vines as they were saved.
type field struct {
	block store.Block
	rows  []store.Row
	vines [][]store.Vine // by row
}

// firstVineYear is the planting season of the tests' blocks.
const firstVineYear = 2012

// layField makes, without saving it, a block of rows 2 m apart with vines 1 m
// apart, somewhere in the Atlantic: nobody's land.
func layField(code string, rows, perRow int) *field {
	const west, south, step = -30.0, 40.0, 1e-5
	f := &field{block: store.Block{
		Code: code, Planted: firstVineYear, RowSpacingM: 2, VineSpacingM: 1,
		Outline: orb.MultiPolygon{{{
			{west, south}, {west + 0.01, south}, {west + 0.01, south + 0.01}, {west, south + 0.01}, {west, south},
		}}},
	}}
	for i := range rows {
		x := west + float64(2*i)*step
		f.rows = append(f.rows, store.Row{
			Label: fmt.Sprint(i + 1), Ord: i + 1, LengthM: float64(perRow),
			Line: orb.MultiLineString{{{x, south}, {x, south + float64(perRow)*step}}},
		})
		var line []store.Vine
		for k := range perRow {
			line = append(line, store.Vine{Number: k + 1, ChainageM: float64(k), Point: orb.Point{x, south + float64(k)*step}})
		}
		f.vines = append(f.vines, line)
	}
	return f
}

// save writes the field and takes the ids given.
func (f *field) save(tx store.Tx) error {
	blocks := []store.Block{f.block}
	if err := tx.SaveBlocks(blocks); err != nil {
		return err
	}
	f.block = blocks[0]
	for i := range f.rows {
		f.rows[i].Block = f.block.ID
	}
	if err := tx.SaveRows(f.rows); err != nil {
		return err
	}
	for i := range f.vines {
		for k := range f.vines[i] {
			f.vines[i][k].Block, f.vines[i][k].Row = f.block.ID, f.rows[i].ID
		}
		if err := tx.SaveVines(f.vines[i]); err != nil {
			return err
		}
	}
	return nil
}

// all gives the vines in row order.
func (f *field) all() []store.Vine { return slices.Concat(f.vines...) }

func (f *field) place(v store.Vine) vine.Place {
	p := vine.Place{ID: v.ID, Row: v.Row, Block: v.Block, Planted: v.Planted}
	if p.Planted == 0 {
		p.Planted = f.block.Planted
	}
	return p
}

// plant saves a new field.
func plant(t *testing.T, s store.Store, code string, rows, perRow int) *field {
	t.Helper()
	f := layField(code, rows, perRow)
	update(t, s, f.save)
	return f
}

// update does one thing after the other in one transaction.
func update(t *testing.T, s store.Store, steps ...func(store.Tx) error) {
	t.Helper()
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error {
		for _, f := range steps {
			if err := f(tx); err != nil {
				return err
			}
		}
		return nil
	}))
}

// noon is the day from which the tests count: whole milliseconds, as devices
// send them.
func noon() time.Time { return time.Date(2027, 1, 12, 12, 0, 0, 0, time.UTC) }

// device makes events as one phone would: its own counter, a minute apart.
type device struct {
	name string
	seq  uint64
	now  time.Time
}

func newDevice(name string) *device { return &device{name: name, now: noon()} }

func (d *device) event(season int, target vine.Target, body vine.Body) vine.Event {
	d.seq++
	d.now = d.now.Add(time.Minute)
	return vine.Event{
		ID: uuid.Must(uuid.NewV7()), Device: d.name, Seq: d.seq, At: d.now, Received: d.now.Add(time.Hour),
		By: "Ada", Season: season, Target: target, Kind: body.Kind(), Body: body,
	}
}

func oneVine(v store.Vine) vine.Target {
	return vine.Target{Block: v.Block, Row: v.Row, Vines: []vine.ID{v.ID}}
}

func someVines(vines ...store.Vine) vine.Target {
	t := vine.Target{Block: vines[0].Block}
	for _, v := range vines {
		t.Vines = append(t.Vines, v.ID)
	}
	return t
}

func wholeRow(r store.Row) vine.Target     { return vine.Target{Block: r.Block, Row: r.ID} }
func wholeBlock(b store.Block) vine.Target { return vine.Target{Block: b.ID} }

func seen(c vine.Condition) vine.Sighting { return vine.Sighting{Condition: c} }

func weight(g ...float64) vine.Measure {
	m := vine.Measure{Quantity: vine.PruningWeight, Unit: "g"}
	if len(g) == 1 {
		m.Value = &g[0]
	} else {
		m.Values = g
	}
	return m
}

// store sends events that must all be stored.
func send(t *testing.T, s interface {
	Append(context.Context, []vine.Event) ([]store.Answer, error)
}, events ...vine.Event) {
	t.Helper()
	answers, err := s.Append(t.Context(), events)
	require.NoError(t, err)
	for i, a := range answers {
		require.Equal(t, store.Answer{ID: events[i].ID, Result: store.Stored}, a)
	}
}

// results sends events and gives the answers' results.
func results(t *testing.T, s store.Log, events ...vine.Event) []store.Result {
	t.Helper()
	answers, err := s.Append(t.Context(), events)
	require.NoError(t, err)
	out := make([]store.Result, len(answers))
	for i, a := range answers {
		require.Equal(t, events[i].ID, a.ID, "answer %d is for its event", i)
		require.Equal(t, a.Result == store.Refused, a.Reason != "", "a reason goes with a refusal and only with it: %+v", a)
		out[i] = a.Result
	}
	return out
}

// kept gives an event in the form in which a store keeps it.
func kept(e vine.Event) vine.Event {
	if e.When.IsZero() {
		e.When = e.At
	}
	for _, t := range []*time.Time{&e.At, &e.When, &e.Received} {
		*t = t.UTC().Truncate(time.Microsecond)
	}
	if s, ok := e.Body.(vine.Sighting); ok && s.LookAgain != nil {
		day := s.LookAgain.UTC().Truncate(time.Microsecond)
		s.LookAgain = &day
		e.Body = s
	}
	return e
}

func blockNow(t *testing.T, s store.Ground, id vine.ID) store.Block {
	t.Helper()
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	for _, b := range blocks {
		if b.ID == id {
			return b
		}
	}
	require.Failf(t, "no block", "block %d is gone", id)
	return store.Block{}
}

func vinesOf(t *testing.T, s store.Ground, block vine.ID) []store.Vine {
	t.Helper()
	var out []store.Vine
	for v, err := range s.Vines(t.Context(), block) {
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

func statesOf(t *testing.T, s store.Log, block vine.ID, season int, after int64) []store.VineState {
	t.Helper()
	var out []store.VineState
	for st, err := range s.States(t.Context(), block, season, after) {
		require.NoError(t, err)
		out = append(out, st)
	}
	return out
}

// stateOf gives one vine's state; ok is false where the store gives none.
func stateOf(t *testing.T, s store.Log, v store.Vine, season int) (vine.State, bool) {
	t.Helper()
	for _, st := range statesOf(t, s, v.Block, season, 0) {
		if st.Vine == v.ID {
			return st.State, true
		}
	}
	return vine.State{}, false
}

func logOf(t *testing.T, s store.Log, q store.EventQuery) []store.LoggedEvent {
	t.Helper()
	events, err := s.Events(t.Context(), q)
	require.NoError(t, err)
	return events
}

// idsOf gives the events' ids in order.
func idsOf(events []store.LoggedEvent) []uuid.UUID {
	out := make([]uuid.UUID, len(events))
	for i, e := range events {
		out[i] = e.ID
	}
	return out
}
