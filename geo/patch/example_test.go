package patch_test

import (
	"errors"
	"fmt"

	"courson/geo/patch"
	"courson/geo/stand"
	"courson/geo/vine"
)

// hill is an invented block of 20 rows of 30 vines; its weights per metre are 0.5
// kg or so, and a third less in one corner, 96
// vines.
func hill() (*stand.Stand, patch.Column) {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", Origin: [2]float64{4, 47}, RowSpacingM: 2, VineSpacingM: 1})
	for r := range 20 {
		b.Row(vine.ID(r+1), fmt.Sprint(r+1), 0)
		for n := range 30 {
			x, y := 2*float64(r), float64(n)
			b.Vine(stand.Position{ID: vine.ID(100*r + n + 1), Number: n + 1, Lon: 4 + x/76000, Lat: 47 + y/111000, X: x, Y: y, Planted: 2012})
		}
	}
	g, err := b.Ground()
	if err != nil {
		panic(err)
	}
	st := stand.NewStand(g, 2021, 1)
	kgPerM := patch.NewColumn(g.Len())
	for i := range g.ID {
		st.Condition[i] = vine.Bearing
		v := 0.5 + 0.02*float64(i*7%11-5)
		if g.Row[i] < 8 && g.Number[i] <= 12 {
			v *= 0.67
		}
		kgPerM.Set(i, v)
	}
	return st, kgPerM
}

func ExampleFind() {
	st, kgPerM := hill()
	result, err := patch.Find(patch.Input{Blocks: []patch.Block{{Stand: st, Value: kgPerM, Cultivar: "an invented red"}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	found := result.Blocks[0]
	fmt.Println("structure:", found.Structured())
	for _, p := range found.Patches {
		fmt.Printf("%s: %d vines, %.3f ha, %.0f m of row, %.0f %% short, leaf %d to %d\n",
			p.Kind, len(p.Vines), p.Hectares(), p.RowM, 100*p.ShortfallShare, p.LeafLeast, p.LeafMost)
	}
	// Output:
	// structure: true
	// weak: 100 vines, 0.020 ha, 100 m of row, 29 % short, leaf 10 to 10
}

func ExampleFind_sample() {
	st, kgPerM := hill()
	for i := range kgPerM.Seen {
		kgPerM.Seen[i] = i%20 == 0
	}
	result, err := patch.Find(patch.Input{Blocks: []patch.Block{{Stand: st, Value: kgPerM}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(errors.Is(result.Blocks[0].Refused, patch.ErrSampled))
	fmt.Println(result.Blocks[0].Refused)
	// Output:
	// true
	// a sample, not every vine: 30 of 600 living vines have a value, at least half must; a sample shows likely weak areas only
}

func ExamplePair() {
	p := patch.Pair([]float64{0.52, 0.48, 0.61, 0.55, 0.43}, []float64{0.40, 0.41, 0.44, 0.47, 0.33})
	fmt.Printf("%.0f %%, typically %.3f kg/m, 95 %%: %.2f to %.2f\n", p.Percent, p.HodgesLehmann, p.T.Low, p.T.High)
	// Output:
	// -21 %, typically -0.100 kg/m, 95 %: -0.16 to -0.06
}
