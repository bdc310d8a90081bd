package gpkg

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"
	"strings"

	"github.com/ncruces/go-sqlite3"
)

// SQLite's R*Tree keeps its nodes in the shadow tables _node, _rowid, _parent.
// A node is a 2-byte depth (of the root; 0 elsewhere), a 2-byte count and cells
// of an 8-byte id and four 32-bit floats minx, maxx, miny, maxy, all big-endian
// (R*Tree module, "Shadow Tables"). With pages of 4096 bytes and more a node
// holds 51 cells.
const (
	nodeCells = 51
	cellBytes = 8 + 4*4
	nodeBytes = 4 + nodeCells*cellBytes
	rootNode  = 1
)

// box is an entry of the index: bounds in 32-bit floats, rounded outwards.
type box struct {
	id                     int64
	minx, maxx, miny, maxy float32
}

// floor32 and ceil32 give the nearest 32-bit float not above, not below v.
func floor32(v float64) float32 {
	f := float32(v)
	if float64(f) > v {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return f
}

func ceil32(v float64) float32 {
	f := float32(v)
	if float64(f) < v {
		f = math.Nextafter32(f, float32(math.Inf(1)))
	}
	return f
}

// packIndex writes the R*Tree of a table anew from its geometry: entries are
// sorted into strips by x, within a strip by y, and cut into full nodes
// (sort-tile-recursive: Leutenegger, Lopez, Edgington 1997). It takes a sixth of
// the time of inserting one by one.
func packIndex(c *conn, table string) error {
	boxes, err := readBoxes(c, table)
	if err != nil {
		return err
	}
	p := packer{c: c, index: "rtree_" + table + "_geom", node: rootNode, leafOf: make([]pair, 0, len(boxes))}
	for _, part := range []string{"_node", "_rowid", "_parent"} {
		if err := c.exec("DELETE FROM " + p.index + part); err != nil {
			return err
		}
	}
	depth := 0
	for len(boxes) > nodeCells {
		if boxes, err = p.level(boxes, depth); err != nil {
			return err
		}
		depth++
	}
	if err := p.write(rootNode, depth, boxes, depth == 0); err != nil {
		return err
	}
	slices.SortFunc(p.leafOf, func(a, b pair) int { return cmp.Compare(a.id, b.id) })
	if err := p.pairs("_rowid", p.leafOf); err != nil {
		return err
	}
	return p.pairs("_parent", p.parentOf)
}

func readBoxes(c *conn, table string) ([]box, error) {
	n, err := c.number("SELECT count(*) FROM " + table)
	if err != nil {
		return nil, err
	}
	out := make([]box, 0, n)
	err = c.each("SELECT id, geom FROM "+table+" WHERE geom IS NOT NULL", func(s *sqlite3.Stmt) error {
		if b, ok := boundOf(s.ColumnRawBlob(1)); ok {
			out = append(out, box{s.ColumnInt64(0), floor32(b.Min[0]), ceil32(b.Max[0]), floor32(b.Min[1]), ceil32(b.Max[1])})
		}
		return nil
	})
	return out, err
}

// packer numbers and writes nodes.
type packer struct {
	c        *conn
	index    string
	node     int64  // last number given
	leafOf   []pair // row → the leaf that holds it
	parentOf []pair // node → the node that holds it
}

type pair struct{ id, node int64 }

// level writes the nodes that hold the entries and gives the nodes as entries
// of the level above.
func (p *packer) level(boxes []box, depth int) ([]box, error) {
	slices.SortFunc(boxes, func(a, b box) int { return cmp.Compare(a.minx+a.maxx, b.minx+b.maxx) })
	nodes := (len(boxes) + nodeCells - 1) / nodeCells
	strips := int(math.Ceil(math.Sqrt(float64(nodes))))
	perStrip := (nodes + strips - 1) / strips * nodeCells
	above := make([]box, 0, nodes)
	for strip := range slices.Chunk(boxes, perStrip) {
		slices.SortFunc(strip, func(a, b box) int { return cmp.Compare(a.miny+a.maxy, b.miny+b.maxy) })
		for cells := range slices.Chunk(strip, nodeCells) {
			p.node++
			if err := p.write(p.node, 0, cells, depth == 0); err != nil {
				return nil, err
			}
			above = append(above, around(p.node, cells))
		}
	}
	return above, nil
}

func around(id int64, cells []box) box {
	b := cells[0]
	b.id = id
	for _, c := range cells[1:] {
		b.minx, b.maxx = min(b.minx, c.minx), max(b.maxx, c.maxx)
		b.miny, b.maxy = min(b.miny, c.miny), max(b.maxy, c.maxy)
	}
	return b
}

// write writes one node and notes where its entries are.
func (p *packer) write(node int64, depth int, cells []box, leaf bool) error {
	data := make([]byte, 4, nodeBytes)
	binary.BigEndian.PutUint16(data, uint16(depth))
	binary.BigEndian.PutUint16(data[2:], uint16(len(cells)))
	for _, b := range cells {
		data = binary.BigEndian.AppendUint64(data, uint64(b.id))
		for _, v := range [...]float32{b.minx, b.maxx, b.miny, b.maxy} {
			data = binary.BigEndian.AppendUint32(data, math.Float32bits(v))
		}
	}
	if err := p.c.exec("INSERT INTO "+p.index+"_node VALUES (?, ?)", node, data[:nodeBytes]); err != nil {
		return err
	}
	of := &p.parentOf
	if leaf {
		of = &p.leafOf
	}
	for _, b := range cells {
		*of = append(*of, pair{b.id, node})
	}
	return nil
}

// pairs writes a whole shadow table of pairs, in order, many a statement.
func (p *packer) pairs(part string, all []pair) error {
	return portions(all, [3]int{200, 20, 1}, func(some []pair) error {
		s, done, err := p.c.prepare("INSERT INTO " + p.index + part + " VALUES (?,?)" + strings.Repeat(",(?,?)", len(some)-1))
		if err != nil {
			return err
		}
		b := binder{s: s, at: 1}
		for _, row := range some {
			b.int(row.id)
			b.int(row.node)
		}
		if b.err == nil {
			b.err = s.Exec()
		}
		return cmp.Or(b.err, done())
	})
}

// rootBounds gives the bounds of all that an index holds, from its root alone.
func rootBounds(c *conn, table string) (b box, some bool, err error) {
	_, err = c.one("SELECT data FROM rtree_"+table+"_geom_node WHERE nodeno = 1", func(s *sqlite3.Stmt) error {
		data := s.ColumnRawBlob(0)
		for n := int(binary.BigEndian.Uint16(data[2:])); n > 0 && len(data) >= 4+n*cellBytes; n-- {
			cell := data[4+(n-1)*cellBytes:]
			var v [4]float32
			for i := range v {
				v[i] = math.Float32frombits(binary.BigEndian.Uint32(cell[8+4*i:]))
			}
			next := box{0, v[0], v[1], v[2], v[3]}
			if some {
				next = around(0, []box{b, next})
			}
			b, some = next, true
		}
		return nil
	})
	return b, some, err
}
