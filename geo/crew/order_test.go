package crew_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/stand"
	"courson/geo/vine"
)

// Work content of a row: gaps and what is done take nothing, the rest by its kind.
func TestWork_Row(t *testing.T) {
	for _, c := range []struct {
		name, row, operation string
		want                 crew.Content
	}{
		{"bearing vines", "oooo", crew.Pruning, crew.Content{Vines: 4, Minutes: 4 * 2.7}},
		{"gaps take nothing", "o__x", crew.Pruning, crew.Content{Vines: 1, Minutes: 2.7}},
		{"done and skipped are out, to be redone is in", "o..k!", crew.Pruning, crew.Content{Vines: 2, Minutes: 2 * 2.7}},
		{"young and replanted vines take longer", "oyr", crew.Pruning, crew.Content{Vines: 3, Minutes: 2.7 + 2*3.5, Young: 2}},
		{"weak and sick are counted apart", "wws", crew.Pruning, crew.Content{Vines: 3, Minutes: 3 * 2.7, Weak: 2, Sick: 1}},
		{"replanting is for gaps", "oo_x", crew.Replanting, crew.Content{Vines: 2, Minutes: 12}},
		{"pruning done says nothing of tying", "..", crew.Tying, crew.Content{Vines: 2, Minutes: 0.6}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := weigh(t, block(t, c.row), c.operation).Row(0)
			require.InDelta(t, c.want.Minutes, got.Minutes, 1e-9)
			got.Minutes = c.want.Minutes
			require.Equal(t, c.want, got)
		})
	}
}

// Strong vines take longer; a heavier load takes longer than a light one, and the
// sum stays that of the rates.
func TestWork_VigourAndNodes(t *testing.T) {
	s := block(t, "oooo")
	s.Vigour[0], s.Vigour[1] = 1, 5
	w := weigh(t, s, crew.Pruning)
	require.InDelta(t, 1.4, w.Minutes[1]/w.Minutes[0], 0.005)

	s = block(t, "oooo")
	copy(s.Nodes, []uint8{8, 12, 16, stand.None})
	w = weigh(t, s, crew.Pruning)
	require.Less(t, w.Minutes[0], w.Minutes[1])
	require.Less(t, w.Minutes[1], w.Minutes[2])
	require.InDelta(t, 4*2.7, w.All().Minutes, 1e-9)
	require.InDelta(t, 2.7*(0.7+0.3*8/12), w.Minutes[0], 1e-9)
}

// Tying waits for the brush to be pulled out.
func TestWork_Before(t *testing.T) {
	s := block(t, "oooo")
	w, err := crew.Weigh(crew.Job{Stand: s, System: guyot, Table: table(t), Operation: crew.Tying,
		Before: []vine.Progress{vine.Done, vine.Started, vine.Done, vine.NotStarted}})
	require.NoError(t, err)
	require.Equal(t, 2, w.All().Vines)

	_, err = crew.Weigh(crew.Job{Stand: s, System: guyot, Table: table(t), Operation: crew.Tying, Before: []vine.Progress{vine.Done}})
	require.ErrorIs(t, err, crew.ErrJob)
	_, err = crew.Weigh(crew.Job{Stand: s, System: guyot, Table: table(t), Operation: "mowing"})
	require.ErrorIs(t, err, crew.ErrJob)
}

// A quarter of young or weak vines makes a row one for skilled hands.
func TestWork_Skilled(t *testing.T) {
	for _, c := range []struct {
		row, operation string
		want           bool
	}{
		{"oooooooo", crew.Pruning, false}, {"oooooooy", crew.Pruning, false}, {"oooooowy", crew.Pruning, true},
		{"yyyy", crew.PullingBrush, false}, {"oooo", crew.Checking, true},
	} {
		w := weigh(t, block(t, c.row), c.operation)
		require.Equal(t, c.want, w.Skilled(w.Row(0)), "%s of %s", c.operation, c.row)
	}
}

