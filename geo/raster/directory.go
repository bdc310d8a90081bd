package raster

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
)

// ErrTooLarge is at the root of every refusal for size.
var ErrTooLarge = errors.New("too large")

// ErrDamaged is at the root of every refusal of a file that contradicts itself
// or ends early.
var ErrDamaged = errors.New("damaged")

// Tags of TIFF 6.0 (Adobe, 1992), OGC 19-008r4 and, for no-data and band
// metadata, of the GDAL documentation of its GTiff driver.
const (
	tagSubfileType    = 254
	tagWidth          = 256
	tagHeight         = 257
	tagBits           = 258
	tagCompression    = 259
	tagPhotometric    = 262
	tagFillOrder      = 266
	tagStripOffsets   = 273
	tagSamples        = 277
	tagRowsPerStrip   = 278
	tagStripCounts    = 279
	tagPlanar         = 284
	tagDateTime       = 306
	tagPredictor      = 317
	tagTileWidth      = 322
	tagTileHeight     = 323
	tagTileOffsets    = 324
	tagTileCounts     = 325
	tagExtraSamples   = 338
	tagSampleFormat   = 339
	tagPixelScale     = 33550
	tagTiepoint       = 33922
	tagTransformation = 34264
	tagGeoKeys        = 34735
	tagGDALMetadata   = 42112
	tagGDALNoData     = 42113
)

// entry is one entry of a directory, its values as bytes in the file's order.
type entry struct {
	kind  uint16
	count int64
	raw   []byte
}

type directory map[uint16]entry

// parser reads directories.
type parser struct {
	src   io.ReaderAt
	size  int64
	order binary.ByteOrder
	big   bool // 64-bit form
	first int64
	most  int64 // bytes of an entry
}

func damaged(what, found, wanted string) error {
	return &Fault{What: what, Found: found, Wanted: wanted, Cause: ErrDamaged}
}

func newParser(src io.ReaderAt, size int64, l Limits) (*parser, error) {
	p := &parser{src: src, size: size, most: l.Entries}
	head, err := p.bytes(0, 8)
	if err != nil {
		return nil, &Fault{What: "not a TIFF image: the file is too short", Wanted: "a GeoTIFF file"}
	}
	switch string(head[:2]) {
	case "II":
		p.order = binary.LittleEndian
	case "MM":
		p.order = binary.BigEndian
	default:
		return nil, &Fault{What: "not a TIFF image", Found: fmt.Sprintf("a file that begins with %q", head[:4]), Wanted: "a GeoTIFF file"}
	}
	switch v := p.order.Uint16(head[2:]); v {
	case 42:
		p.first = int64(p.order.Uint32(head[4:]))
		return p, nil
	case 43:
		more, err := p.bytes(4, 12)
		if err != nil {
			return nil, err
		}
		if p.order.Uint16(more) != 8 || p.order.Uint16(more[2:]) != 0 {
			return nil, damaged("the head of the 64-bit TIFF is wrong", "", "offsets of 8 bytes")
		}
		p.big, p.first = true, p.offset(more[4:])
		return p, nil
	default:
		return nil, &Fault{What: "not a TIFF image", Found: fmt.Sprintf("version %d", v), Wanted: "42, or 43 for the 64-bit form"}
	}
}

// offset reads an offset of 4 or 8 bytes; one beyond all files comes out as -1.
func (p *parser) offset(b []byte) int64 {
	if !p.big {
		return int64(p.order.Uint32(b))
	}
	if v := p.order.Uint64(b); v < math.MaxInt64/2 {
		return int64(v)
	}
	return -1
}

func (p *parser) bytes(at, n int64) ([]byte, error) {
	if at < 0 || n < 0 || n > p.size || at > p.size-n {
		return nil, damaged("the file ends in the middle", fmt.Sprintf("%d bytes wanted at %d of %d", n, at, p.size), "the whole file")
	}
	b := make([]byte, n)
	if err := readFull(p.src, b, at); err != nil {
		return nil, &Fault{What: "the file cannot be read", Found: err.Error(), Cause: err}
	}
	return b, nil
}

func readFull(src io.ReaderAt, b []byte, at int64) error {
	n, err := src.ReadAt(b, at)
	if n == len(b) {
		return nil
	}
	if err == nil {
		err = io.ErrUnexpectedEOF
	}
	return err
}

const mostDirectories = 1000

// pictures walks the chain of directories: the first that is a whole image, and
// its mask. Overviews are left alone.
func (p *parser) pictures() (main, mask directory, err error) {
	seen := map[int64]bool{}
	for at := p.first; at != 0; {
		if seen[at] || len(seen) == mostDirectories {
			return nil, nil, damaged("the directories of the file lead in a circle", fmt.Sprintf("directory at %d again, or more than %d", at, mostDirectories), "a file whose directories end")
		}
		seen[at] = true
		d, next, err := p.directory(at)
		if err != nil {
			return nil, nil, err
		}
		kind, _ := p.number(d[tagSubfileType], 0)
		switch {
		case kind&5 == 0 && main == nil:
			main = d
		case kind&5 == 4 && mask == nil:
			mask = d
		}
		at = next
	}
	if main == nil {
		return nil, nil, damaged("there is no image in the file", "", "at least one that is not an overview")
	}
	return main, mask, nil
}

