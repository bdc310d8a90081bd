package work

import (
	"context"
	"encoding/json"
	"hash/fnv"
	"math"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// journal is a transaction that writes down what an import makes, and how what it
// changes stood before, so that it can be taken back as a whole.
type journal struct {
	store.Tx
	ctx     context.Context
	id      string
	from    store.Mark
	south   bool
	blocks  map[vine.ID]*TakenGround
	was     map[vine.ID]store.Block // all, as they stood
	rows    map[vine.ID][]store.Row // by block, as they stood
	prints  map[vine.ID]uint64      // of blocks and rows that it made, as saved last
	blockOf map[vine.ID]vine.ID     // of rows that it made
	vines   map[vine.ID]store.Vine  // of the block looked at last, as they stood
	of      vine.ID                 // that block
	before  before                  // not written yet
	size    int                     // of that, bytes
	papers  int                     // of what stood before, written
	plans   []takenPlan
	kept    []takenKept
	image   string // kept as a layer
	columns []takenColumns
}

// before is how ground stood before an import changed it.
type before struct {
	Blocks []changedThing[store.Block] `json:"blocks,omitempty"`
	Rows   []changedThing[store.Row]   `json:"rows,omitempty"`
	Vines  []changedThing[store.Vine]  `json:"vines,omitempty"`
}

// changedThing is a block, row or vine as it stood, and the print of what the
// import made of it.
type changedThing[T any] struct {
	Was T      `json:"was"`
	Now uint64 `json:"now"`
}

func newJournal(ctx context.Context, tx store.Tx) (*journal, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return nil, err
	}
	j := &journal{Tx: tx, ctx: ctx, id: id.String(), blocks: map[vine.ID]*TakenGround{}, was: map[vine.ID]store.Block{}, rows: map[vine.ID][]store.Row{},
		prints: map[vine.ID]uint64{}, blockOf: map[vine.ID]vine.ID{}}
	if j.from, err = tx.Mark(); err != nil {
		return nil, err
	}
	list, err := tx.Blocks(ctx)
	for _, b := range list {
		j.was[b.ID] = b
	}
	return j, err
}

// ground gives what is noted of a block that the import touches.
func (j *journal) ground(id vine.ID) *TakenGround {
	g := j.blocks[id]
	if g == nil {
		g = &TakenGround{ID: id, Code: j.was[id].Code, Made: id > j.from.ID}
		j.blocks[id] = g
	}
	return g
}

// SaveEstate notes where an import sets the hemisphere.
func (j *journal) SaveEstate(e store.Estate) error {
	old, err := j.Estate(j.ctx)
	if err == nil {
		err = j.Tx.SaveEstate(e)
	}
	j.south = j.south || err == nil && e.South && !old.South
	return err
}

// SaveBlocks notes how blocks stood.
func (j *journal) SaveBlocks(list []store.Block) error {
	if err := j.Tx.SaveBlocks(list); err != nil {
		return err
	}
	for _, b := range list {
		g := j.ground(b.ID)
		g.Code = b.Code
		now := printOf(blockPrint(b))
		if g.Made {
			j.prints[b.ID], j.blockOf[b.ID] = now, b.ID
		} else if was := j.was[b.ID]; printOf(blockPrint(was)) != now {
			j.before.Blocks = append(j.before.Blocks, changedThing[store.Block]{was, now})
			if err := j.grow(was); err != nil {
				return err
			}
		}
	}
	return nil
}