func TestOrders(t *testing.T) {
	for _, c := range []struct {
		name      string
		rows      []string
		operation string
		choice    crew.Choice
		want      []string
		sick      []string
	}{
		{"whole rows", []string{"oooo", "o_oo"}, crew.Pruning, crew.Choice{Rule: crew.WholeRows}, []string{"1: 1-4 (4)", "2: 1-4 (3)"}, nil},
		{"some rows", []string{"oo", "oo", "oo"}, crew.Pruning, crew.Choice{Rule: crew.WholeRows, Rows: []int{2, 0, 2}}, []string{"1: 1-2 (2)", "3: 1-2 (2)"}, nil},
		{"gaps at the ends are left out", []string{"_ooo_"}, crew.Pruning, crew.Choice{Rule: crew.WholeRows}, []string{"1: 2-4 (3)"}, nil},
		{"what is done splits the row", []string{"oo..oo"}, crew.Pruning, crew.Choice{Rule: crew.WholeRows}, []string{"1: 1-2 (2)", "1: 5-6 (2)"}, nil},
		{"a row that is done is out", []string{"..", "oo"}, crew.Pruning, crew.Choice{Rule: crew.WholeRows}, []string{"2: 1-2 (2)"}, nil},
		{"sick vines come last, on their own", []string{"osso", "oo", "os"}, crew.Pruning, crew.Choice{Rule: crew.WholeRows},
			[]string{"1: 1-1 (1)", "1: 4-4 (1)", "2: 1-2 (2)", "3: 1-1 (1)"}, []string{"1: 2-3 (2)", "3: 2-2 (1)"}},
		{"sick vines alone", []string{"osso", "os"}, crew.Pruning, crew.Choice{Rule: crew.SickVines}, nil, []string{"1: 2-3 (2)", "2: 2-2 (1)"}},
		{"pulling brush carries no sap", []string{"osso"}, crew.PullingBrush, crew.Choice{Rule: crew.WholeRows}, []string{"1: 1-4 (4)"}, nil},
		{"rows of a weak patch", []string{"oooo", "oooo", "oooo"}, crew.Pruning, crew.Choice{Rule: crew.WeakPatches, Vines: []int{5, 6}}, []string{"2: 1-4 (4)"}, nil},
		{"chosen vines, a gap between", []string{"oo_oo"}, crew.Pruning, crew.Choice{Rule: crew.Chosen, Vines: []int{1, 3}}, []string{"1: 2-4 (2)"}, nil},
		{"chosen vines, another between", []string{"ooooo"}, crew.Pruning, crew.Choice{Rule: crew.Chosen, Vines: []int{1, 3}}, []string{"1: 2-2 (1)", "1: 4-4 (1)"}, nil},
		{"young vines", []string{"oyyo", "oory"}, crew.Pruning, crew.Choice{Rule: crew.YoungVines}, []string{"1: 2-3 (2)", "2: 3-4 (2)"}, nil},
		{"follow-ups due", []string{"offo", "oooo"}, crew.ShootThinning, crew.Choice{Rule: crew.FollowUps}, []string{"1: 2-3 (2)"}, nil},
		{"nothing to do", []string{".."}, crew.Pruning, crew.Choice{Rule: crew.WholeRows}, nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := weigh(t, block(t, c.rows...), c.operation).Orders(c.choice)
			require.NoError(t, err)
			var main, sick []string
			for _, o := range got {
				if o.Sick {
					sick = runs(o)
				} else {
					require.Nil(t, sick, "sick vines come last")
					main = runs(o)
				}
			}
			require.Equal(t, c.want, main)
			require.Equal(t, c.sick, sick)
		})
	}
}

func TestOrders_Refuses(t *testing.T) {
	w := weigh(t, block(t, "oo"), crew.Pruning)
	for _, c := range []crew.Choice{{}, {Rule: crew.WholeRows, Rows: []int{1}}, {Rule: crew.Chosen, Vines: []int{2}}, {Rule: crew.Chosen, Vines: []int{-1}}} {
		_, err := w.Orders(c)
		require.ErrorIs(t, err, crew.ErrOrder)
	}
}

