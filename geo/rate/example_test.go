package rate_test

import (
	"fmt"
	"math"

	"courson/geo/rate"
	"courson/geo/stand"
	"courson/geo/vine"
)

// Three zones of a block of 1 ha from two seasons, in passes of a spreader 4 m
// wide; compost to even the block out, at most 7 t in all.
func Example() {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: 1})
	for row := range 50 {
		b.Row(vine.ID(10_000+row), fmt.Sprint(row+1), 0)
		for n := range 100 {
			b.Vine(stand.Position{ID: vine.ID(1 + row*100 + n), Number: n + 1, ChainageM: float64(n), X: float64(2 * row), Y: float64(n), Lon: 0.6, Lat: 44.8, Planted: 2010})
		}
	}
	ground, err := b.Ground()
	if err != nil {
		fmt.Println(err)
		return
	}
	s := stand.NewStand(ground, 2027, 1)
	columns := []rate.Column{{Name: "vigour of 2026", Unit: "kg/m"}, {Name: "vigour of 2027", Unit: "kg/m"}}
	for i := range s.Condition {
		s.Condition[i] = vine.Bearing
		x, y := float64(ground.X[i]), float64(ground.Y[i])
		for k := range columns {
			columns[k].Values = append(columns[k].Values, float32(0.5-0.1*float64(k)+0.2*math.Sin(x/25+y/60)))
		}
	}
	zones, err := rate.Make(s, columns, rate.Options{WidthM: 4})
	if err != nil {
		fmt.Println(err)
		return
	}
	compost := rate.Materials()[1]
	rates, err := zones.Rates(rate.Request{Material: compost, Aim: rate.EvenOut, Rule: rate.ByFactor, Base: 10, Factor: []float64{2, 1, 0}, Budget: 7000})
	if err != nil {
		fmt.Println(err)
		return
	}
	for k, z := range zones.List {
		r := rates.Zones[k]
		fmt.Printf("zone %d: %.2f ha, %.2f kg/m in 2027, %.1f t/ha (%s)\n", z.Number, z.Hectares(), z.Means[1], r.Rate, r.Bound)
	}
	fmt.Printf("in all %.0f %s\n", rates.Total, rates.Measure)
	for k, o := range zones.Outlines() {
		fmt.Printf("outline of zone %d: %.2f ha, %d places\n", k+1, o.AreaM2()/1e4, o.Points())
	}
	fmt.Println(rates.Cautions[0])
	// Output:
	// zone 1: 0.32 ha, 0.24 kg/m in 2027, 16.0 t/ha (budget)
	// zone 2: 0.21 ha, 0.41 kg/m in 2027, 8.9 t/ha (budget)
	// zone 3: 0.47 ha, 0.56 kg/m in 2027, 0.0 t/ha ()
	// in all 7000 kg
	// outline of zone 1: 0.32 ha, 14 places
	// outline of zone 2: 0.21 ha, 24 places
	// outline of zone 3: 0.47 ha, 14 places
	// Rates are planning figures: product labels, local nutrient and water rules and a licensed adviser decide.
}
