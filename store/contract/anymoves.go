package contract

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
	"courson/store"
)

// anyMoves draws moves of rows and vines between three blocks, and events about any
// ground at any time, sent in any order, with targets as a phone would name them that
// had heard of the moves up to then. Every state is the fold of the events that were
// stored, over places that say where each vine stood.
func anyMoves(t *testing.T, h Harness) {
	s := h.open(t)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		m := newMoveModel(t, s, n)
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			switch rapid.IntRange(0, 3).Draw(rt, "step") {
			case 0:
				m.moveRow(rt)
			case 1:
				m.moveVines(rt)
			default:
				m.record(rt)
			}
		}
		m.compare(rt)
	})
	requireSound(t, s)
}

// moveModel knows where every vine stood.
type moveModel struct {
	t      *testing.T
	s      store.Store
	d      *device
	blocks []vine.ID
	rows   []vine.ID
	in     map[vine.ID]vine.ID // row → block
	places map[vine.ID]vine.Place
	ids    []vine.ID
	labels int
}

func newMoveModel(t *testing.T, s store.Store, n int) *moveModel {
	m := &moveModel{t: t, s: s, d: newDevice(fmt.Sprint("d", n)), in: map[vine.ID]vine.ID{}, places: map[vine.ID]vine.Place{}}
	for _, code := range []string{"H3", "H4", "H5"} {
		f := plant(t, s, fmt.Sprint(code, "-", n), 2, 3)
		m.blocks = append(m.blocks, f.block.ID)
		for _, r := range f.rows {
			m.rows, m.in[r.ID] = append(m.rows, r.ID), f.block.ID
		}
		for _, v := range f.all() {
			m.ids, m.places[v.ID] = append(m.ids, v.ID), f.place(v)
		}
	}
	return m
}

// leave notes in the model what the store is told.
func (m *moveModel) leave(id, row, block vine.ID, at time.Time) {
	p := m.places[id]
	if p.Row == row && p.Block == block {
		return
	}
	p.Was = append(p.Was[:len(p.Was):len(p.Was)], vine.Stay{Row: p.Row, Block: p.Block, Until: at})
	p.Row, p.Block = row, block
	m.places[id] = p
}

func (m *moveModel) moveRow(rt *rapid.T) {
	row, block := rapid.SampledFrom(m.rows).Draw(rt, "row"), rapid.SampledFrom(m.blocks).Draw(rt, "block")
	m.d.now = m.d.now.Add(time.Minute)
	m.labels++
	update(m.t, m.s, func(tx store.Tx) error {
		if err := tx.MoveRows([]vine.ID{row}, block, m.d.now); err != nil {
			return err
		}
		return tx.SaveRows([]store.Row{{ID: row, Block: block, Label: "x" + string(rune('a'+m.labels)), Ord: m.labels}})
	})
	for _, id := range m.ids {
		if m.places[id].Row == row {
			m.leave(id, row, block, m.d.now)
		}
	}
	m.in[row] = block
}

func (m *moveModel) moveVines(rt *rapid.T) {
	row := rapid.SampledFrom(m.rows).Draw(rt, "to row")
	vines := rapid.SliceOfNDistinct(rapid.SampledFrom(m.ids), 1, 4, rapid.ID[vine.ID]).Draw(rt, "vines")
	m.d.now = m.d.now.Add(time.Minute)
	var save []store.Vine
	for i, id := range vines {
		m.labels++
		save = append(save, store.Vine{ID: id, Block: m.in[row], Row: row, Number: 100 + 10*m.labels + i})
		m.leave(id, row, m.in[row], m.d.now)
	}
	update(m.t, m.s, func(tx store.Tx) error {
		if err := tx.MoveVines(vines, row, m.d.now); err != nil {
			return err
		}
		return tx.SaveVines(save)
	})
}

// record sends an event of any time so far, its target as it was named then or is now.
func (m *moveModel) record(rt *rapid.T) {
	m.d.now = m.d.now.Add(time.Minute)
	at := noon().Add(time.Duration(rapid.Int64Range(0, int64(m.d.now.Sub(noon())/time.Second)).Draw(rt, "at")) * time.Second)
	row := rapid.SampledFrom(m.rows).Draw(rt, "about row")
	target := vine.Target{Block: m.in[row]}
	switch rapid.IntRange(0, 3).Draw(rt, "target") {
	case 0:
	case 1:
		target.Row = row
	default:
		id := rapid.SampledFrom(m.ids).Draw(rt, "about vine")
		p := m.places[id]
		target = vine.Target{Block: p.Block, Row: p.Row, Vines: []vine.ID{id}}
		if n := len(p.Was); n > 0 && rapid.Bool().Draw(rt, "as it stood") {
			target.Block, target.Row = p.Was[n-1].Block, p.Was[n-1].Row
		}
	}
	var body vine.Body = vine.Note{Text: "x"}
	if rapid.Bool().Draw(rt, "seen") {
		body = seen(vine.Weak)
	}
	e := m.d.event(rapid.IntRange(2026, 2027).Draw(rt, "season"), target, body)
	e.When = at
	send(m.t, m.s, e)
}

func (m *moveModel) compare(rt *rapid.T) {
	var events []vine.Event
	for _, e := range logOf(m.t, m.s, store.EventQuery{Device: m.d.name}) {
		events = append(events, e.Event)
	}
	for _, block := range m.blocks {
		states := statesByVine(m.t, m.s, block, 2027)
		view := map[vine.ID]int{}
		for _, e := range logOf(m.t, m.s, store.EventQuery{Block: block}) {
			require.Equal(rt, block, e.Target.Block)
			for _, id := range m.ids {
				if p := m.places[id]; e.Target.Covers(vine.Place{ID: p.ID, Row: p.Row, Block: p.Block}) {
					view[id]++
				}
			}
		}
		for _, id := range m.ids {
			p := m.places[id]
			if p.Block != block {
				continue
			}
			life := vine.Fold(p, events)
			require.Equal(rt, plain(life.In(2027, p)), plain(stateOr(states, p)), "vine %d, %+v", id, p)
			about := 0
			for _, e := range events {
				if e.Covers(p) {
					about++
				}
			}
			require.Equal(rt, about, view[id], "records of vine %d in its block", id)
			require.Len(rt, logOf(m.t, m.s, store.EventQuery{Vine: id}), about)
		}
	}
}

func stateOr(states map[vine.ID]store.VineState, p vine.Place) vine.State {
	if st, ok := states[p.ID]; ok {
		return st.State
	}
	return vine.Life{}.In(2027, p)
}
