package runs_test

import (
	"math/rand/v2"
	"testing"

	"courson/geo/pruning/runs"
)

// estate is 20,000 rows of 50 vines, each row with up to six instructions in no
// order, three gaps and a pinned vine: a million vines.
func estate() [][]vine {
	loads := []load{{1, 6}, {1, 8}, {1, 10}, {2, 6}, {2, 8}, {2, 10}}
	random := rand.New(rand.NewPCG(1, 2))
	rows := make([][]vine, 20_000)
	for r := range rows {
		rows[r] = make([]vine, 50)
		for i := range rows[r] {
			own := loads[random.IntN(len(loads))]
			rows[r][i] = vine{Number: i + 1, Instruction: own, Nodes: nodesOf(own) + random.IntN(5) - 2}
		}
		for _, i := range []int{7, 21, 22} {
			rows[r][i].Part = runs.Free
		}
		rows[r][33] = vine{Number: 34, Part: runs.Pinned, Instruction: back}
	}
	return rows
}

// Wanted: a million vines in 2 s on one core.
func BenchmarkMillionVines(b *testing.B) {
	rows := estate()
	for _, c := range []struct {
		name string
		o    options
	}{
		{"balance", options{Change: 4}},
		{"mean under 2", options{Goal: runs.MeanUnder, Limit: 2}},
		{"greatest under 4", options{Goal: runs.GreatestUnder, Limit: 4}},
	} {
		c.o.Nodes = nodesOf
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s, err := runs.New(c.o)
				if err != nil {
					b.Fatal(err)
				}
				for _, row := range rows {
					if _, err := s.Row(row); err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}
