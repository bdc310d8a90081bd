package tile

import (
	"encoding/binary"
	"math"
)

// The wire form of a tile: protocol buffers with the field numbers of the
// Mapbox Vector Tile Specification 2.1 (Mapbox, 2016), written by hand into one
// buffer, so that a feature costs no allocation. Tags are
// field number × 8 + wire type; the wire type of whole numbers is 0.

const (
	tagTileLayer    = 3<<3 | 2
	tagLayerName    = 1<<3 | 2
	tagLayerFeature = 2<<3 | 2
	tagLayerKey     = 3<<3 | 2
	tagLayerValue   = 4<<3 | 2
	tagLayerExtent  = 5 << 3
	tagLayerVersion = 15 << 3

	tagFeatureID       = 1 << 3
	tagFeatureTags     = 2<<3 | 2
	tagFeatureType     = 3 << 3
	tagFeatureGeometry = 4<<3 | 2

	tagValueString = 1<<3 | 2
	tagValueDouble = 3<<3 | 1
	tagValueUint   = 5 << 3
)

// shape is the geometry type of a feature.
type shape byte

const (
	pointShape   shape = 1
	lineShape    shape = 2
	polygonShape shape = 3
)

// Geometry commands: id in the lower three bits, count above.
const (
	moveTo1   = 1 | 1<<3
	lineTo    = 2
	closePath = 7 | 1<<3
)

// smallUints is how many unsigned values have a place in a plain table; larger
// ones go through a map.
const smallUints = 4096

// layer gathers the features, keys and values of one layer. It is used again
// from tile to tile.
type layer struct {
	name     string
	serial   uint32 // counts the layers written with this room
	features []byte
	count    int

	keys    []byte
	nKeys   uint32
	values  []byte
	nValues uint32

	small   [smallUints]uint32 // index+1 in values
	used    []uint16           // entries of small to clear
	uints   map[uint64]uint32
	strings map[string]uint32
	doubles map[float64]uint32

	tags []byte // of the feature being written
	geom []byte
}

// reset empties the layer and names its keys, in the order of their index.
func (l *layer) reset(name string, keys ...string) {
	l.name = name
	l.serial++
	l.features, l.keys, l.values = l.features[:0], l.keys[:0], l.values[:0]
	l.count, l.nKeys, l.nValues = 0, 0, 0
	for _, v := range l.used {
		l.small[v] = 0
	}
	l.used = l.used[:0]
	if l.uints == nil {
		l.uints, l.strings, l.doubles = map[uint64]uint32{}, map[string]uint32{}, map[float64]uint32{}
	}
	clear(l.uints)
	clear(l.strings)
	clear(l.doubles)
	for _, k := range keys {
		l.keys = append(l.keys, tagLayerKey)
		l.keys = binary.AppendUvarint(l.keys, uint64(len(k)))
		l.keys = append(l.keys, k...)
		l.nKeys++
	}
}

// number gives the index of an unsigned value, adding it when it is new.
func (l *layer) number(v uint64) uint32 {
	if v < smallUints {
		if i := l.small[v]; i != 0 {
			return i - 1
		}
		l.used = append(l.used, uint16(v))
		l.small[v] = l.nValues + 1
		return l.addNumber(v)
	}
	if i, ok := l.uints[v]; ok {
		return i
	}
	l.uints[v] = l.nValues
	return l.addNumber(v)
}

func (l *layer) addNumber(v uint64) uint32 {
	l.values = append(l.values, tagLayerValue, byte(1+uvarintLen(v)), tagValueUint)
	l.values = binary.AppendUvarint(l.values, v)
	l.nValues++
	return l.nValues - 1
}

// text gives the index of a text.
func (l *layer) text(s string) uint32 {
	if i, ok := l.strings[s]; ok {
		return i
	}
	l.strings[s] = l.nValues
	l.values = append(l.values, tagLayerValue)
	l.values = binary.AppendUvarint(l.values, uint64(1+uvarintLen(uint64(len(s)))+len(s)))
	l.values = append(l.values, tagValueString)
	l.values = binary.AppendUvarint(l.values, uint64(len(s)))
	l.values = append(l.values, s...)
	l.nValues++
	return l.nValues - 1
}

