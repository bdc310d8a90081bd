package runs_test

import (
	"fmt"

	"courson/geo/pruning/runs"
)

// A row of twelve vines: strong ones, a gap, a weak end, and a vine to be looked
// at first. A change of mark is worth 5 nodes of misfit here.
func ExampleRow() {
	type instruction string
	nodes := map[instruction]int{"two canes of 8": 20, "one cane of 10": 14, "one cane of 8": 12}
	wanted := []struct {
		leave instruction
		nodes int
	}{
		{"two canes of 8", 21}, {"two canes of 8", 20}, {"one cane of 10", 15}, {"two canes of 8", 19}, {"", 0}, {"two canes of 8", 22},
		{"one cane of 8", 12}, {"one cane of 10", 13}, {"look first", 0}, {"one cane of 8", 11}, {"one cane of 8", 12}, {"one cane of 10", 14},
	}
	var row []runs.Vine[instruction]
	for i, w := range wanted {
		v := runs.Vine[instruction]{Number: i + 1, Instruction: w.leave, Nodes: w.nodes}
		switch w.leave {
		case "":
			v.Part = runs.Free
		case "look first":
			v.Part = runs.Pinned
		}
		row = append(row, v)
	}
	split, err := runs.Row(row, runs.Options[instruction]{
		Nodes: func(i instruction) int { return nodes[i] }, Change: 5, Through: true,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	marks, err := runs.MarksFor([]runs.Split[instruction]{split}, runs.UsualMarks(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	tape, err := runs.Tape("12", row, split, marks)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range tape {
		fmt.Printf("row %s, vines %d to %d: %s = %s\n", p.Row, p.From, p.To, p.Mark.Word, p.Instruction)
	}
	fmt.Printf("%.1f nodes off on a vine, %d at most\n", float64(split.Misfit)/float64(split.Vines), split.Greatest)
	// Output:
	// row 12, vines 1 to 6: white = two canes of 8
	// row 12, vines 7 to 12: orange = one cane of 8
	// row 12, vines 9 to 9: blue = look first
	// 1.2 nodes off on a vine, 5 at most
}
