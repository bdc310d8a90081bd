package gpkg

import (
	"encoding/binary"

	"courson/geo/vine"
)

// leastState is the least number of bytes that a vine's state takes in a copy.
const leastState = 3

// pack writes what is held, in the order of the vines. Vines about which nothing
// is recorded are left out.
func (h *heldStates) pack() []byte {
	var p statePacker
	for _, v := range h.vines {
		if v.at >= 0 {
			p.add(v, h.data[v.at:v.at+int64(v.size)])
		}
	}
	return p.end(h.words)
}

// statePacker gathers the states of one block one after the other.
type statePacker struct {
	heads, data []byte
	last        heldVine
	n           int
}

// add takes a vine's state and its packed record.
func (p *statePacker) add(v heldVine, record []byte) {
	p.heads = binary.AppendVarint(p.heads, v.id-p.last.id)
	p.heads = binary.AppendVarint(p.heads, v.changed-p.last.changed)
	p.heads = binary.AppendUvarint(p.heads, uint64(len(record)))
	p.data = append(p.data, record...)
	p.last, p.n = v, p.n+1
}

// end gives the whole copy.
func (p *statePacker) end(words []string) []byte {
	d := make([]byte, 0, len(p.heads)+len(p.data)+16*len(words)+16)
	d = binary.AppendUvarint(d, uint64(len(words)))
	for _, w := range words {
		d = binary.AppendUvarint(d, uint64(len(w)))
		d = append(d, w...)
	}
	d = binary.AppendUvarint(d, uint64(p.n))
	return append(append(d, p.heads...), p.data...)
}

// count gives the number of vines about which anything is recorded.
func (h *heldStates) count() (n int) {
	for _, v := range h.vines {
		if v.at >= 0 {
			n++
		}
	}
	return n
}

// unpackStates reads what pack wrote; errCopy where it did not write it.
func unpackStates(data []byte, season int) (*heldStates, error) {
	u := unpacker{rest: data}
	h := &heldStates{season: season, words: make([]string, u.count(1))}
	for i := range h.words {
		h.words[i] = u.text()
	}
	h.vines = make([]heldVine, u.count(leastState))
	var last heldVine
	at := int64(0)
	for i := range h.vines {
		last.id += u.int()
		last.changed += u.int()
		size := u.uint()
		if size > uint64(len(u.rest)) {
			return nil, errCopy
		}
		last.at, last.size = at, int32(size)
		at += int64(size)
		h.vines[i] = last
	}
	h.data = u.rest
	if u.bad || at != int64(len(h.data)) {
		return nil, errCopy
	}
	return h, nil
}

func (h *heldStates) copy(block vine.ID, shows mark) blockCopy {
	return blockCopy{block: block, season: h.season, shows: shows, vines: h.count(), data: h.pack()}
}

// statesOf gives the states of a block, from the copy if it still holds. Else
// they are read, and rows says what a copy made of them shows.
func statesOf(c *conn, block vine.ID, season int) (h *heldStates, rows *mark, err error) {
	if season < vine.MinSeason || season > vine.MaxSeason { // no copies are kept
		h, err = readStates(c, block, season, 0)
		return h, nil, err
	}
	m, found, err := markOf(c, block, season)
	if err != nil || !found {
		return &heldStates{season: season}, nil, err
	}
	data, err := readCopy(c, block, season, m)
	if err != nil {
		return nil, nil, err
	}
	if data != nil {
		if h, err := unpackStates(data, season); err == nil {
			return h, nil, nil
		}
	}
	h, err = readStates(c, block, season, 0)
	return h, &m, err
}
