package crew_test

import (
	"fmt"
	"time"

	"courson/geo/crew"
	"courson/geo/stand"
	"courson/geo/vine"
)

// Block H3 of an invented estate is to be pruned: six rows, of which the last two
// are young, a gap, a sick vine. Two crews share it; the leader wants to know who
// goes where, what comes last, and when it will be done.
func Example() {
	s := exampleBlock()
	table, err := crew.NewTable(crew.Operations(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	work, err := crew.Weigh(crew.Job{Stand: s, System: crew.System{Key: "double_guyot"}, Table: table, Operation: crew.Pruning})
	if err != nil {
		fmt.Println(err)
		return
	}
	all := work.All()
	fmt.Printf("%d vines, %.1f hours of one person\n", all.Vines, all.Minutes/60)

	crews := []crew.Crew{{Name: "north", People: 2, Hours: 7}, {Name: "old hands", People: 2, Hours: 7, Skilled: true}}
	rows := work.Rows()
	shares, err := crew.ShareOut(rows, crews, crew.ShareOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, share := range shares.Each {
		fmt.Printf("%s: rows", share.Crew)
		var own []int
		for _, r := range share.Rows {
			fmt.Print(" ", rows[r].Label)
			own = append(own, r)
		}
		fmt.Printf(", %.2f days\n", share.Days)
		orders, err := work.Orders(crew.Choice{Rule: crew.WholeRows, Rows: own})
		if err != nil {
			fmt.Println(err)
			return
		}
		for _, o := range orders {
			if o.Sick {
				fmt.Printf("  last, sick: row %s, vine %d; clean the shears\n", o.Pieces[0].Label, o.Pieces[0].From)
			}
		}
	}

	monday := time.Date(2027, time.February, 1, 0, 0, 0, 0, time.UTC)
	f, err := crew.Foresee(crew.Outlook{Minutes: 12 * all.Minutes, Crews: crews, Days: crew.Calendar(monday, 60, time.Saturday, time.Sunday)})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("twelve such blocks: done by %s, between %s and %s; before budburst on 25 March: %s\n",
		f.Likely.Format("2 January"), f.Early.Format("2 January"), f.Late.Format("2 January"), f.Before(time.Date(2027, time.March, 25, 0, 0, 0, 0, time.UTC)))
	// Output:
	// 299 vines, 14.8 hours of one person
	// north: rows 1 2 3, 0.56 days
	//   last, sick: row 2, vine 11; clean the shears
	// old hands: rows 4 5 6, 0.68 days
	// twelve such blocks: done by 10 February, between 8 February and 15 February; before budburst on 25 March: in time
}

func exampleBlock() *stand.Stand {
	b := stand.NewBuilder(stand.Ground{Block: 3, Code: "H3", VineSpacingM: 1.2})
	for row := range 6 {
		planted := 2012
		if row >= 4 {
			planted = 2025
		}
		b.Row(vine.ID(31+row), fmt.Sprint(row+1), 0)
		for n := range 50 {
			b.Vine(stand.Position{ID: vine.ID(1000 + 50*row + n), Number: n + 1, ChainageM: 1.2 * float64(n), Lon: 0.6, Lat: 44.8, Planted: planted})
		}
	}
	ground, err := b.Ground()
	if err != nil {
		panic(err)
	}
	s := stand.NewStand(ground, 2027, 1)
	s.Condition[7], s.Condition[60] = vine.Missing, vine.Diseased
	return s
}
