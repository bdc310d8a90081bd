package raster

import (
	"encoding/binary"
	"fmt"
	"io"
)

// Kinds of stored numbers, as tag 339 numbers them.
const (
	kindUint  = 1
	kindInt   = 2
	kindFloat = 3
)

// image is one picture of the file: its shape, and where its chunks (strips or
// tiles) stand.
type image struct {
	src           io.ReaderAt
	order         binary.ByteOrder
	width, height int
	samples       int
	bits, kind    int
	planar        bool // each band has chunks of its own
	tiled         bool
	compression   int64
	predictor     int64
	chunkW        int // pixels
	chunkH        int
	across, down  int // chunks
	offsets       []int64
	counts        []int64
	ratio         int64
}

// image reads the shape of a picture and checks that it is one we can read.
func (p *parser) image(d directory, l Limits) (*image, error) {
	m := &image{src: p.src, order: p.order, ratio: l.Ratio}
	if err := m.shape(p, d, l); err != nil {
		return nil, err
	}
	if err := m.numbersIn(p, d); err != nil {
		return nil, err
	}
	if err := m.packing(p, d); err != nil {
		return nil, err
	}
	return m, m.chunks(p, d, l)
}

func (m *image) shape(p *parser, d directory, l Limits) error {
	w, _ := p.number(d[tagWidth], 0)
	h, _ := p.number(d[tagHeight], 0)
	n, _ := p.number(d[tagSamples], 1)
	planar, _ := p.number(d[tagPlanar], 1)
	switch {
	case w < 1 || h < 1:
		return damaged("the image has no size", fmt.Sprintf("%d x %d", w, h), "")
	case w > l.Pixels || h > l.Pixels || w*h > l.Pixels:
		return &Fault{What: "the image is too large", Found: fmt.Sprintf("%d x %d pixels", w, h), Wanted: fmt.Sprintf("at most %d million pixels: cut it to the estate, or make the pixels larger", l.Pixels/1e6), Cause: ErrTooLarge}
	case n < 1 || n > int64(l.Bands):
		return &Fault{What: "an impossible number of bands", Found: fmt.Sprint(n), Wanted: fmt.Sprintf("1 to %d", l.Bands), Cause: ErrTooLarge}
	case planar != 1 && planar != 2:
		return damaged("unknown arrangement of the bands", fmt.Sprint(planar), "1 or 2")
	}
	m.width, m.height, m.samples, m.planar = int(w), int(h), int(n), planar == 2 && n > 1
	return nil
}

// numbersIn reads how the numbers are stored: one kind for all bands.
func (m *image) numbersIn(p *parser, d directory) error {
	one := func(tag uint16, missing int64, what string) (int64, error) {
		v := p.numbers(d[tag])
		if len(v) == 0 {
			return missing, nil
		}
		for _, x := range v {
			if x != v[0] {
				return 0, &Fault{What: "the bands are stored as different kinds of numbers", Found: fmt.Sprintf("%s %v", what, v), Wanted: "one kind for all bands: write it again with one type"}
			}
		}
		return v[0], nil
	}
	bits, err := one(tagBits, 1, "bits")
	if err != nil {
		return err
	}
	kind, err := one(tagSampleFormat, kindUint, "sample formats")
	if err != nil {
		return err
	}
	if kind == 4 { // undefined: GDAL takes it for whole numbers without sign
		kind = kindUint
	}
	m.bits, m.kind = int(bits), int(kind)
	switch {
	case kind == kindFloat && (bits == 32 || bits == 64):
	case (kind == kindUint || kind == kindInt) && (bits == 8 || bits == 16 || bits == 32):
	case kind == kindUint && bits == 1:
	default:
		return &Fault{What: "numbers of a kind that is not read", Found: fmt.Sprintf("%d bits, sample format %d", bits, kind), Wanted: "whole numbers of 8, 16 or 32 bits or decimals of 32 or 64 bits; convert the image"}
	}
	if order, _ := p.number(d[tagFillOrder], 1); order != 1 && bits == 1 {
		return &Fault{What: "bits in reversed order are not read", Wanted: "the image written again"}
	}
	return nil
}

// Compressions, by their TIFF numbers.
const (
	packNone     = 1
	packLZW      = 5
	packDeflate  = 8
	packBits     = 32773
	packDeflate2 = 32946
	packZstd     = 50000
)

