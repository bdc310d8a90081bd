package stand

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"courson/geo/vine"
)

// ErrFormat says that bytes are not a stand in its binary form.
var ErrFormat = errors.New("not a stand in binary form")

// ReadBinary reads what AppendBinary wrote, for programs that get stands over
// the network. The ground has ids, rows, numbers and world positions; what the
// binary form does not carry is nil in the ground and -1 in scores and yields.
// Weights come back rounded to the gram, and Changed as the stand's revision.
func ReadBinary(data []byte) (*Stand, error) {
	h, err := readHead(data)
	if err != nil {
		return nil, err
	}
	r := reader{data: data, h: h, at: make(map[string]column, len(h.Columns))}
	for _, c := range h.Columns {
		r.at[c.Name] = c
	}
	s := r.read()
	if r.err != nil {
		return nil, r.err
	}
	if err := s.Ground.Finish(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrFormat, err)
	}
	return s, nil
}

func readHead(data []byte) (head, error) {
	var h head
	if len(data) < 8 || string(data[:4]) != magic {
		return h, fmt.Errorf("%w: it does not begin with %s", ErrFormat, magic)
	}
	length := int64(binary.LittleEndian.Uint32(data[4:]))
	if length > int64(len(data)-8) {
		return h, fmt.Errorf("%w: the head is cut off", ErrFormat)
	}
	if err := json.Unmarshal(data[8:8+length], &h); err != nil {
		return h, fmt.Errorf("%w: head: %w", ErrFormat, err)
	}
	if h.Version != formatVersion {
		return h, fmt.Errorf("%w: version %d, this program reads %d", ErrFormat, h.Version, formatVersion)
	}
	if h.Count < 0 || h.Count > len(data) {
		return h, fmt.Errorf("%w: %d vines in %d bytes", ErrFormat, h.Count, len(data))
	}
	next := 0
	for _, r := range h.Rows {
		if r.First != next || r.Count < 0 || r.Count > h.Count-next {
			return h, fmt.Errorf("%w: row %q has vines %d to %d of %d", ErrFormat, r.Label, r.First, r.First+r.Count, h.Count)
		}
		next += r.Count
	}
	if next != h.Count {
		return h, fmt.Errorf("%w: the rows hold %d of %d vines", ErrFormat, next, h.Count)
	}
	return h, nil
}

// reader reads columns; the first fault stays in err.
type reader struct {
	data []byte
	h    head
	at   map[string]column
	err  error
}

func (r *reader) read() *Stand {
	n := r.h.Count
	g := &Ground{Block: r.h.Block, Code: r.h.Code, Revision: r.h.GroundRevision,
		ID: readColumn(r, "id", func(v float64) vine.ID { return vine.ID(v) }, "u32", "f64"), Row: make([]int32, n),
		Number: readColumn(r, "number", func(v float64) int32 { return int32(v) }, "u16")}
	s := &Stand{Ground: g, Season: r.h.Season, Revision: r.h.Revision, Rule: DefaultRule(),
		Condition: readBytes[vine.Condition](r, "condition"), Leaf: readBytes[uint8](r, "leaf"), Progress: readBytes[vine.Progress](r, "progress"),
		Flags: readBytes[Flags](r, "flags"), Vigour: readBytes[uint8](r, "vigour"),
		WeightG: readColumn(r, "weight", weightOf, "u16"), Score: filled[float32](n, -1), YieldG: filled[float32](n, -1),
		Nodes: readBytes[uint8](r, "nodes"), Left: readBytes[uint8](r, "left"), Follow: orNil(readBytes[vine.FollowUp](r, "follow")), Changed: filled(n, r.h.Revision)}
	found := &Found{Stamp: r.h.Found, Class: s.Vigour, Basis: readBytes[uint8](r, "basis"), Doubt: readBytes[uint8](r, "doubt"),
		Change: readBytes[uint8](r, "change"), Patch: readBytes[Patchy](r, "patch")}
	if found.Stamp != "" {
		s.Found = found
	}
	step := func(v float64) int32 { return int32(v) }
	r.place(g, readColumn(r, "dx", step, "i16", "i32"), readColumn(r, "dy", step, "i16", "i32"))
	return s
}

// orNil gives nil for a column of zeros.
func orNil(jobs []vine.FollowUp) []vine.FollowUp {
	for _, job := range jobs {
		if job != vine.FollowNone {
			return jobs
		}
	}
	return nil
}

func weightOf(v float64) float32 {
	if v == noWeight {
		return -1
	}
	return float32(v)
}

// place adds up the steps along each row.
func (r *reader) place(g *Ground, dx, dy []int32) {
	if r.err != nil {
		return
	}
	g.WX, g.WY = make([]uint32, r.h.Count), make([]uint32, r.h.Count)
	for k, row := range r.h.Rows {
		g.Rows = append(g.Rows, Row{ID: row.ID, Label: row.Label, First: row.First, Count: row.Count})
		x, y := row.X, row.Y
		for i := row.First; i < row.First+row.Count; i++ {
			x, y = x+uint32(dx[i]), y+uint32(dy[i])
			g.Row[i], g.WX[i], g.WY[i] = int32(k), x, y
		}
	}
}

func readBytes[T ~uint8](r *reader, name string) []T {
	return readColumn(r, name, func(v float64) T { return T(v) }, "u8")
}

// readColumn reads a column of one of the types; a float64 holds every number
// of them.
func readColumn[T any](r *reader, name string, make1 func(float64) T, types ...string) []T {
	if r.err != nil {
		return nil
	}
	c, ok := r.at[name]
	if !ok {
		r.err = fmt.Errorf("%w: there is no column %s", ErrFormat, name)
		return nil
	}
	known := false
	for _, t := range types {
		known = known || t == c.Type
	}
	width := widthOf(c.Type)
	if !known || c.Length != r.h.Count*width || c.Offset < 0 || c.Offset%8 != 0 || c.Offset > len(r.data)-c.Length {
		r.err = fmt.Errorf("%w: column %s of type %q at %d, %d bytes, does not fit %d vines in %d bytes",
			ErrFormat, name, c.Type, c.Offset, c.Length, r.h.Count, len(r.data))
		return nil
	}
	out := make([]T, r.h.Count)
	for i := range out {
		out[i] = make1(number(c.Type, r.data[c.Offset+i*width:]))
	}
	return out
}

func number(kind string, b []byte) float64 {
	switch kind {
	case "u8":
		return float64(b[0])
	case "i16":
		return float64(int16(binary.LittleEndian.Uint16(b)))
	case "u16":
		return float64(binary.LittleEndian.Uint16(b))
	case "i32":
		return float64(int32(binary.LittleEndian.Uint32(b)))
	case "u32":
		return float64(binary.LittleEndian.Uint32(b))
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(b))
	if v != math.Trunc(v) || !(math.Abs(v) < 1<<53) {
		return 0 // no id: refused with the ground
	}
	return v
}
