package gpkg

import (
	"encoding/binary"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/vine"
	"courson/store"
)

// leastVine is the least number of bytes that a vine takes in a copy.
const leastVine = 5 + 3*8 + 1

// vinePacker writes the vines of one block one after the other, whole numbers as
// differences from the vine before.
type vinePacker struct {
	last store.Vine
	n    int
}

// add appends a vine.
func (p *vinePacker) add(d []byte, v *store.Vine) []byte {
	for _, n := range [...]int64{
		v.ID - p.last.ID, v.Row - p.last.Row, int64(v.Number) - int64(p.last.Number),
		int64(v.Part) - int64(p.last.Part), int64(v.Planted) - int64(p.last.Planted),
	} {
		d = binary.AppendVarint(d, n)
	}
	for _, f := range [...]float64{v.ChainageM, v.Point[0], v.Point[1]} {
		d = binary.LittleEndian.AppendUint64(d, math.Float64bits(f))
	}
	d = binary.AppendUvarint(d, uint64(len(v.Tag)))
	p.last, p.n = *v, p.n+1
	return append(d, v.Tag...)
}

func packVines(vines []store.Vine) []byte {
	d := make([]byte, 0, 16+len(vines)*(leastVine+2))
	d = binary.AppendUvarint(d, uint64(len(vines)))
	var p vinePacker
	for i := range vines {
		d = p.add(d, &vines[i])
	}
	return d
}

// unpackVines reads what packVines wrote; errCopy where it did not write it.
func unpackVines(data []byte, block vine.ID) ([]store.Vine, error) {
	u := unpacker{rest: data}
	vines := make([]store.Vine, u.count(leastVine))
	last := store.Vine{Block: block}
	for i := range vines {
		v := &vines[i]
		*v = last
		v.ID += u.int()
		v.Row += u.int()
		v.Number += int(u.int())
		v.Part += int(u.int())
		v.Planted += int(u.int())
		v.ChainageM = math.Float64frombits(u.bits())
		v.Point = orb.Point{math.Float64frombits(u.bits()), math.Float64frombits(u.bits())}
		v.Tag = u.text()
		last = *v
	}
	if u.bad || len(u.rest) > 0 {
		return nil, errCopy
	}
	return vines, nil
}

// vinesOf gives the vines of a block, from the copy if it still holds. Else
// they are read, and rows says what a copy made of them shows.
func vinesOf(c *conn, block vine.ID) (vines []store.Vine, rows *mark, err error) {
	m, found, err := markOf(c, block, 0)
	if err != nil || !found {
		return nil, nil, err
	}
	data, err := readCopy(c, block, 0, m)
	if err != nil {
		return nil, nil, err
	}
	if data != nil {
		if vines, err := unpackVines(data, block); err == nil {
			return vines, nil, nil
		}
	}
	vines, err = readVines(c, block)
	return vines, &m, err
}
