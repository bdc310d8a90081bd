package stand_test

import (
	"fmt"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Two rows of three vines, one of them missing, one weighed and one pruned.
func ExampleDraw() {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", VineSpacingM: 1.2})
	for row := range 2 {
		b.Row(vine.ID(10+row), fmt.Sprint(row+1), 0)
		for n := range 3 {
			b.Vine(stand.Position{ID: vine.ID(100 + row*3 + n), Number: n + 1, ChainageM: 1.2 * float64(n), Lon: 0.6, Lat: 44.8, Planted: 2015})
		}
	}
	ground, err := b.Ground()
	if err != nil {
		fmt.Println(err)
		return
	}
	s := stand.NewStand(ground, 2027, 1)
	s.Set(1, vine.State{Condition: vine.Missing}, 1)
	s.Set(3, vine.State{Condition: vine.Bearing, Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: {Value: 540}}}, 1)
	s.Set(4, vine.State{Condition: vine.Weak, Work: map[string]vine.Progress{vine.Pruning: vine.Done}}, 1)
	fmt.Print(stand.Draw(s, "condition"))
	fmt.Print(stand.Draw(s, "vigour"))
	t := stand.TotalsOf(s)
	fmt.Println(t.Gaps, "gap,", t.Done(), "done,", t.ToDo(), "to do")
	// Output:
	// ?_?
	// ow?
	// ._.
	// 3..
	// 1 gap, 1 done, 4 to do
}
