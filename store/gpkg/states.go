package gpkg

import (
	"cmp"
	"encoding/binary"
	"iter"
	"math"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// heldStates keeps the records of a block in about 40 bytes each, so that a
// reader can go through them at leisure without a connection.
type heldStates struct {
	season int
	vines  []heldVine // in the order of the block
	data   []byte
	words  []string
	index  map[string]int
}

// heldVine says where a vine's record lies in the data, and when any of its
// states last changed.
type heldVine struct {
	id      vine.ID
	at      int64 // -1: nothing is recorded up to the season
	changed int64
	size    int32
}

// readStates reads the records of a block in the order in which they lie in the
// table, newest season first, and keeps of each vine the first that is not
// beyond the season.
func readStates(c *conn, block vine.ID, season int, after int64) (*heldStates, error) {
	h := &heldStates{season: season, index: make(map[string]int)}
	ids, err := stateOrder(c, block, after)
	if err != nil {
		return nil, err
	}
	h.vines = make([]heldVine, len(ids))
	byID := make([]int, len(ids)) // positions in h.vines, by id
	for i, id := range ids {
		h.vines[i] = heldVine{id: id, at: -1}
		byID[i] = i
	}
	slices.SortFunc(byID, func(a, b int) int { return cmp.Compare(ids[a], ids[b]) })
	slices.Sort(ids)
	seen, done := make(words), 0 // done: vines before it in byID are read
	err = sweep(ids, func(from, to vine.ID) error {
		for done < len(ids) && ids[done] <= to {
			done++
		}
		k := done - 1
		return c.each("SELECT "+recordColumns+`, s.id FROM vine_state s WHERE s.id BETWEEN ? AND ? ORDER BY s.id DESC`, func(s *sqlite3.Stmt) error {
			id := s.ColumnInt64(recordWidth-1) / seasonsPerVine
			for k >= 0 && ids[k] > id {
				k--
			}
			if k < 0 || ids[k] != id {
				return nil // of another block whose ids lie between
			}
			return h.take(s, &h.vines[byID[k]], seen)
		}, recordID(from, firstSeason), recordID(to, firstSeason+seasonsPerVine-1))
	})
	return h, err
}

// take notes the next record of a vine, newest season first.
func (h *heldStates) take(s *sqlite3.Stmt, v *heldVine, seen words) error {
	v.changed = max(v.changed, s.ColumnInt64(3))
	season := int(s.ColumnInt64(recordWidth-1)%seasonsPerVine) + firstSeason
	if v.at >= 0 || season > h.season {
		return nil
	}
	r, err := scanRecord(s, seen)
	v.at = int64(len(h.data))
	h.add(r)
	v.size = int32(int64(len(h.data)) - v.at)
	return err
}

// stateOrder gives the vines of a block in their order; with after, only those
// of which a state changed after that revision.
func stateOrder(c *conn, block vine.ID, after int64) ([]vine.ID, error) {
	const order = " ORDER BY r.ord, r.id, v.number, v.id"
	if after <= 0 {
		return c.ids("SELECT v.id FROM vine_row r CROSS JOIN vine v ON v.row_id = r.id WHERE r.block_id = ?"+order, block)
	}
	return c.ids(`SELECT v.id FROM (SELECT DISTINCT id >> 9 AS vine FROM vine_state WHERE block_id = ? AND changed > ?) t
		CROSS JOIN vine v ON v.id = t.vine CROSS JOIN vine_row r ON r.id = v.row_id`+order, block, after)
}

// Which parts of a record are set.
const (
	hasSeen = 1 << iota
	hasLook
	hasPruned
	hasNodes
	hasCanes
	hasSpurs
	hasWeight
	hasCaneCount
	hasScore
	hasYield
	hasDetail
)

func flagsOf(r *logbook.Record) (flags uint64) {
	for i, set := range [...]bool{
		!r.SeenAt.IsZero(), !r.LookAgain.IsZero(), !r.PrunedAt.IsZero(),
		r.NodesLeft != nil, r.CanesLeft != nil, r.SpursLeft != nil,
		r.PruningWeight.Known, r.CaneCount.Known, r.Score.Known, r.Yield.Known, len(r.Detail) > 0,
	} {
		if set {
			flags |= 1 << i
		}
	}
	return flags
}

func (h *heldStates) add(r logbook.Record) {
	d := binary.AppendUvarint(h.data, flagsOf(&r))
	for _, n := range [...]int64{
		int64(r.Season), int64(r.Condition), int64(r.Planted), int64(r.Progress),
		int64(r.Notes), int64(r.Clashes), h.word(r.Cause), h.word(r.PrunedBy), h.word(r.ScoreScale),
	} {
		d = binary.AppendVarint(d, n)
	}
	for _, t := range [...]time.Time{r.SeenAt, r.LookAgain, r.PrunedAt} {
		if !t.IsZero() {
			d = binary.AppendVarint(d, micros(t))
		}
	}
	for _, n := range [...]*int{r.NodesLeft, r.CanesLeft, r.SpursLeft} {
		if n != nil {
			d = binary.AppendVarint(d, int64(*n))
		}
	}
	for _, m := range [...]logbook.Measured{r.PruningWeight, r.CaneCount, r.Score, r.Yield} {
		if m.Known {
			d = binary.LittleEndian.AppendUint64(d, math.Float64bits(m.Value))
			d = binary.AppendVarint(d, micros(m.At))
		}
	}
	if len(r.Detail) > 0 {
		d = binary.AppendUvarint(d, uint64(len(r.Detail)))
		d = append(d, r.Detail...)
	}
	h.data = d
}

func (h *heldStates) word(s string) int64 {
	if s == "" {
		return -1
	}
	n, ok := h.index[s]
	if !ok {
		n = len(h.words)
		h.index[s] = n
		h.words = append(h.words, s)
	}
	return int64(n)
}

// all gives the states back in the order of the vines.
func (h *heldStates) all() iter.Seq2[store.VineState, error] {
	return func(yield func(store.VineState, error) bool) {
		for _, v := range h.vines {
			if v.at < 0 {
				continue
			}
			u := unpacker{rest: h.data[v.at : v.at+int64(v.size)], words: h.words}
			r := u.record()
			r.Vine = v.id
			st, err := stateIn(r, h.season)
			if u.bad {
				err = errCopy
			}
			if !yield(store.VineState{Vine: v.id, Changed: v.changed, State: st}, err) || err != nil {
				return
			}
		}
	}
}

// stateIn gives the state that a record shows in its own or a later season.
func stateIn(r logbook.Record, season int) (vine.State, error) {
	if r.Season == season {
		return r.State()
	}
	return vine.State{Season: season, Condition: r.Condition, Cause: r.Cause,
		SeenAt: r.SeenAt, LookAgain: r.LookAgain, Planted: r.Planted}, nil
}

func (u *unpacker) record() logbook.Record {
	flags := u.uint()
	r := logbook.Record{
		Season: int(u.int()), Condition: vine.Condition(u.int()),
		Planted: int(u.int()), Progress: vine.Progress(u.int()), Notes: int(u.int()), Clashes: int(u.int()),
	}
	r.Cause, r.PrunedBy, r.ScoreScale = u.word(), u.word(), u.word()
	for i, t := range [...]*time.Time{&r.SeenAt, &r.LookAgain, &r.PrunedAt} {
		if flags&(hasSeen<<i) != 0 {
			*t = moment(u.int())
		}
	}
	for i, n := range [...]**int{&r.NodesLeft, &r.CanesLeft, &r.SpursLeft} {
		if flags&(hasNodes<<i) != 0 {
			v := int(u.int())
			*n = &v
		}
	}
	for i, m := range [...]*logbook.Measured{&r.PruningWeight, &r.CaneCount, &r.Score, &r.Yield} {
		if flags&(hasWeight<<i) != 0 {
			*m = logbook.Measured{Value: math.Float64frombits(u.bits()), At: moment(u.int()), Known: true}
		}
	}
	if flags&hasDetail != 0 {
		r.Detail = u.bytes(u.uint())
	}
	return r
}
