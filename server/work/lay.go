package work

import (
	"fmt"
	"math"
	"strconv"

	"courson/geo/format/csv"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/store"
)

// lay gives the vines of a row the places that were laid out along its line.
//
// History stays with the place: a stored vine is the one whose place lies within
// half a planting distance of where it stood, whatever its number. Only when
// fewer than half of the places are found so, because the whole row moved, are
// vines found by number. Vines are numbered as laid out, unless some of the
// stored ones have lost their place, as on a new road: then numbers are kept and
// the gap stays.
func (w *blockWork) lay(rw *rowWork, places []layout.Place, spacing float64) {
	if len(rw.vines) == 0 {
		for _, p := range places {
			rw.vines = append(rw.vines, store.Vine{Block: w.b.ID, Row: rw.r.ID, Number: p.Number, Point: p.Point, ChainageM: p.ChainageM, Part: p.Part})
			rw.fate = append(rw.fate, made)
		}
		return
	}
	of, found := w.byPlace(rw, places, spacing/2)
	if 2*found < len(places) {
		of = byNumber(rw, places)
	}
	lost := w.lost(rw, of)
	numbers, ok := numbersFor(rw, of, places, len(lost) > 0)
	if !ok {
		w.problem(rw.r.in.where, string(csv.Vine), fmt.Sprintf("row %s/%s has new places between stored vines", w.b.Code, rw.r.Label), fmt.Sprintf("%d places for %d stored vines", len(places), len(rw.vines)), "vines as points with their numbers")
		return
	}
	for i, p := range places {
		v := store.Vine{Block: w.b.ID, Row: rw.r.ID, Number: numbers[i], Point: p.Point, ChainageM: p.ChainageM, Part: p.Part}
		if of[i] < 0 {
			rw.vines, rw.fate = append(rw.vines, v), append(rw.fate, made)
			continue
		}
		rw.move(of[i], v)
	}
	if len(lost) > 0 {
		w.notice(rw.r.in.where, "geometry", fmt.Sprintf("%d of its vines have no place on it any more and stay where they were: %s", len(lost), firstOf(lost)))
	}
	rw.sort()
}

// move gives a stored vine its number and place.
func (rw *rowWork) move(k int, to store.Vine) {
	old := &rw.vines[k]
	if old.Number == to.Number && samePoint(old.Point, to.Point) && old.Part == to.Part && math.Abs(old.ChainageM-to.ChainageM) <= 0.002 {
		return
	}
	if !samePoint(old.Point, to.Point) {
		old.Point = to.Point
	}
	old.Number, old.Part, old.ChainageM = to.Number, to.Part, to.ChainageM
	rw.change(k)
}

// byPlace finds for each place the nearest stored vine within reach, each vine
// once; -1 where there is none.
func (w *blockWork) byPlace(rw *rowWork, places []layout.Place, reach float64) (of []int, found int) {
	at := make([]frame.XY, len(rw.vines))
	for k, v := range rw.vines {
		at[k] = w.b.frame.XY(v.Point)
	}
	of = make([]int, len(places))
	taken := make([]bool, len(rw.vines))
	for i, p := range places {
		of[i] = -1
		best := reach
		for k := range at {
			if d := frame.Dist(at[k], p.At); !taken[k] && d < best {
				of[i], best = k, d
			}
		}
		if of[i] >= 0 {
			taken[of[i]] = true
			found++
		}
	}
	return of, found
}

// byNumber finds for each place the stored vine of its number.
func byNumber(rw *rowWork, places []layout.Place) []int {
	of := make([]int, len(places))
	for i, p := range places {
		of[i] = -1
		if k, ok := rw.find(p.Number); ok {
			of[i] = k
		}
	}
	return of
}

// lost gives the numbers of stored vines that got no place.
func (w *blockWork) lost(rw *rowWork, of []int) []string {
	kept := make([]bool, len(rw.vines))
	for _, k := range of {
		if k >= 0 {
			kept[k] = true
		}
	}
	var out []string
	for k, v := range rw.vines {
		if !kept[k] {
			out = append(out, strconv.Itoa(v.Number))
		}
	}
	return out
}

// numbersFor numbers the places: as laid out, or, to keep numbers, as stored,
// with new places numbered on beyond the last. It is false where new places lie
// between stored ones and there is no number for them.
func numbersFor(rw *rowWork, of []int, places []layout.Place, keep bool) ([]int, bool) {
	out := make([]int, len(places))
	if !keep {
		for i, p := range places {
			out[i] = p.Number
		}
		return out, true
	}
	next := rw.vines[len(rw.vines)-1].Number + 1
	last := 0
	for i, k := range of {
		switch {
		case k >= 0 && rw.vines[k].Number > last:
			out[i] = rw.vines[k].Number
		case k < 0 && last >= next-1:
			out[i] = last + 1
		case k < 0 && i == len(places)-1 || k < 0 && noneAfter(of[i:]):
			out[i] = max(next, last+1)
		default:
			return nil, false
		}
		last = out[i]
	}
	return out, true
}

func noneAfter(of []int) bool {
	for _, k := range of {
		if k >= 0 {
			return false
		}
	}
	return true
}
