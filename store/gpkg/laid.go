package gpkg

import (
	"bytes"
	"encoding/binary"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

// laid packs what a transaction writes into a block that it made itself, as it
// is written, so that the block's copies need not be read back from the tables.
// It is given up where something is written over, or in another order than that
// of the block: then they are read back.
type laid struct {
	parts   [][]byte // the vines, packed
	packer  vinePacker
	rows    []vine.ID // in the order of writing
	states  *laidStates
	settled bool // nothing may follow
	gone    bool
}

const laidPart = 1 << 18

// lay notes a new vine.
func (t *tx) lay(v *store.Vine) {
	if v.Block <= t.lastID {
		return // its block was there before
	}
	l := t.laid[v.Block]
	if l == nil {
		l = &laid{}
		t.laid[v.Block] = l
	}
	if l.gone {
		return
	}
	last := &l.packer.last
	switch {
	case l.settled || l.packer.n > 0 && v.ID <= last.ID || v.Row == last.Row && v.Number <= last.Number:
		t.giveUp(v.Block)
		return
	case v.Row != last.Row:
		l.rows = append(l.rows, v.Row)
	}
	at := len(l.parts) - 1
	if at < 0 || len(l.parts[at]) > laidPart-leastVine-40-len(v.Tag) {
		l.parts, at = append(l.parts, make([]byte, 0, laidPart+len(v.Tag))), at+1
	}
	l.parts[at] = l.packer.add(l.parts[at], v)
}

// giveUp forgets what was laid in a block.
func (t *tx) giveUp(block vine.ID) {
	if l := t.laid[block]; l != nil {
		*l = laid{gone: true}
	}
}

// laidIn gives what was laid in a block if it lies there in the order of the
// block; nil if not.
func (t *tx) laidIn(c *conn, block vine.ID) (*laid, error) {
	l := t.laid[block]
	if l == nil || l.gone || l.settled {
		if l != nil && l.gone {
			l = nil
		}
		return l, nil
	}
	order, err := c.ids("SELECT id FROM vine_row WHERE block_id = ? ORDER BY ord, id", block)
	if err != nil {
		return nil, err
	}
	next := 0
	for _, row := range order { // rows without vines lie between
		if next < len(l.rows) && l.rows[next] == row {
			next++
		}
	}
	if next < len(l.rows) {
		t.giveUp(block)
		return nil, nil
	}
	l.settled = true
	return l, nil
}

// vines gives the copy of the vines.
func (l *laid) vines() []byte {
	head := binary.AppendUvarint(nil, uint64(l.packer.n))
	return bytes.Join(append([][]byte{head}, l.parts...), nil)
}

// laidStates packs the states of a block's vines as they are folded.
type laidStates struct {
	held   heldStates // for its words; of the data, one record at a time
	packer statePacker
}

// folding is called before a block is folded. Where all its states come out of
// this fold, what it gives takes them; nil elsewhere.
func (t *tx) folding(c *conn, block vine.ID) (*laid, error) {
	l, err := t.laidIn(c, block)
	if err != nil || l == nil {
		return nil, err
	}
	if l.states != nil || l.packer.n < muchAtOnce {
		t.giveUp(block)
		return nil, nil
	}
	seasons, err := readSeasons(c)
	if err != nil || len(seasons) == 0 {
		return nil, err
	}
	l.states = &laidStates{held: heldStates{season: seasons[len(seasons)-1], index: make(map[string]int)}}
	return l, nil
}

// put takes what is written of a vine that had no records before: of the newest
// season that the copy shows.
func (l *laid) put(id vine.ID, s logbook.Shift, revision int64) {
	if l.gone {
		return
	}
	h, newest := &l.states.held, -1
	for i, r := range s.Put {
		if r.Season <= h.season && (newest < 0 || r.Season > s.Put[newest].Season) {
			newest = i
		}
	}
	switch {
	case newest < 0:
		return
	case id <= l.states.packer.last.id: // not in the order of the block
		*l = laid{gone: true}
		return
	}
	h.data = h.data[:0]
	h.add(s.Put[newest])
	l.states.packer.add(heldVine{id: id, changed: revision}, h.data)
}
