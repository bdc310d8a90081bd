package vigour_test

import (
	"fmt"
	"math/rand/v2"

	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
)

// Thirty rows, one vine in nine weighed, one missing.
func ExampleEstimate() {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: 1})
	for row := range 30 {
		b.Row(vine.ID(10_000+row), fmt.Sprint(row+1), 0)
		for n := range 40 {
			b.Vine(stand.Position{ID: vine.ID(1 + row*40 + n), Number: n + 1, ChainageM: float64(n), X: float64(2 * row), Y: float64(n), Lon: 0.6, Lat: 44.8, Planted: 2010})
		}
	}
	ground, err := b.Ground()
	if err != nil {
		fmt.Println(err)
		return
	}
	s := stand.NewStand(ground, 2027, 1)
	random := rand.New(rand.NewPCG(1, 1))
	for i := 0; i < ground.Len(); i += 9 {
		grams := float64(300+10*(i/40)) + 40*random.NormFloat64() // stronger towards the last row
		s.Set(i, vine.State{Condition: vine.Bearing, Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: {Value: grams}}}, 1)
	}
	s.Set(601, vine.State{Condition: vine.Missing}, 1)

	r, err := vigour.Estimate(vigour.Input{Stand: s})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, i := range []int{90, 91, 601, 1150} {
		fmt.Printf("%s: %.2f ± %.2f kg/m, %s\n", ground.Address(i), r.KgPerM[i], r.SE[i], r.Source(i))
	}
	fmt.Printf("%d weighed, %d estimated, error of left-out vines %.3f kg/m\n", r.Counts[vigour.Measured], r.Counts[vigour.Estimated], r.Kriging.LeaveOut.RMSE)
	// Output:
	// H3/3/11: 0.33 ± 0.00 kg/m, measured
	// H3/3/12: 0.31 ± 0.03 kg/m, estimated by kriging
	// H3/16/2: -1.00 ± -1.00 kg/m, none
	// H3/29/31: 0.57 ± 0.04 kg/m, estimated by kriging
	// 134 weighed, 1065 estimated, error of left-out vines 0.042 kg/m
}

// Which vines to weigh in a block of 2,000, of which nothing is known yet.
func ExamplePlan() {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: 1})
	for row := range 40 {
		b.Row(vine.ID(10_000+row), fmt.Sprint(row+1), 0)
		for n := range 50 {
			b.Vine(stand.Position{ID: vine.ID(1 + row*50 + n), Number: n + 1, ChainageM: float64(n), X: float64(2 * row), Y: float64(n), Lon: 0.6, Lat: 44.8, Planted: 2010})
		}
	}
	ground, err := b.Ground()
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := vigour.Plan(vigour.PlanInput{Stand: stand.NewStand(ground, 2027, 1), Options: vigour.PlanOptions{RelError: 0.15}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d vines of %d that qualify, for an error of %.0f %% at a variation of %.0f %% (%s)\n", len(p.Vines), p.Qualified, 100*p.RelError, 100*p.CV, p.CVFrom)
	for _, i := range p.Vines[:3] {
		fmt.Println(ground.Address(i))
	}
	// Output:
	// 12 vines of 1840 that qualify, for an error of 15 % at a variation of 25 % (a usual figure; nothing was measured here yet)
	// H3/4/20
	// H3/7/32
	// H3/10/46
}