var sizes = [...]int64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4, 0, 0, 8, 8, 8}

// directory reads the directory at an offset, and where the next one is.
func (p *parser) directory(at int64) (directory, int64, error) {
	countLen, entryLen, inline := int64(2), int64(12), int64(4)
	if p.big {
		countLen, entryLen, inline = 8, 20, 8
	}
	head, err := p.bytes(at, countLen)
	if err != nil {
		return nil, 0, err
	}
	n := int64(p.order.Uint16(head))
	if p.big {
		n = p.offset(head)
	}
	if n < 1 || n > 4096 {
		return nil, 0, damaged("a directory has an impossible number of entries", fmt.Sprint(n), "1 to 4096")
	}
	b, err := p.bytes(at+countLen, n*entryLen+inline)
	if err != nil {
		return nil, 0, err
	}
	d := make(directory, n)
	for ; n > 0; n-- {
		if err := p.entry(d, b[:entryLen], inline); err != nil {
			return nil, 0, err
		}
		b = b[entryLen:]
	}
	return d, p.offset(b), nil
}

func (p *parser) entry(d directory, b []byte, inline int64) error {
	tag, kind := p.order.Uint16(b), p.order.Uint16(b[2:])
	count := p.offset(b[4:])
	value := b[8:]
	if p.big {
		value = b[12:]
	}
	if int(kind) >= len(sizes) || sizes[kind] == 0 {
		return nil // of a kind that we need not know
	}
	if count < 0 || count > p.most/sizes[kind] {
		if !needed(tag) {
			return nil
		}
		return &Fault{What: fmt.Sprintf("entry %d of the directory is too long", tag), Found: fmt.Sprintf("%d values", count), Wanted: fmt.Sprintf("at most %d bytes", p.most), Cause: ErrTooLarge}
	}
	total := count * sizes[kind]
	raw := value[:min(total, inline)]
	if total > inline {
		if !needed(tag) {
			return nil
		}
		var err error
		if raw, err = p.bytes(p.offset(value), total); err != nil {
			return err
		}
	}
	if _, twice := d[tag]; !twice {
		d[tag] = entry{kind, count, raw}
	}
	return nil
}

// needed tells whether a tag is one that we read: colour tables, previews and
// the notes of cameras may be broken without harm.
func needed(tag uint16) bool {
	switch tag {
	case tagSubfileType, tagWidth, tagHeight, tagBits, tagCompression, tagFillOrder, tagStripOffsets,
		tagSamples, tagRowsPerStrip, tagStripCounts, tagPlanar, tagDateTime, tagPredictor, tagTileWidth,
		tagTileHeight, tagTileOffsets, tagTileCounts, tagExtraSamples, tagSampleFormat, tagPixelScale,
		tagTiepoint, tagTransformation, tagGeoKeys, tagGDALMetadata, tagGDALNoData:
		return true
	}
	return false
}

// numbers gives the whole numbers of an entry, nil where it has none.
func (p *parser) numbers(e entry) []int64 {
	var one func(b []byte) int64
	switch e.kind {
	case 1, 7:
		one = func(b []byte) int64 { return int64(b[0]) }
	case 3:
		one = func(b []byte) int64 { return int64(p.order.Uint16(b)) }
	case 4, 13:
		one = func(b []byte) int64 { return int64(p.order.Uint32(b)) }
	case 16, 18:
		one = func(b []byte) int64 { return int64(min(p.order.Uint64(b), math.MaxInt64)) }
	default:
		return nil
	}
	out := make([]int64, e.count)
	for i := range out {
		out[i] = one(e.raw[int64(i)*sizes[e.kind]:])
	}
	return out
}

// number gives the only number of an entry, or a default where it is missing.
func (p *parser) number(e entry, missing int64) (int64, bool) {
	v := p.numbers(e)
	if len(v) == 0 {
		return missing, false
	}
	return v[0], true
}

// doubles gives the decimal numbers of an entry.
func (p *parser) doubles(e entry) []float64 {
	if e.kind != 12 {
		return nil
	}
	out := make([]float64, e.count)
	for i := range out {
		out[i] = math.Float64frombits(p.order.Uint64(e.raw[8*i:]))
	}
	return out
}

// text gives the text of an entry without what follows its end.
func (p *parser) text(e entry) string {
	if e.kind != 2 {
		return ""
	}
	s, _, _ := strings.Cut(string(e.raw), "\x00")
	return strings.TrimSpace(s)
}
