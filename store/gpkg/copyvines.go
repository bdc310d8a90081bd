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

// packVines writes the vines of one block column by column, whole numbers as
// differences.
func packVines(vines []store.Vine) []byte {
	d := make([]byte, 0, 16+len(vines)*(leastVine+1))
	d = binary.AppendUvarint(d, uint64(len(vines)))
	for _, column := range vineInts {
		last := int64(0)
		for i := range vines {
			n := column.get(&vines[i])
			d = binary.AppendVarint(d, n-last)
			last = n
		}
	}
	for i := range vines {
		v := &vines[i]
		for _, f := range [...]float64{v.ChainageM, v.Point[0], v.Point[1]} {
			d = binary.LittleEndian.AppendUint64(d, math.Float64bits(f))
		}
	}
	for i := range vines {
		d = binary.AppendUvarint(d, uint64(len(vines[i].Tag)))
		d = append(d, vines[i].Tag...)
	}
	return d
}

// unpackVines reads what packVines wrote; errCopy where it did not write it.
func unpackVines(data []byte, block vine.ID) ([]store.Vine, error) {
	u := unpacker{rest: data}
	vines := make([]store.Vine, u.count(leastVine))
	for _, column := range vineInts {
		last := int64(0)
		for i := range vines {
			last += u.int()
			column.set(&vines[i], last)
		}
	}
	for i := range vines {
		v := &vines[i]
		v.Block = block
		v.ChainageM = math.Float64frombits(u.bits())
		v.Point = orb.Point{math.Float64frombits(u.bits()), math.Float64frombits(u.bits())}
	}
	for i := range vines {
		vines[i].Tag = u.text()
	}
	if u.bad || len(u.rest) > 0 {
		return nil, errCopy
	}
	return vines, nil
}

// vineInts are the whole numbers of a vine, in the order of the copy.
var vineInts = [...]struct {
	get func(*store.Vine) int64
	set func(*store.Vine, int64)
}{
	{func(v *store.Vine) int64 { return v.ID }, func(v *store.Vine, n int64) { v.ID = n }},
	{func(v *store.Vine) int64 { return v.Row }, func(v *store.Vine, n int64) { v.Row = n }},
	{func(v *store.Vine) int64 { return int64(v.Number) }, func(v *store.Vine, n int64) { v.Number = int(n) }},
	{func(v *store.Vine) int64 { return int64(v.Part) }, func(v *store.Vine, n int64) { v.Part = int(n) }},
	{func(v *store.Vine) int64 { return int64(v.Planted) }, func(v *store.Vine, n int64) { v.Planted = int(n) }},
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
