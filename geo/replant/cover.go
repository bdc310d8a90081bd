package replant

// Chosen by us: a run of more places without a point is no run of gaps but ground
// that nobody walked, and so is a stretch of which fewer than half have a point.
const (
	longestRun = 10
	leastShare = 0.5
)

// Covered gives the stretches of a row in which a survey is taken to have measured
// every trunk, as places of the row: only there a place without a point may be a
// gap. has tells which places of the row got a point, sure or not. whole says that
// the surveyor walked each row that has a point from end to end.
func Covered(has []bool, whole bool) (out []Span) {
	points, last := 0, -1 // of the stretch
	from := 0
	end := func(to int) {
		if points > 0 && float64(points) >= leastShare*float64(to-from) {
			out = append(out, Span{int32(from), int32(to)})
		}
	}
	for i, h := range has {
		if !h {
			continue
		}
		if i-last-1 > longestRun && !whole {
			if last >= 0 {
				end(last + 1)
			}
			from, points = i, 0
		}
		points++
		last = i
	}
	switch {
	case last < 0:
		return nil
	case whole:
		return []Span{{0, int32(len(has))}}
	case len(has)-last-1 <= longestRun:
		end(len(has))
	default:
		end(last + 1)
	}
	return out
}