// Vines done meanwhile split the order; one found sick goes to an order of its
// own; instructions go with the pieces.
func TestLeft(t *testing.T) {
	s := block(t, "oooooooo")
	orders, err := weigh(t, s, crew.Pruning).Orders(crew.Choice{Rule: crew.WholeRows})
	require.NoError(t, err)
	o := orders[0].With([]crew.Instruction{{Row: 11, From: 1, To: 4, Text: "one cane of 8"}, {Row: 11, From: 5, To: 8, Text: "two canes of 8"}, {Row: 12, From: 1, To: 8}})
	o.Crew, o.Note = "north", "begin at the road"
	require.Len(t, o.Instructions, 2)

	s.Progress[2], s.Condition[6] = vine.Done, vine.Diseased
	left, sick, err := weigh(t, s, crew.Pruning).Left(o)
	require.NoError(t, err)
	require.Equal(t, []string{"1: 1-2 (2)", "1: 4-6 (3)", "1: 8-8 (1)"}, runs(left))
	require.Equal(t, []string{"1: 7-7 (1)"}, runs(*sick))
	require.True(t, sick.Sick)
	require.Equal(t, "north", left.Crew)
	require.Equal(t, [3]int{8, 6, 1}, [3]int{o.Vines(), left.Vines(), sick.Vines()})
	require.Equal(t, []crew.Instruction{{Row: 11, From: 1, To: 2, Text: "one cane of 8"}, {Row: 11, From: 4, To: 4, Text: "one cane of 8"},
		{Row: 11, From: 5, To: 6, Text: "two canes of 8"}, {Row: 11, From: 8, To: 8, Text: "two canes of 8"}}, left.Instructions)

	_, _, err = weigh(t, s, crew.PullingBrush).Left(o)
	require.ErrorIs(t, err, crew.ErrOrder)
}

// Orders of a job hold every vine that is due exactly once, sick ones apart, with
// all their minutes; and what is left of them after more work is just what is due
// then.
func TestOrders_Whole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.StringOfN(rapid.RuneFrom([]rune("oowys_xr.k!")), 1, 12, -1), 1, 5).Draw(t, "rows")
		s := block(t, rows...)
		w := weigh(t, s, crew.Pruning)
		orders, err := w.Orders(crew.Choice{Rule: crew.WholeRows})
		require.NoError(t, err)
		covered := func(orders []crew.Order) map[int]int {
			seen := map[int]int{}
			for _, o := range orders {
				for _, p := range o.Pieces {
					n := 0
					for i := range s.Ground.Len() {
						due := w.Minutes[i] > 0 && (s.Condition[i] == vine.Diseased) == o.Sick
						if s.Ground.Rows[s.Ground.Row[i]].ID == p.Row && int(s.Ground.Number[i]) >= p.From && int(s.Ground.Number[i]) <= p.To && due {
							seen[i]++
							n++
						}
					}
					require.Equal(t, p.Vines, n)
				}
			}
			return seen
		}
		check := func(orders []crew.Order) {
			seen, minutes := covered(orders), 0.0
			for _, o := range orders {
				minutes += o.Minutes()
			}
			for i := range s.Ground.Len() {
				want := 0
				if w.Minutes[i] > 0 {
					want = 1
				}
				require.Equal(t, want, seen[i], "vine %s", s.Ground.Address(i))
			}
			require.InDelta(t, w.All().Minutes, minutes, 1e-9)
		}
		check(orders)
		for i := range s.Ground.Len() {
			if rapid.IntRange(0, 3).Draw(t, "done") == 0 {
				s.Progress[i] = vine.Done
			}
		}
		w = weigh(t, s, crew.Pruning)
		var rest []crew.Order
		for _, o := range orders {
			left, sick, err := w.Left(o)
			require.NoError(t, err)
			require.Nil(t, sick)
			rest = append(rest, left)
		}
		check(rest)
	})
}
