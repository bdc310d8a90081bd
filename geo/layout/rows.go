package layout

import (
	"fmt"
	"math"

	"courson/geo/frame"
)

// MostRows is the most rows that Rows draws at once; chosen by us.
const MostRows = 5000

// Rows draws a block's rows from its first one: count rows including the first,
// a row spacing apart, on the side away from which they are counted, clipped to
// the block where one is given. The far side is a compass word or a place; for
// AsDrawn it is the right of the first row as drawn. Rows that miss the block are
// left out; skipped counts them. A row that the block's outline cuts has parts.
//
// Refused are impossible spacings and counts, and a side along the row.
func Rows(first Row, spacingM float64, count int, far End, block frame.MultiPolygon) (rows []Row, skipped int, err error) {
	if !(spacingM > 0) || math.IsInf(spacingM, 1) {
		return nil, 0, fmt.Errorf("row spacing %v: %w", spacingM, ErrSpacing)
	}
	if count < 1 || count > MostRows {
		return nil, 0, fmt.Errorf("%d rows: %w: from 1 to %d", count, ErrTooMany, MostRows)
	}
	left, err := first.sideward(far)
	if err != nil {
		return nil, 0, err
	}
	for k := range count {
		r := Row{Frame: first.Frame}
		for _, p := range first.Parts {
			l := p
			if k > 0 {
				l = p.Parallel(left * float64(k) * spacingM)
			}
			if block == nil {
				r.Parts = append(r.Parts, l)
				continue
			}
			for _, c := range l.Clip(block) {
				if c.Length() > joinM {
					r.Parts = append(r.Parts, c)
				}
			}
		}
		if len(r.Parts) == 0 {
			skipped++
			continue
		}
		rows = append(rows, r)
	}
	return rows, skipped, nil
}

// sideward is 1 where the side named lies to the left of the row, -1 to the
// right.
func (r Row) sideward(e End) (float64, error) {
	if e == AsDrawn {
		return -1, nil
	}
	a, b := r.Ends()
	d := frame.Dist(a, b)
	if d == 0 {
		return 0, fmt.Errorf("a row that ends where it begins: %w", ErrSideUnclear)
	}
	right := frame.XY{X: (b.Y - a.Y) / d, Y: -(b.X - a.X) / d}
	ahead, clear := e.sideOf(r.Frame, frame.Between(a, b, 0.5), right, d)
	if !clear {
		return 0, fmt.Errorf("side %s of a row that bears %.0f°: %w", e, frame.Azimuth(a, b), ErrSideUnclear)
	}
	if ahead {
		return -1, nil
	}
	return 1, nil
}
