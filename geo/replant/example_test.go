package replant_test

import (
	"fmt"
	"strings"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
)

// One row of an invented estate: a crew saw a gap, a dead vine and a sick one; a
// flight suspects another.
func Example() {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: 1})
	b.Row(10, "12", 0)
	for n := range 6 {
		b.Vine(stand.Position{ID: vine.ID(100 + n), Number: n + 1, ChainageM: float64(n), Y: float64(n), Lon: 0.6, Lat: 44.8, Planted: 2010})
	}
	ground, err := b.Ground()
	if err != nil {
		fmt.Println(err)
		return
	}
	day := replant.Date(2027, 1, 12)
	saw := func(i int32, c vine.Condition) replant.Sighting {
		return replant.Sighting{Vine: i, Day: day, By: "Ana", Condition: c}
	}
	findings, err := replant.Judge(&replant.Evidence{
		Places:     6,
		Sightings:  []replant.Sighting{saw(0, vine.Bearing), saw(1, vine.Missing), saw(2, vine.Dead), saw(4, vine.Diseased)},
		Detections: []replant.Detection{{Vine: 3, Day: day, Score: 0.8, Source: "flight"}},
	}, replant.DefaultFindSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(strings.Join(findings.Explain(2), "\n"))
	list, err := replant.Candidates(replant.BlockInput{
		Stand: stand.NewStand(ground, 2027, 1), Findings: findings,
		Sick: []replant.Sickness{{Vine: 4, Kind: replant.KindLeafroll, Day: replant.Date(2026, 10, 20)}},
	}, replant.DefaultRules())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range list {
		fmt.Printf("%s %s: %s\n", c.Address, c.Action, c.Text)
	}
	order, err := replant.OrderPlants([]replant.Need{{Sort: replant.Sort{Cultivar: "Merlot", Clone: "181", Rootstock: "3309C"}, Block: "H3", Positions: 2}},
		nil, replant.DefaultOrderSettings(), replant.When{Today: day, PlantOn: replant.Date(2028, 11, 15)})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(order.Lines[0].Text)
	fmt.Println(order.Notes[0])
	// Output:
	// 2027-01-12: Ana saw it dead standing.
	// Dead needs 2 sightings at least 1 day apart, or the word of the person who decides; so far 1.
	// Result: doubtful, look again from 2027-02-11 on.
	// H3/12/2 replace: no plant stands there
	// H3/12/3 look: doubtful: to be looked at again; to be tested: H3/12/5 has leafroll
	// H3/12/4 look: suspected gap: to be looked at; to be tested: H3/12/5 has leafroll
	// H3/12/5 replace: sick: leafroll (2026-10-20)
	// H3/12/6 test: to be tested: H3/12/5 has leafroll
	// Merlot, clone 181, on 3309C: 2 places; with losses and spare 3 plants; 0 in hand; order 3.
	// To plant on 2028-11-15, order by 2027-05-15 (18 months).
}

// A hectare of Merlot in leaf 16 with one place in eight a gap, at the default
// prices: the three ways side by side.
func ExampleCompare() {
	c, err := replant.Compare(replant.BlockCase{Season: 2027, AreaHa: 1, Positions: 4000, Gaps: 500, Remaining: 15, Over: 3, KeepUp: true}, replant.DefaultMoney())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range c.Plans {
		fmt.Printf("%s: %.0f per ha, in its first year %.0f\n", p.Way, p.PerHa, p.Years[0].Cash)
	}
	fmt.Println(c.Advice[len(c.Advice)-1])
	// Output:
	// leave: 8441 per ha, in its first year 2400
	// interplant: 478 per ha, in its first year 650
	// pull the block: -15814 per ha, in its first year -2300
	// Nothing is counted after year 29, nor is quality, nor what virus in the old vines would do to replants. This is advice with its sum, not a verdict.
}
