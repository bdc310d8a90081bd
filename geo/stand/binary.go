package stand

import (
	"encoding/binary"
	"encoding/json"
	"math"

	"courson/geo/vine"
)

// ContentType is the media type of the binary form.
const ContentType = "application/vnd.courson.stand"

const (
	magic         = "CRSN"
	formatVersion = 1
	noWeight      = math.MaxUint16
)

// head is the JSON head of the binary form.
type head struct {
	Version        int       `json:"version"`
	Block          vine.ID   `json:"block"`
	Code           string    `json:"code"`
	Season         int       `json:"season"`
	Revision       int64     `json:"revision"`
	GroundRevision int64     `json:"ground_revision"`
	Found          string    `json:"found"`
	Count          int       `json:"count"`
	Rows           []headRow `json:"rows"`
	Columns        []column  `json:"columns"`
}

// headRow is a row; x and y are the world position from which the step of its
// first vine is counted.
type headRow struct {
	ID    vine.ID `json:"id"`
	Label string  `json:"label"`
	First int     `json:"first"`
	Count int     `json:"count"`
	X     uint32  `json:"x"`
	Y     uint32  `json:"y"`
}

// column says where a column lies: offset and length in bytes, the offset from
// the start of the file.
type column struct {
	Name   string `json:"name"`
	Type   string `json:"type"`
	Offset int    `json:"offset"`
	Length int    `json:"length"`
}

// AppendBinary appends the stand in its binary form (DEVELOPERS.md): a head and
// columns of little-endian numbers, each at a multiple of 8 bytes from where
// dst ended.
func AppendBinary(dst []byte, s *Stand) []byte {
	h := headOf(s)
	text := placeColumns(&h)
	start := len(dst)
	end := h.Columns[len(h.Columns)-1]
	if need := start + end.Offset + end.Length; cap(dst) < need {
		dst = append(make([]byte, 0, need), dst...)
	}
	dst = append(dst, magic...)
	dst = binary.LittleEndian.AppendUint32(dst, uint32(len(text)))
	dst = append(dst, text...)
	for _, c := range h.Columns {
		for len(dst) < start+c.Offset {
			dst = append(dst, 0)
		}
		dst = s.appendColumn(dst, c)
	}
	return dst
}

func headOf(s *Stand) head {
	g, n := s.Ground, s.Ground.Len()
	h := head{Version: formatVersion, Block: g.Block, Code: g.Code, Season: s.Season, Revision: s.Revision,
		GroundRevision: g.Revision, Found: s.Stamp(), Count: n, Rows: make([]headRow, len(g.Rows))}
	for r, row := range g.Rows {
		h.Rows[r] = headRow{ID: row.ID, Label: row.Label, First: row.First, Count: row.Count, X: row.Ends[0][0], Y: row.Ends[0][1]}
		if row.Count > 0 {
			h.Rows[r].X, h.Rows[r].Y = g.WX[row.First], g.WY[row.First]
		}
	}
	id, step := g.idType(), g.stepType()
	for _, c := range [...][2]string{{"id", id}, {"number", "u16"}, {"dx", step}, {"dy", step}, {"condition", "u8"}, {"leaf", "u8"},
		{"vigour", "u8"}, {"progress", "u8"}, {"flags", "u8"}, {"nodes", "u8"}, {"left", "u8"}, {"weight", "u16"},
		{"basis", "u8"}, {"doubt", "u8"}, {"change", "u8"}, {"patch", "u8"}, {"replant", "u8"}, {"zone", "u8"}, {"load", "u8"}, {"follow", "u8"}} {
		if c[0] == "replant" && (s.Found == nil || s.Found.Replant == nil) {
			continue // most blocks have no gaps on record
		}
		if c[0] == "zone" && (s.Found == nil || s.Found.Zone == nil) {
			continue // nor zones
		}
		h.Columns = append(h.Columns, column{Name: c[0], Type: c[1], Length: n * widthOf(c[1])})
	}
	return h
}

// widthOf is the bytes of one number; 0 for a type that is not known.
func widthOf(kind string) int {
	switch kind {
	case "u8":
		return 1
	case "i16", "u16":
		return 2
	case "i32", "u32":
		return 4
	case "f64":
		return 8
	}
	return 0
}

func (g *Ground) idType() string {
	for _, id := range g.ID {
		if id > math.MaxUint32 {
			return "f64"
		}
	}
	return "u32"
}

