package patch

import "math"

// walshMedian is the median of (x_i + x_j) / 2 over all i <= j of values in
// order, found by halving the span of sums and counting (the count is linear, as
// in J. F. Monahan, ACM TOMS 10, 1984).
func walshMedian(x []float64) float64 {
	n := len(x)
	pairs := n * (n + 1) / 2
	low := walshSum(x, (pairs-1)/2)
	if pairs%2 == 1 {
		return low / 2
	}
	return (low + walshSum(x, pairs/2)) / 4
}

// walshSum is the sum x_i + x_j that comes k-th, from 0.
func walshSum(x []float64, k int) float64 {
	lo, hi := sortable(2*x[0]), sortable(2*x[len(x)-1])
	for lo < hi {
		mid := lo + (hi-lo)/2
		if countSums(x, unsortable(mid)) > k {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return unsortable(lo)
}

// countSums counts the pairs i <= j with x_i + x_j <= most.
func countSums(x []float64, most float64) (count int) {
	j := len(x) - 1
	for i := range x {
		for j >= i && x[i]+x[j] > most {
			j--
		}
		if j < i {
			break
		}
		count += j - i + 1
	}
	return count
}

// sortable maps numbers to whole ones in the same order, with none between two
// neighbouring numbers.
func sortable(v float64) uint64 {
	b := math.Float64bits(v + 0) // -0 is 0
	if b>>63 == 1 {
		return ^b
	}
	return b | 1<<63
}

func unsortable(b uint64) float64 {
	if b>>63 == 1 {
		return math.Float64frombits(b &^ (1 << 63))
	}
	return math.Float64frombits(^b)
}
