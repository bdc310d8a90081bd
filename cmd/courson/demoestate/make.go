package demoestate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

// Zone is where the estate's clocks stand.
const Zone = "America/Argentina/Salta"

// Vines is the usual size.
const Vines = 60_000

// Made counts what was made.
type Made struct {
	Blocks, Rows, Vines, Events int
}

// Make writes the estate of about so many vines into an empty store, in one
// transaction. Progress is told blocks done and in all; it may be nil.
func Make(ctx context.Context, st store.Store, seed uint64, vines int, progress func(done, total int)) (Made, error) {
	zone, err := time.LoadLocation(Zone)
	if err != nil {
		return Made{}, fmt.Errorf("demo estate: %w", err)
	}
	m := maker{
		rng:    rand.New(rand.NewPCG(seed, 2)),
		soil:   soil{seed: seed},
		estate: frame.New(centre),
		log:    &logbook{rng: rand.New(rand.NewPCG(seed, 3)), zone: zone, seq: map[string]uint64{}},
	}
	ds := designs(vines, m.rng)
	err = st.Update(ctx, func(tx store.Tx) error {
		if err := tx.SaveEstate(store.Estate{Name: Name, South: true, Zone: Zone, ScoreScale: ScoreScale}); err != nil {
			return err
		}
		for i, d := range ds {
			if err := m.block(ctx, tx, d, i, len(ds)); err != nil {
				return fmt.Errorf("block %s: %w", d.code, err)
			}
			if progress != nil {
				progress(i+1, len(ds))
			}
		}
		return m.direct(ctx, tx)
	})
	if err != nil {
		return Made{}, fmt.Errorf("demo estate: %w", err)
	}
	return m.made, nil
}

type maker struct {
	rng    *rand.Rand
	soil   soil
	estate frame.Frame
	log    *logbook
	made   Made
	begun  []begun

	rowsDone int // of the block at hand, in the present winter
}

// block draws one block, lets its vines live, and writes it with its log.
func (m *maker) block(ctx context.Context, tx store.Tx, d design, n, of int) error {
	l, err := d.draw(m.estate)
	if err != nil {
		return err
	}
	b := []store.Block{{
		Code: d.code, Name: d.name, Variety: d.variety, Clone: d.clone, Rootstock: d.rootstock,
		Planted: d.planted, RowSpacingM: d.rowSpacing, VineSpacingM: d.vineSpacing, System: d.system,
		NumberingEnd: d.end, Outline: l.outline,
	}}
	if err := tx.SaveBlocks(b); err != nil {
		return err
	}
	rows, err := m.ground(tx, l, b[0].ID)
	if err != nil {
		return err
	}
	m.rowsDone = 0
	m.live(rows, n, of)
	if err := m.append(ctx, tx); err != nil {
		return err
	}
	m.begun = append(m.begun, begun{block: b[0], rows: rows, done: m.rowsDone})
	return m.plans(tx, rows, b[0].ID)
}

// ground writes rows and vines and gives them back with their invented lives.
func (m *maker) ground(tx store.Tx, l land, block vine.ID) ([]rowOf, error) {
	rows := make([]store.Row, len(l.rows))
	for i, r := range l.rows {
		rows[i] = store.Row{Block: block, Label: r.label, Ord: i + 1, Line: r.line, LengthM: r.lengthM}
	}
	if err := tx.SaveRows(rows); err != nil {
		return nil, err
	}
	spots := m.spots(l.design)
	vines := []store.Vine{}
	out := make([]rowOf, len(rows))
	for i, r := range l.rows {
		out[i] = rowOf{block: block, row: rows[i].ID, spacing: l.design.vineSpacing, design: l.design}
		for _, p := range r.places {
			vines = append(vines, store.Vine{Block: block, Row: rows[i].ID, Number: p.Number, Point: p.Point, ChainageM: p.ChainageM, Part: p.Part})
			depth := m.soil.depth(p.east, p.north, l.design.depth)
			out[i].plants = append(out[i].plants, grow(l.design, depth, spots.near(p.east, p.north), m.rng))
		}
	}
	if err := tx.SaveVines(vines); err != nil {
		return nil, err
	}
	k := 0
	for i := range out {
		for range out[i].plants {
			out[i].vines = append(out[i].vines, vines[k].ID)
			k++
		}
	}
	m.made.Blocks++
	m.made.Rows += len(rows)
	m.made.Vines += len(vines)
	return out, nil
}

// diseaseSpots are where trunk disease sits in an old block.
type diseaseSpots []frame.XY

// spots puts two or three spots into blocks past their twelfth leaf.
func (m *maker) spots(d design) diseaseSpots {
	if vine.Leaf(d.planted, FirstSeason) <= 12 {
		return nil
	}
	out := make(diseaseSpots, 2+m.rng.IntN(2))
	for i := range out {
		out[i] = d.turn(frame.XY{X: (m.rng.Float64() - 0.5) * d.width * 0.8, Y: (m.rng.Float64() - 0.5) * d.length * 0.8})
	}
	return out
}

// near is 1 at the heart of a spot and fades within some 14 m.
func (s diseaseSpots) near(east, north float64) float64 {
	most := 0.0
	for _, c := range s {
		d := frame.Dist(c, frame.XY{X: east, Y: north})
		most = max(most, math.Exp(-d*d/(2*7*7)))
	}
	return most
}

// append writes the events made so far.
func (m *maker) append(ctx context.Context, tx store.Tx) error {
	answers, err := tx.Append(ctx, m.log.events)
	if err != nil {
		return err
	}
	for _, a := range answers {
		if a.Result != store.Stored {
			return fmt.Errorf("event %s: %s %s", a.ID, a.Result, a.Reason)
		}
	}
	m.made.Events += len(m.log.events)
	m.log.events = m.log.events[:0]
	return nil
}

// plans writes the pruning plans of the two last winters.
func (m *maker) plans(tx store.Tx, rows []rowOf, block vine.ID) error {
	for w := 1; w < 3; w++ {
		all := []store.PlanEntry{}
		for _, r := range rows {
			all = append(all, entries(r, w)...)
		}
		if len(all) == 0 {
			continue
		}
		head := store.Plan{
			Kind: store.PlanPruning, Season: seasonAt(w), Block: block, By: "agronomist",
			Made: m.log.day(w, 2), Source: "the invented estate's sheet", Inputs: map[string]any{"wanted_cane_weight_g": caneWeightG},
		}
		if _, err := tx.SavePlan(head, all); err != nil {
			return err
		}
	}
	return nil
}
