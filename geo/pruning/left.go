package pruning

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Leaning says which way a pruner departs from the plan.
type Leaning string

// The leanings.
const (
	LeanMany  Leaning = "too many"
	LeanFew   Leaning = "too few"
	LeanEven  Leaning = "even"
	LeanShort Leaning = "too few vines to tell"
)

// Departure compares nodes left with nodes planned over some vines.
type Departure struct {
	Key     string  `json:"key"` // of the row or the pruner; "" all
	Vines   int     `json:"vines"`
	Planned float64 `json:"planned"` // mean nodes
	Left    float64 `json:"left"`    // mean nodes
	Mean    float64 `json:"mean"`    // of left less planned
	SD      float64 `json:"sd"`      // of that; 0 for one vine
	Exact   float64 `json:"exact"`   // share of vines as planned
	Within1 float64 `json:"within_1"`
	Within2 float64 `json:"within_2"`
	Leaning Leaning `json:"leaning"`
}

// leanFrom and leanVines: a mean of half a node or more, and more than two
// standard errors from 0, on five vines or more, is called a leaning; chosen by us.
const (
	leanFrom  = 0.5
	leanVines = 5
)

// CompareLeft compares what was left with what was planned: over all vines (first
// entry), and for each key. Entries below 0 in left or planned are not counted.
// keys names each vine's row or pruner; nil: all only. Sorted by key. The error
// wraps ErrInput.
func CompareLeft(planned, left []int16, keys []string) ([]Departure, error) {
	if len(left) != len(planned) || keys != nil && len(keys) != len(planned) {
		return nil, wrong(ErrInput, "left and keys", fmt.Sprintf("%d and %d entries", len(left), len(keys)), fmt.Sprintf("%d, as of planned", len(planned)))
	}
	groups := map[string][]int{}
	var all []int
	for i := range planned {
		if planned[i] < 0 || left[i] < 0 {
			continue
		}
		all = append(all, i)
		if keys != nil {
			groups[keys[i]] = append(groups[keys[i]], i)
		}
	}
	out := []Departure{departure("", all, planned, left)}
	for key, vines := range groups {
		out = append(out, departure(key, vines, planned, left))
	}
	slices.SortFunc(out[1:], func(a, b Departure) int { return cmp.Compare(a.Key, b.Key) })
	return out, nil
}

// Against compares what was left on the vines with the plan: by row in the order
// of rows, and by pruner. left is below 0 and pruner "" where nobody said. The
// first entry of each is all vines; places without a living vine are not counted.
// The error wraps ErrInput.
func (r *Result) Against(left []int16, pruner []string) (rows, pruners []Departure, err error) {
	n := r.Len()
	if len(left) != n || pruner != nil && len(pruner) != n {
		return nil, nil, wrong(ErrInput, "left and pruner", fmt.Sprintf("%d and %d entries", len(left), len(pruner)), fmt.Sprintf("%d, one for each vine", n))
	}
	g := r.w.b.Stand.Ground
	planned := make([]int16, n)
	var all, known []int
	for i := range planned {
		planned[i] = -1
		if r.Bound[i] == BoundNone || left[i] < 0 {
			continue
		}
		planned[i] = int16(r.Nodes[i])
		all = append(all, i)
		if pruner != nil && pruner[i] != "" {
			known = append(known, i)
		}
	}
	rows = []Departure{departure("", all, planned, left)}
	for from := 0; from < len(all); {
		to := from
		for to < len(all) && g.Row[all[to]] == g.Row[all[from]] {
			to++
		}
		rows = append(rows, departure(g.Rows[g.Row[all[from]]].Label, all[from:to], planned, left))
		from = to
	}
	keys, p, l := make([]string, len(known)), make([]int16, len(known)), make([]int16, len(known))
	for k, i := range known {
		keys[k], p[k], l[k] = pruner[i], planned[i], left[i]
	}
	pruners, err = CompareLeft(p, l, keys)
	return rows, pruners, err
}

func departure(key string, vines []int, planned, left []int16) Departure {
	d := Departure{Key: key, Vines: len(vines), Leaning: LeanShort}
	n := float64(len(vines))
	if n == 0 {
		return d
	}
	var squares float64
	for _, i := range vines {
		diff := float64(left[i]) - float64(planned[i])
		d.Planned += float64(planned[i]) / n
		d.Left += float64(left[i]) / n
		squares += diff * diff
		d.Exact += share(math.Abs(diff) <= 0, n)
		d.Within1 += share(math.Abs(diff) <= 1, n)
		d.Within2 += share(math.Abs(diff) <= 2, n)
	}
	d.Mean = d.Left - d.Planned
	if n > 1 {
		d.SD = math.Sqrt(max(0, squares-n*d.Mean*d.Mean) / (n - 1))
	}
	if len(vines) >= leanVines {
		d.Leaning = LeanEven
		if math.Abs(d.Mean) >= leanFrom && math.Abs(d.Mean) > 2*d.SD/math.Sqrt(n) {
			d.Leaning = LeanMany
			if d.Mean < 0 {
				d.Leaning = LeanFew
			}
		}
	}
	return d
}

func share(is bool, n float64) float64 {
	if is {
		return 1 / n
	}
	return 0
}
