package tile

import (
	"errors"
	"fmt"
)

// readGeometry runs geometry commands and checks rules 2 and 5 to 8.
func readGeometry(kind uint64, cmds []uint64) ([][][2]int64, error) {
	if len(cmds) == 0 {
		return nil, errors.New("rule 2: no geometry")
	}
	var parts [][][2]int64
	var at [2]int64
	open := false // a ring or line has begun
	for i := 0; i < len(cmds); {
		id, count := cmds[i]&7, cmds[i]>>3
		i++
		if id == 7 {
			if kind != 3 || count != 1 || !open {
				return nil, fmt.Errorf("rule 6: ClosePath × %d in type %d", count, kind)
			}
			if err := checkRing(parts[len(parts)-1]); err != nil {
				return nil, err
			}
			open = false
			continue
		}
		if id != 1 && id != 2 || count == 0 || uint64(len(cmds)-i) < 2*count {
			return nil, fmt.Errorf("rule 5: command %d × %d with %d numbers after it", id, count, len(cmds)-i)
		}
		if err := checkStart(kind, id, count, open, parts); err != nil {
			return nil, err
		}
		if id == 1 && kind != 1 {
			parts = append(parts, nil)
			open = true
		}
		for range count {
			dx, dy := unzigzag(cmds[i]), unzigzag(cmds[i+1])
			i += 2
			if id == 2 && dx == 0 && dy == 0 {
				return nil, errors.New("rule 7: LineTo without a step")
			}
			at = [2]int64{at[0] + dx, at[1] + dy}
			if kind == 1 {
				parts = append(parts, [][2]int64{at})
			} else {
				parts[len(parts)-1] = append(parts[len(parts)-1], at)
			}
		}
	}
	return parts, checkParts(kind, open, parts)
}

// checkStart wants commands in the order that rule 6 gives for each type.
func checkStart(kind, id, count uint64, open bool, parts [][][2]int64) error {
	switch {
	case kind == 1 && (id != 1 || len(parts) > 0):
		return errors.New("rule 6: points are one MoveTo")
	case kind != 1 && id == 1 && count != 1:
		return fmt.Errorf("rule 6: MoveTo × %d", count)
	case kind == 3 && id == 1 && open:
		return errors.New("rule 6: ring not closed")
	case kind == 2 && id == 1 && open && len(parts[len(parts)-1]) < 2:
		return errors.New("rule 6: line of one point")
	case id == 2 && (!open || len(parts[len(parts)-1]) != 1):
		return errors.New("rule 6: LineTo without MoveTo before it")
	case kind == 3 && id == 2 && count < 2:
		return fmt.Errorf("rule 6: ring of LineTo × %d", count)
	}
	return nil
}

func checkParts(kind uint64, open bool, parts [][][2]int64) error {
	switch kind {
	case 2:
		if len(parts[len(parts)-1]) < 2 {
			return errors.New("rule 6: line of one point")
		}
	case 3:
		if open {
			return errors.New("rule 6: ring not closed")
		}
		return checkOrder(parts)
	}
	return nil
}

func checkRing(r [][2]int64) error {
	switch {
	case len(r) < 3:
		return fmt.Errorf("rule 6: ring of %d points", len(r))
	case r[0] == r[len(r)-1]:
		return errors.New("rule 7: ring repeats its first point")
	case surveyed(r) == 0:
		return errors.New("rule 7: ring without area")
	}
	return nil
}

// checkOrder wants exteriors positive, each followed by its holes, which lie
// inside it and do not cross it or each other.
func checkOrder(rings [][][2]int64) error {
	if surveyed(rings[0]) < 0 {
		return errors.New("rule 8: the first ring is a hole")
	}
	exterior := 0
	for i, r := range rings {
		if surveyed(r) > 0 {
			exterior = i
			continue
		}
		for _, other := range rings[exterior:i] {
			if crossing(r, other) {
				return fmt.Errorf("rule 8: ring %d crosses another", i)
			}
		}
		for _, p := range r {
			if !insideOrOn(rings[exterior], p) {
				return fmt.Errorf("rule 8: hole %d reaches out of its exterior", i)
			}
		}
	}
	return nil
}

// surveyed is twice the area by the surveyor's formula.
func surveyed(r [][2]int64) (a int64) {
	for i, p := range r {
		q := r[(i+1)%len(r)]
		a += p[0]*q[1] - q[0]*p[1]
	}
	return a
}

func sideOf(a, b, c [2]int64) int64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
}

func crossing(a, b [][2]int64) bool {
	for i, p := range a {
		q := a[(i+1)%len(a)]
		for j, r := range b {
			s := b[(j+1)%len(b)]
			d1, d2, d3, d4 := sideOf(p, q, r), sideOf(p, q, s), sideOf(r, s, p), sideOf(r, s, q)
			if (d1 > 0 && d2 < 0 || d1 < 0 && d2 > 0) && (d3 > 0 && d4 < 0 || d3 < 0 && d4 > 0) {
				return true
			}
		}
	}
	return false
}

func insideOrOn(ring [][2]int64, p [2]int64) bool {
	in := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if sideOf(a, b, p) == 0 && p[0] >= min(a[0], b[0]) && p[0] <= max(a[0], b[0]) && p[1] >= min(a[1], b[1]) && p[1] <= max(a[1], b[1]) {
			return true
		}
		if (a[1] > p[1]) != (b[1] > p[1]) {
			s := sideOf(a, b, p)
			if (b[1] > a[1]) == (s > 0) {
				in = !in
			}
		}
	}
	return in
}

func unzigzag(v uint64) int64 { return int64(v>>1) ^ -int64(v&1) }