// stepType is the least type that holds every step from vine to vine.
func (g *Ground) stepType() string {
	for _, row := range g.Rows {
		for i := row.First + 1; i < row.First+row.Count; i++ {
			dx, dy := int32(g.WX[i]-g.WX[i-1]), int32(g.WY[i]-g.WY[i-1])
			if dx != int32(int16(dx)) || dy != int32(int16(dy)) {
				return "i32"
			}
		}
	}
	return "i16"
}

// placeColumns sets the offsets and gives the head's text, padded with blanks.
// The head holds the offsets and the offsets depend on its length, so it is
// written until both fit; a longer head only makes offsets longer, so that it
// comes to an end after two or three times.
func placeColumns(h *head) []byte {
	for base := 0; ; {
		at := base
		for i := range h.Columns {
			h.Columns[i].Offset = at
			at = eight(at + h.Columns[i].Length)
		}
		text, err := json.Marshal(h)
		if err != nil {
			return nil // numbers and texts only: cannot happen
		}
		if need := eight(8 + len(text)); need > base {
			base = need
			continue
		}
		for len(text) < base-8 {
			text = append(text, ' ')
		}
		return text
	}
}

// eight rounds up to a multiple of 8.
func eight(n int) int { return (n + 7) &^ 7 }

func (s *Stand) appendColumn(dst []byte, c column) []byte {
	switch c.Name {
	case "id":
		return s.Ground.appendIDs(dst, c.Type)
	case "number":
		for _, n := range s.Ground.Number {
			dst = binary.LittleEndian.AppendUint16(dst, uint16(n))
		}
	case "dx":
		return s.Ground.appendSteps(dst, s.Ground.WX, c.Type)
	case "dy":
		return s.Ground.appendSteps(dst, s.Ground.WY, c.Type)
	case "condition":
		return appendBytes(dst, s.Condition)
	case "leaf":
		return append(dst, s.Leaf...)
	case "vigour":
		return append(dst, s.Vigour...)
	case "progress":
		return appendBytes(dst, s.Progress)
	case "flags":
		return appendBytes(dst, s.Flags)
	case "nodes":
		return append(dst, s.Nodes...)
	case "left":
		return append(dst, s.Left...)
	case "load":
		for i := range s.Nodes {
			dst = append(dst, s.LoadOf(i))
		}
	case "follow":
		for i := range s.Nodes {
			dst = append(dst, uint8(s.FollowOf(i)))
		}
	case "basis":
		return s.appendFound(dst, s.BasisOf)
	case "doubt":
		return s.appendFound(dst, s.DoubtOf)
	case "change":
		return s.appendFound(dst, s.ChangeOf)
	case "replant":
		return s.appendFound(dst, func(i int) uint8 { return uint8(s.ReplantOf(i)) })
	case "zone":
		return s.appendFound(dst, s.ZoneOf)
	case "patch":
		return s.appendFound(dst, func(i int) uint8 { return uint8(s.PatchOf(i)) })
	case "weight":
		for _, w := range s.WeightG {
			dst = binary.LittleEndian.AppendUint16(dst, roundWeight(w))
		}
	}
	return dst
}

// appendFound writes a column of findings, which shows nothing of vines that
// are gone.
func (s *Stand) appendFound(dst []byte, of func(int) uint8) []byte {
	for i := range s.Ground.Len() {
		dst = append(dst, of(i))
	}
	return dst
}

func appendBytes[T ~uint8](dst []byte, column []T) []byte {
	for _, v := range column {
		dst = append(dst, byte(v))
	}
	return dst
}

func roundWeight(g float32) uint16 {
	if g < 0 {
		return noWeight
	}
	return uint16(min(math.Round(float64(g)), noWeight-1))
}

func (g *Ground) appendIDs(dst []byte, kind string) []byte {
	for _, id := range g.ID {
		if kind == "u32" {
			dst = binary.LittleEndian.AppendUint32(dst, uint32(id))
		} else {
			dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(float64(id)))
		}
	}
	return dst
}

// appendSteps writes differences from vine to vine; across the edge of the
// world at 180° they count the short way.
func (g *Ground) appendSteps(dst []byte, at []uint32, kind string) []byte {
	for _, row := range g.Rows {
		for i := row.First; i < row.First+row.Count; i++ {
			var d uint32
			if i > row.First {
				d = at[i] - at[i-1]
			}
			if kind == "i16" {
				dst = binary.LittleEndian.AppendUint16(dst, uint16(d))
			} else {
				dst = binary.LittleEndian.AppendUint32(dst, d)
			}
		}
	}
	return dst
}
