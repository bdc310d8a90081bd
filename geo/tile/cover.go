package tile

import (
	"iter"

	"github.com/paulmach/orb"
)

// Span is a rectangle of tiles of one zoom. Columns run from West eastwards and
// may pass the antimeridian, so East can be less than West.
type Span struct {
	Z            uint8
	West, East   uint32
	North, South uint32
}

// Cover gives the tiles of a zoom that a rectangle in degrees touches. A
// rectangle whose west is greater than its east, or whose east is beyond 180°,
// passes the antimeridian. The whole world is covered once, not twice.
func Cover(b orb.Bound, z uint8) (Span, error) {
	west, east := b.Min[0], b.Max[0]
	nw, err := At(west, b.Max[1], z)
	if err != nil {
		return Span{}, err
	}
	se, err := At(east, b.Min[1], z)
	if err != nil {
		return Span{}, err
	}
	s := Span{Z: z, West: nw.X, East: se.X, North: nw.Y, South: se.Y}
	if width := 360 / float64(uint32(1)<<z); float64(s.Columns())*width < east-west {
		s.West, s.East = 0, 1<<z-1 // went round into its own first column
	}
	return s, nil
}

// Columns is the number of tile columns, Rows that of tile rows.
func (s Span) Columns() int {
	n := uint32(1) << s.Z
	return int((s.East-s.West)&(n-1)) + 1
}

// Rows is the number of tile rows.
func (s Span) Rows() int { return int(s.South) - int(s.North) + 1 }

// Len is the number of tiles.
func (s Span) Len() int { return s.Columns() * max(0, s.Rows()) }

// All goes through the tiles by rows from the north-west.
func (s Span) All() iter.Seq[Tile] {
	return func(yield func(Tile) bool) {
		n := uint32(1) << s.Z
		for y := s.North; y <= s.South; y++ {
			for c := range s.Columns() {
				if !yield(Tile{s.Z, (s.West + uint32(c)) & (n - 1), y}) {
					return
				}
			}
		}
	}
}

// Contains tells whether a tile is in the span.
func (s Span) Contains(t Tile) bool {
	n := uint32(1) << s.Z
	return t.Z == s.Z && t.Y >= s.North && t.Y <= s.South && int((t.X-s.West)&(n-1)) < s.Columns()
}
