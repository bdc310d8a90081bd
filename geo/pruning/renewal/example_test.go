package renewal_test

import (
	"fmt"

	"courson/geo/pruning/renewal"
	"courson/geo/vine"
)

// The left arm of an invented vine: last winter's spur gave two shoots, the first
// bud of the lower one is on top.
func ExampleChoose() {
	arm := renewal.Arm{Name: "left", Shoots: []renewal.Shoot{
		{On: renewal.OnSpur, Node: 1, WoodYears: 2, Faces: renewal.Above, BaseMM: 8, InternodeMM: 30, DiameterMM: 8.4, Sound: true, BaseBudSound: true},
		{On: renewal.OnSpur, Node: 2, OutMM: 55, WoodYears: 2, Faces: renewal.Below, BaseMM: 12, InternodeMM: 70, DiameterMM: 9.5, Sound: true},
	}}
	c, err := renewal.Choose(arm, renewal.Settings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("spur: shoot %d, %d nodes, climbs %.0f mm\n", c.Spur.Shoot+1, c.Spur.Nodes, c.Spur.ClimbMM)
	fmt.Printf("cane: shoot %d, %s (%s)\n", c.Cane.Shoot+1, c.Cane.Verdict, c.Cane.Why)
	for _, f := range c.FollowUps {
		fmt.Println(f.Text)
	}
	for _, a := range c.Alternatives {
		fmt.Printf("or %s; but %s\n", a.Text, a.Drawback)
	}
	// Output:
	// spur: shoot 1, 3 nodes, climbs 38 mm
	// cane: shoot 2, adequate (9.5 mm)
	// At shoot thinning keep the second and third shoots of the spur; rub off the first and the base shoots.
	// or spur of 1 node and the base bud: the shoot of the base bud is next winter's spur, that of the node its cane; but the two shoots stand very close together, and the base bud may not open
	// or shoot 2 instead: spur of 2 nodes, first bud below: the lower shoot is next winter's spur, the upper one its cane; but the head climbs 67 mm in one winter, 40 mm are the limit
}

// Two recorded winters, and what to look for in the third.
func ExampleNewHistory() {
	above := []vine.Cut{{Face: "upper", DiameterMM: 14}}
	h, err := renewal.NewHistory(map[int]vine.Pruned{
		2026: {Arms: []vine.Arm{{Name: "left", Spurs: []vine.Spur{{Nodes: 2, FirstBudFaces: "below"}}, LargeCuts: above, ClimbMM: 12}}},
		2027: {Arms: []vine.Arm{{Name: "left", Spurs: []vine.Spur{{Nodes: 3, FirstBudFaces: "above"}}, LargeCuts: above, ClimbMM: 38}}},
	}, nil, renewal.Settings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, a := range h.Arms {
		fmt.Println(a.Text())
		for _, e := range a.Expect {
			fmt.Println(e.Text)
			fmt.Println(e.Look)
		}
	}
	// Output:
	// left: path of the sap unbroken; large cuts: 2 upper; climbed 50 mm, 25 mm a winter.
	// Spur of 3 nodes, first bud on top: the shoot of the second node, below, is the spur now, that of the third the cane.
	// see whether the first and the base shoots were rubbed off at shoot thinning
}

// A renewal of the trunk over three winters.
func ExampleDue() {
	plan := renewal.Renewal{Arm: "trunk", Left: 2026, Use: 2027, Remove: 2028, Done: renewal.Leave}
	for _, d := range renewal.Due([]renewal.Renewal{plan}, 2027) {
		fmt.Println(d.Text)
	}
	// Output:
	// Renewal of trunk: cut the shoot left in 2026 to length; it takes over if it is thick enough, else wait a winter.
}
