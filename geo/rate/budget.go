package rate

import (
	"fmt"
	"math"
)

// save cuts rates until the block's total is within the budget, never below the
// least of a zone. Error: ErrBudget where the least of all zones take more.
func (p *planner) save() error {
	budget := p.q.Budget
	asked := func(k int) float64 { return p.out.Zones[k].Rate }
	if budget == 0 || p.total(asked) <= budget {
		return nil
	}
	least := func(k int) float64 { return p.limits[k].least }
	if t := p.total(least); t > budget {
		return refuse(ErrBudget, "the budget of %.6g %s is less than the %.6g that the least rates take", budget, p.out.Measure, t)
	}
	cut := func(x float64) func(k int) float64 {
		return func(k int) float64 { return max(least(k), x*asked(k)) }
	}
	most := 1.0
	if p.q.Saving == Levelled {
		cut = func(x float64) func(k int) float64 {
			return func(k int) float64 { return max(least(k), min(x, asked(k))) }
		}
		for k := range p.out.Zones {
			most = max(most, asked(k))
		}
	}
	rate := cut(p.halve(cut, most, budget))
	rates := make([]float64, len(p.out.Zones))
	for k := range rates {
		rates[k] = rate(k)
	}
	for k, v := range rates {
		if z := &p.out.Zones[k]; v < z.Rate {
			z.Rate, z.Bound = v, "budget"
		}
	}
	p.out.Notes = append(p.out.Notes, fmt.Sprintf("Rates were cut to the budget of %.6g %s.", budget, p.out.Measure))
	return nil
}

// halve finds the largest x whose total is within the budget, to the last digit:
// totals rise with x, and 0 is within.
func (p *planner) halve(cut func(x float64) func(k int) float64, most, budget float64) float64 {
	low, high := 0.0, most
	for {
		mid := low + (high-low)/2
		if mid <= low || mid >= high || math.IsNaN(mid) {
			return low
		}
		if p.total(cut(mid)) <= budget {
			low = mid
		} else {
			high = mid
		}
	}
}
