package krige_test

import (
	"fmt"

	"courson/geo/krige"
)

// Six places with a value; what lies between them, and how sure that is.
func ExampleField_Worker() {
	points := []krige.Point{{X: 0, Y: 0, V: 0.30}, {X: 10, Y: 0, V: 0.34}, {X: 20, Y: 0, V: 0.52}, {X: 0, Y: 10, V: 0.28}, {X: 10, Y: 10, V: 0.40}, {X: 20, Y: 10, V: 0.55}}
	model := krige.Model{Shape: krige.Spherical, Nugget: 0.002, Sill: 0.012, Range: 30}
	field, err := krige.NewField(points, model, krige.Neighbours{Most: 4})
	if err != nil {
		fmt.Println(err)
		return
	}
	w := field.Worker()
	for _, x := range []float64{5, 10, 200} {
		e := w.At(x, 0)
		fmt.Printf("%3.0f m: %.3f, variance %.4f, under 0.4 with probability %.2f\n", x, e.Value, e.Variance, e.ProbabilityBelow(0.4))
	}
	// Output:
	//   5 m: 0.323, variance 0.0058, under 0.4 with probability 0.84
	//  10 m: 0.340, variance 0.0000, under 0.4 with probability 1.00
	// 200 m: 0.453, variance 0.0216, under 0.4 with probability 0.36
}

// A trend on what else is known, and kriging of what it leaves over.
func ExampleRegression() {
	rows := [][]float64{{1, 0.2}, {1, 0.4}, {1, 0.5}, {1, 0.7}, {1, 0.8}, {1, 0.9}} // a constant and a canopy index
	values := []float64{0.21, 0.33, 0.46, 0.52, 0.66, 0.70}
	trend, err := krige.FitDrift(values, rows)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f + %.3f × index, R² %.3f\n", trend.Coef[0], trend.Coef[1], trend.R2)
	points := make([]krige.Point, len(values))
	for i, r := range trend.Residuals(values, rows) {
		points[i] = krige.Point{X: float64(10 * i), V: r}
	}
	field, err := krige.NewField(points, krige.Model{Shape: krige.Exponential, Nugget: 0.0005, Sill: 0.0005, Range: 15}, krige.Neighbours{Most: 5})
	if err != nil {
		fmt.Println(err)
		return
	}
	out := make([]krige.Estimate, 1)
	err = (&krige.Regression{Drift: trend, Field: field}).Map([]float64{25}, []float64{0}, [][]float64{{1, 0.6}}, out, nil)
	fmt.Printf("%.3f, variance %.5f, %v\n", out[0].Value, out[0].Variance, err)
	// Output:
	// 0.068 + 0.706 × index, R² 0.975
	// 0.492, variance 0.00100, <nil>
}
