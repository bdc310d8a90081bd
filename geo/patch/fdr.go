package patch

import "sort"

// Adjust gives the p-values of Benjamini and Hochberg: calling those at or below
// q a finding keeps the expected share of false findings at or below q, also
// where tests depend on each other as neighbours do (positively). The slice is
// not changed.
func Adjust(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return p[order[i]] > p[order[j]] })
	out := make([]float64, len(p))
	least := 1.0
	for k, i := range order {
		rank := float64(len(p) - k)
		least = min(least, p[i]*float64(len(p))/rank)
		out[i] = least
	}
	return out
}