func (m *image) packing(p *parser, d directory) error {
	m.compression, _ = p.number(d[tagCompression], packNone)
	m.predictor, _ = p.number(d[tagPredictor], 1)
	switch m.compression {
	case packNone, packBits:
		m.predictor = 1 // means nothing without a codec that has it
	case packLZW, packDeflate, packDeflate2, packZstd:
	default:
		name := map[int64]string{2: "fax", 3: "fax", 4: "fax", 6: "JPEG", 7: "JPEG", 33003: "JPEG 2000", 33005: "JPEG 2000", 34712: "JPEG 2000", 34887: "LERC", 34925: "LZMA", 50001: "WebP", 50002: "JPEG XL"}[m.compression]
		return &Fault{What: "the image is packed in a way that is not read", Found: fmt.Sprintf("compression %d %s", m.compression, name), Wanted: "none, LZW, deflate, PackBits or Zstandard; write it again, for example gdal_translate -co COMPRESS=DEFLATE"}
	}
	switch {
	case m.predictor == 1:
	case m.predictor == 2 && m.bits >= 8:
	case m.predictor == 3 && m.kind == kindFloat:
	default:
		return damaged("a predictor that does not fit the numbers", fmt.Sprintf("predictor %d with %s", m.predictor, m.typeName()), "1, 2 or, for decimals, 3")
	}
	return nil
}

// chunks reads where the strips or tiles stand.
func (m *image) chunks(p *parser, d directory, l Limits) error {
	offsets, counts := d[tagStripOffsets], d[tagStripCounts]
	w, h := int64(m.width), int64(m.height)
	if _, m.tiled = d[tagTileWidth]; m.tiled {
		w, _ = p.number(d[tagTileWidth], 0)
		h, _ = p.number(d[tagTileHeight], 0)
		if t, ok := d[tagTileOffsets]; ok {
			offsets, counts = t, d[tagTileCounts]
		}
	} else if v, ok := p.number(d[tagRowsPerStrip], h); ok {
		h = min(v, h)
	}
	if w < 1 || h < 1 || w > 1<<26 || h > 1<<31 {
		return damaged("strips or tiles of an impossible size", fmt.Sprintf("%d x %d", w, h), "")
	}
	m.chunkW, m.chunkH = int(w), int(h)
	m.offsets, m.counts = p.numbers(offsets), p.numbers(counts)
	m.split()
	m.across, m.down = (m.width+m.chunkW-1)/m.chunkW, (m.height+m.chunkH-1)/m.chunkH
	want := m.across * m.down
	if m.planar {
		want *= m.samples
	}
	if len(m.offsets) < want || len(m.counts) < want {
		return damaged("strips or tiles are missing", fmt.Sprintf("%d of %d", min(len(m.offsets), len(m.counts)), want), "")
	}
	if row := m.rowBytes(); row > l.ChunkBytes/int64(m.chunkH) {
		return &Fault{What: "the strips or tiles are too large", Found: fmt.Sprintf("%d lines of %d bytes each", m.chunkH, row), Wanted: fmt.Sprintf("at most %d MB: write it again in tiles, for example gdal_translate -co TILED=YES", l.ChunkBytes>>20), Cause: ErrTooLarge}
	}
	return nil
}

// smallChunk is what a strip that is not packed is cut into.
const smallChunk = 1 << 20

// split cuts long strips that are not packed into short ones, as they can be
// read from anywhere.
func (m *image) split() {
	row := m.rowBytes()
	rows := int(max(1, smallChunk/row))
	if m.compression != packNone || m.tiled || rows >= m.chunkH || len(m.offsets) != len(m.counts) {
		return
	}
	var offsets, counts []int64
	strips := (m.height + m.chunkH - 1) / m.chunkH
	for i, at := range m.offsets {
		high := m.chunkH
		if i%strips == strips-1 {
			high = m.height - (strips-1)*m.chunkH
		}
		left := m.counts[i]
		for y := 0; y < high; y += rows {
			n := min(left, row*int64(min(rows, high-y)))
			if at == 0 {
				n = 0
			}
			offsets, counts = append(offsets, at), append(counts, n)
			at, left = at+n, left-n
		}
		if high%rows != 0 && i%strips != strips-1 {
			return // strips would not be of one height: leave them whole
		}
	}
	m.offsets, m.counts, m.chunkH = offsets, counts, rows
}

// rowBytes is the length of one line of a chunk.
func (m *image) rowBytes() int64 {
	n := int64(m.chunkW)
	if !m.planar {
		n *= int64(m.samples)
	}
	return (n*int64(m.bits) + 7) / 8
}

// chunkRows is how many lines chunk i holds: the last strip is short, the last
// tile is not.
func (m *image) chunkRows(i int) int {
	if m.tiled {
		return m.chunkH
	}
	return min(m.chunkH, m.height-(i%(m.across*m.down))/m.across*m.chunkH)
}