// fraction gives the index of a number with a fraction.
func (l *layer) fraction(v float64) uint32 {
	if i, ok := l.doubles[v]; ok {
		return i
	}
	l.doubles[v] = l.nValues
	l.values = append(l.values, tagLayerValue, 9, tagValueDouble)
	l.values = binary.LittleEndian.AppendUint64(l.values, math.Float64bits(v))
	l.nValues++
	return l.nValues - 1
}

// tag adds a key and a value to the feature being written.
func (l *layer) tag(key, value uint32) {
	l.tags = binary.AppendUvarint(l.tags, uint64(key))
	l.tags = binary.AppendUvarint(l.tags, uint64(value))
}

// feature writes the gathered tags and geometry as one feature and forgets
// them. An id of 0 is left out; a feature without geometry is not written.
func (l *layer) feature(id uint64, s shape) {
	if len(l.geom) > 0 {
		size := 2 // type
		if id != 0 {
			size += 1 + uvarintLen(id)
		}
		if len(l.tags) > 0 {
			size += 1 + uvarintLen(uint64(len(l.tags))) + len(l.tags)
		}
		size += 1 + uvarintLen(uint64(len(l.geom))) + len(l.geom)

		f := append(l.features, tagLayerFeature)
		f = binary.AppendUvarint(f, uint64(size))
		if id != 0 {
			f = append(f, tagFeatureID)
			f = binary.AppendUvarint(f, id)
		}
		if len(l.tags) > 0 {
			f = append(f, tagFeatureTags)
			f = binary.AppendUvarint(f, uint64(len(l.tags)))
			f = append(f, l.tags...)
		}
		f = append(f, tagFeatureType, byte(s), tagFeatureGeometry)
		f = binary.AppendUvarint(f, uint64(len(l.geom)))
		l.features = append(f, l.geom...)
		l.count++
	}
	l.tags, l.geom = l.tags[:0], l.geom[:0]
}

// appendTo writes the layer at the end of a tile; nothing if it has no feature.
func (l *layer) appendTo(dst []byte) []byte {
	if l.count == 0 {
		return dst
	}
	size := 2 + 1 + uvarintLen(uint64(len(l.name))) + len(l.name) +
		len(l.features) + len(l.keys) + len(l.values) + 1 + uvarintLen(Extent)
	dst = append(dst, tagTileLayer)
	dst = binary.AppendUvarint(dst, uint64(size))
	dst = append(dst, tagLayerVersion, 2, tagLayerName)
	dst = binary.AppendUvarint(dst, uint64(len(l.name)))
	dst = append(dst, l.name...)
	dst = append(dst, l.features...)
	dst = append(dst, l.keys...)
	dst = append(dst, l.values...)
	dst = append(dst, tagLayerExtent)
	return binary.AppendUvarint(dst, Extent)
}

// pen writes geometry integers relative to where it stands.
type pen struct {
	buf  []byte
	x, y int32
}

func (p *pen) step(x, y int32) {
	dx, dy := zigzag(x-p.x), zigzag(y-p.y)
	p.x, p.y = x, y
	if dx|dy < 0x80 {
		p.buf = append(p.buf, byte(dx), byte(dy))
		return
	}
	p.buf = binary.AppendUvarint(p.buf, uint64(dx))
	p.buf = binary.AppendUvarint(p.buf, uint64(dy))
}

// point writes one point.
func (p *pen) point(x, y int32) {
	p.buf = append(p.buf, moveTo1)
	p.step(x, y)
}

// begin starts a feature of n points; each step is one of them.
func (p *pen) begin(n int) {
	p.buf = binary.AppendUvarint(p.buf, uint64(1|n<<3))
}

// line writes a line of points without repeats; fewer than two are no line.
func (p *pen) line(pts [][2]int32) {
	if len(pts) < 2 {
		return
	}
	p.point(pts[0][0], pts[0][1])
	p.buf = binary.AppendUvarint(p.buf, uint64(lineTo|(len(pts)-1)<<3))
	for _, q := range pts[1:] {
		p.step(q[0], q[1])
	}
}

// ring writes a ring without repeats whose last point is not its first.
func (p *pen) ring(pts [][2]int32) {
	p.line(pts)
	p.buf = append(p.buf, closePath)
}

func zigzag(v int32) uint32 { return uint32(v<<1) ^ uint32(v>>31) }

func uvarintLen(v uint64) int {
	n := 1
	for v >= 0x80 {
		v >>= 7
		n++
	}
	return n
}
