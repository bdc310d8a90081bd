package work

import (
	"context"
	"errors"

	"github.com/paulmach/orb"

	"courson/store"
)

// nearLines is how many stored rows a look shows beside what is in the files.
const nearLines = 1000

// near gives the outlines and rows that are stored where the places of the files
// lie. It passes on the error that it is given.
func near(ctx context.Context, st store.Store, seen []*Seen, before error) ([]SeenShape, error) {
	bound, some := boundOf(seen)
	if !some {
		return nil, before
	}
	blocks, err := st.Blocks(ctx)
	if err != nil {
		return nil, errors.Join(before, err)
	}
	var out []SeenShape
	lines := 0
	for _, b := range blocks {
		if len(b.Outline) > 0 && !b.Outline.Bound().Intersects(bound) {
			continue
		}
		if len(b.Outline) > 0 {
			out = append(out, nearShape(b.Outline, b.Code))
		}
		if lines >= nearLines {
			continue
		}
		rows, err := st.Rows(ctx, b.ID)
		if err != nil {
			return nil, errors.Join(before, err)
		}
		for _, r := range rows {
			if lines < nearLines && len(r.Line) > 0 && r.Line.Bound().Intersects(bound) {
				out = append(out, nearShape(r.Line, r.Label))
				lines++
			}
		}
	}
	return out, before
}

// boundOf holds all places that are drawn.
func boundOf(seen []*Seen) (bound orb.Bound, some bool) {
	for _, s := range seen {
		for _, shape := range s.Shapes {
			for _, part := range shape.Parts {
				for i := 0; i+1 < len(part); i += 2 {
					p := orb.Point{part[i], part[i+1]}
					if !some {
						bound, some = p.Bound(), true
					}
					bound = bound.Extend(p)
				}
			}
		}
	}
	return bound, some
}

func nearShape(g orb.Geometry, label string) SeenShape {
	shape := SeenShape{Label: label}
	eachSimple(g, func(kind string, ps []orb.Point) {
		shape.Kind = kind
		part := make([]float64, 0, 2*len(ps))
		for _, p := range ps {
			part = append(part, rounded8(p[0]), rounded8(p[1]))
		}
		shape.Parts = append(shape.Parts, part)
	})
	return shape
}
