package pruning_test

import (
	"fmt"

	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vine"
)

// One row of an invented estate after a drought year: weighed vines of several
// ages, a weak one, a gap, and one that nobody weighed.
func ExamplePlan() {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: 1.8})
	b.Row(10, "12", 0)
	for n, planted := range []int{2010, 2010, 2024, 2010, 2026, 2010} {
		b.Vine(stand.Position{ID: vine.ID(100 + n), Number: n + 1, ChainageM: 1.8 * float64(n), Lon: 0.6, Lat: 44.8, Planted: planted})
	}
	ground, err := b.Ground()
	if err != nil {
		fmt.Println(err)
		return
	}
	s := stand.NewStand(ground, 2027, 1)
	s.Set(3, vine.State{Condition: vine.Missing}, 1)

	standards := pruning.DefaultStandards()
	if standards.System, err = pruning.LookupSystem("Guyot double"); err != nil {
		fmt.Println(err)
		return
	}
	block := pruning.Block{
		Stand: s, Drought: true,
		WeightG:    []float32{840, 480, 600, -1, -1, -1},
		CaneMM:     []float32{11, 9, 9, -1, 6, 9},
		WeakShoots: []int8{0, 1, 0, -1, -1, 0},
		NodesLeft:  []int16{24, 12, 8, -1, 2, 20},
		CanesLeft:  []int16{2, 1, 1, -1, 0, 2},
	}
	r, err := pruning.Plan(&block, standards)
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range ground.Len() {
		fmt.Printf("%s: %s (%s)\n", ground.Address(i), r.Line(i), r.Bound[i])
	}
	for _, step := range r.Explain(1) {
		fmt.Println("-", step.Text)
	}
	// Output:
	// H3/12/1: 2 canes of 10, 2 spurs of 2 (growth)
	// H3/12/2: 1 cane of 8, 2 spurs of 2 (drought wish)
	// H3/12/3: 1 cane of 10, 2 spurs of 2 (leaf)
	// H3/12/4: nothing to prune (none)
	// H3/12/5: cut back to 2 buds (cut back)
	// H3/12/6: 2 canes of 8, 2 spurs of 2 (last year's load, growth not known)
	// - In leaf 18, unseen, system double Guyot. Last winter it was left 12 nodes on 1 cane.
	// - Last year's wood was weak (short shoots last year).
	// - 480 g of prunings (weighed) at 35 g for each shoot: 13.7 nodes.
	// - At most 25 % more or less than last year's 12: between 9 and 15 nodes.
	// - The canopy has room for 27.
	// - Weak wood after a drought year, by the owner's wish: 12. This binds.
	// - Of 12 nodes 4 go to 2 spurs. 1 cane of 8, 2 spurs of 2. Noted: one cane: weak wood. Each cane has 1.70 m of wire, room for 28 nodes; 1.22 m stay empty.
	// - Cut each cane 20 mm beyond its last counted node, and sooner where it grows thinner than 8 mm. Leave 20 mm of spare wood, or 1 times the width of the wound, over cuts into old wood.
	// - 1 cane of 8, 2 spurs of 2: 12 nodes, bound by: drought wish.
}