// SaveRows notes how rows stood.
func (j *journal) SaveRows(list []store.Row) error {
	for _, r := range list {
		if _, known := j.rows[r.Block]; !known && r.ID != 0 && r.Block <= j.from.ID {
			rows, err := j.Rows(j.ctx, r.Block)
			if err != nil {
				return err
			}
			j.rows[r.Block] = rows
		}
	}
	if err := j.Tx.SaveRows(list); err != nil {
		return err
	}
	for _, r := range list {
		j.ground(r.Block)
		now := printOf(rowPrint(r))
		if r.ID > j.from.ID {
			j.prints[r.ID], j.blockOf[r.ID] = now, r.Block
			continue
		}
		for _, was := range j.rows[r.Block] {
			if was.ID == r.ID && printOf(rowPrint(was)) != now {
				j.before.Rows = append(j.before.Rows, changedThing[store.Row]{was, now})
				if err := j.grow(was); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// SaveVines notes how vines stood. Those of one block are saved together, mostly.
func (j *journal) SaveVines(list []store.Vine) error {
	for _, v := range list {
		if err := j.stood(v); err != nil {
			return err
		}
	}
	if err := j.Tx.SaveVines(list); err != nil {
		return err
	}
	for _, v := range list {
		now := vinePrint(v)
		if v.ID > j.from.ID {
			j.ground(v.Block).Sum += now
			continue
		}
		j.ground(v.Block)
		if was := j.vines[v.ID]; was != v {
			j.before.Vines = append(j.before.Vines, changedThing[store.Vine]{was, now})
			j.vines[v.ID] = v
			if err := j.grow(was); err != nil {
				return err
			}
		}
	}
	return nil
}

// stood reads how a vine stands before it is written over.
func (j *journal) stood(v store.Vine) error {
	switch {
	case v.ID > j.from.ID: // made by this import, and saved once more
		was, err := j.Vine(j.ctx, v.ID)
		j.ground(v.Block).Sum -= vinePrint(was)
		return err
	case v.ID == 0 || j.of == v.Block:
		return nil
	}
	j.of, j.vines = v.Block, map[vine.ID]store.Vine{}
	for was, err := range j.Vines(j.ctx, v.Block) {
		if err != nil {
			return err
		}
		j.vines[was.ID] = was
	}
	return nil
}

// Append notes whose records these are.
func (j *journal) Append(ctx context.Context, events []vine.Event) ([]store.Answer, error) {
	answers, err := j.Tx.Append(ctx, events)
	for _, e := range events {
		j.ground(e.Target.Block)
	}
	return answers, err
}

// SavePlan notes a version of a plan.
func (j *journal) SavePlan(p store.Plan, entries []store.PlanEntry) (int64, error) {
	id, err := j.Tx.SavePlan(p, entries)
	if err == nil {
		j.ground(p.Block)
		j.plans = append(j.plans, takenPlan{p.Block, p.Season, id})
	}
	return id, err
}

// keep notes a survey, and the one whose place it takes.
func (j *journal) keep(block vine.ID, id string, instead *Kept) {
	j.kept = append(j.kept, takenKept{block, id, instead})
}

// mostBefore is how large what is kept in one paper may grow before it is packed, in
// bytes: packed it is a third, a paper holds 4 MB.
const mostBefore = 4 << 20

// grow counts what stood before, and writes it where it is much.
func (j *journal) grow(thing any) error {
	text, err := json.Marshal(thing)
	if err != nil {
		return err
	}
	if j.size += len(text) + 40; j.size < mostBefore {
		return nil
	}
	return j.flush()
}

// flush writes what stood before into a paper.
func (j *journal) flush() error {
	if j.size == 0 {
		return nil
	}
	data, err := pack(j.before)
	if err != nil {
		return err
	}
	err = savePaper(j.Tx, store.Paper{Kind: paperBefore, Key: beforeKey(j.id, j.papers)}, packed{data})
	j.before, j.size, j.papers = before{}, 0, j.papers+1
	return err
}

// end writes down the import.
func (j *journal) end(report *Report, job *ImportJob, now time.Time) error {
	to, err := j.Mark()
	if err == nil {
		err = j.flush()
	}
	if err != nil {
		return err
	}
	report.ID = j.id
	return saveTaken(j.Tx, j.taken(report, job, to, now))
}

// printOf is a number that tells forms of a thing apart (FNV-1a, 64 bits).
func printOf(v any) uint64 {
	text, err := json.Marshal(v)
	if err != nil {
		return 0 // what a store gives back is JSON
	}
	h := fnv.New64a()
	h.Write(text)
	return h.Sum64()
}

// blockPrint is what a change of a block shows in; its properties as they come
// back from JSON.
func blockPrint(b store.Block) any {
	b.Revision, b.GroundRev, b.Extra = 0, 0, plainJSON(b.Extra)
	if len(b.Outline) == 0 {
		b.Outline = nil
	}
	return b
}

func rowPrint(r store.Row) any {
	r.Extra = plainJSON(r.Extra)
	if len(r.Line) == 0 {
		r.Line = nil
	}
	return r
}

func plainJSON(extra map[string]any) (out map[string]any) {
	if text, err := json.Marshal(extra); err == nil && len(extra) > 0 {
		_ = json.Unmarshal(text, &out)
	}
	return out
}

// vinePrint is made for many vines: it writes no JSON.
func vinePrint(v store.Vine) uint64 {
	h := uint64(14695981039346656037)
	for _, n := range [...]uint64{uint64(v.ID), uint64(v.Block), uint64(v.Row), uint64(v.Number), uint64(v.Part), uint64(v.Planted),
		math.Float64bits(v.Point[0]), math.Float64bits(v.Point[1]), math.Float64bits(v.ChainageM)} {
		for range 8 {
			h = (h ^ n&0xff) * 1099511628211
			n >>= 8
		}
	}
	for i := range len(v.Tag) {
		h = (h ^ uint64(v.Tag[i])) * 1099511628211
	}
	return h
}
