package layout

import (
	"fmt"
	"math"

	"courson/geo/frame"
)

// arrange puts the parts in walking order, joins parts that touch, and refuses
// parts that lie on each other.
func (r *Row) arrange() error {
	if len(r.Parts) == 1 {
		return nil
	}
	if err := apart(r.Parts); err != nil {
		return err
	}
	parts := chain(r.Parts)
	out := parts[:1]
	for _, p := range parts[1:] {
		last := out[len(out)-1]
		if frame.Dist(last[len(last)-1], p[0]) <= joinM {
			out[len(out)-1] = append(last[:len(last):len(last)], p[1:]...)
			r.Joined++
			continue
		}
		out = append(out, p)
	}
	r.Parts = out
	return nil
}

// chain walks the parts from one end of the row to the other, each time on to
// the part whose nearer end is nearest, and gives them in that order and
// direction. It starts at the end that is one of the two farthest apart, and
// so that the first part given is walked the way it is drawn.
func chain(parts []frame.Line) []frame.Line {
	start, tail := farthest(parts)
	out := make([]frame.Line, 0, len(parts))
	used := make([]bool, len(parts))
	firstKept := false
	for at, flip := start, tail; ; {
		used[at] = true
		p := parts[at]
		if flip {
			p = p.Reversed()
		}
		if at == 0 {
			firstKept = !flip
		}
		out = append(out, p)
		if at, flip = nearestPart(parts, used, p[len(p)-1]); at < 0 {
			break
		}
	}
	if firstKept {
		return out
	}
	back := make([]frame.Line, len(out))
	for i, p := range out {
		back[len(out)-1-i] = p.Reversed()
	}
	return back
}

// nearestPart gives the unused part with an end nearest to a place and whether
// that end is its last; -1 where none is left.
func nearestPart(parts []frame.Line, used []bool, from frame.XY) (at int, tail bool) {
	at = -1
	best := math.Inf(1)
	for i, p := range parts {
		if used[i] {
			continue
		}
		if d := frame.Dist(from, p[0]); d < best {
			best, at, tail = d, i, false
		}
		if d := frame.Dist(from, p[len(p)-1]); d < best {
			best, at, tail = d, i, true
		}
	}
	return at, tail
}

// farthest gives the part, and which end of it, that is one of the two ends
// farthest apart; of the two the one met first.
func farthest(parts []frame.Line) (part int, tail bool) {
	best := -1.0
	for i := range 2 * len(parts) {
		for j := i + 1; j < 2*len(parts); j++ {
			if d := frame.Dist(partEnd(parts, i), partEnd(parts, j)); d > best {
				best, part, tail = d, i/2, i%2 == 1
			}
		}
	}
	return part, tail
}

// partEnd gives the start (even i) or the end (odd i) of part i/2.
func partEnd(parts []frame.Line, i int) frame.XY {
	p := parts[i/2]
	if i%2 == 0 {
		return p[0]
	}
	return p[len(p)-1]
}

// apart refuses parts of which one's middle lies on another: the same ground
// would be planted twice.
func apart(parts []frame.Line) error {
	const onM = 0.25 // chosen by us: no two rows stand that close
	for i, p := range parts {
		mid, _ := p.At(p.Length() / 2)
		for j, q := range parts {
			if i == j {
				continue
			}
			if hit := q.Nearest(mid); hit.Dist < onM && p.Length() > 2*onM {
				return fmt.Errorf("part %d lies on part %d: %w", i, j, ErrOverlap)
			}
		}
	}
	return nil
}
