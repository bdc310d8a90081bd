package replant

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

func TestPlace_WholeWay(t *testing.T) {
	places, refused := Follow([]Move{
		{Vine: 8, To: ToReplace, Day: jan(1)},
		{Vine: 7, To: ToReplace, Day: jan(1)}, {Vine: 7, To: Ordered, Day: jan(2), Batch: "N-118"}, {Vine: 7, To: HoleDug, Day: jan(9)},
		{Vine: 7, To: PlantIn, Day: jan(20)}, {Vine: 7, To: Failed, Day: jan(31), Note: "strimmer"},
		{Vine: 7, To: ToReplace, Day: jan(31)},
		{Vine: 8, To: PlantIn, Day: jan(9)}, // no hole
		{Vine: 9, To: Took, Day: jan(9)},    // never planted
		{Vine: 8, To: Withdrawn, Day: jan(9), Note: "it budded"},
	})
	require.Len(t, refused, 2)
	for _, err := range refused {
		require.ErrorIs(t, err, ErrStep)
	}
	require.Contains(t, refused[0].Error(), `vine 8: from "to replace" to "planted"; what can follow: [ordered withdrawn]`)
	require.Len(t, places, 2)
	require.Equal(t, ToReplace, places[0].Stage)
	require.Empty(t, places[0].Batch, "the failed plant's batch is not the next one's")
	require.Len(t, places[0].Moves, 6)
	require.Equal(t, Withdrawn, places[1].Stage)

	p := Place{Vine: 7, Since: jan(9)}
	_, err := p.Go(Move{Vine: 7, To: Ordered, Day: jan(8)})
	require.ErrorIs(t, err, ErrStep, "days do not run back")
	_, err = p.Go(Move{Vine: 8, To: Ordered, Day: jan(9)})
	require.ErrorIs(t, err, ErrStep, "another vine's step")
}

// Whatever is thrown at places, each goes only by legal steps and keeps its past.
func TestFollow_OnlyLegalSteps(t *testing.T) {
	legal := map[Stage][]Stage{
		ToReplace: {Ordered, Withdrawn}, Ordered: {HoleDug, Withdrawn}, HoleDug: {PlantIn, Withdrawn},
		PlantIn: {Took, Failed}, Took: {ToReplace}, Failed: {ToReplace}, Withdrawn: {ToReplace},
	}
	rapid.Check(t, func(t *rapid.T) {
		moves := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Move {
			return Move{Vine: rapid.Int64Range(1, 3).Draw(t, "vine"), To: Stage(rapid.IntRange(0, 8).Draw(t, "to")), Day: jan(rapid.IntRange(1, 5).Draw(t, "day"))}
		}), 0, 60).Draw(t, "moves")
		places, refused := Follow(moves)
		taken := 0
		for _, p := range places {
			at := ToReplace
			for k, m := range p.Moves {
				if k == 0 && m.To == ToReplace {
					continue
				}
				if !slices.Contains(legal[at], m.To) || k > 0 && m.Day < p.Moves[k-1].Day {
					t.Fatalf("vine %d went from %v to %v: %v", p.Vine, at, m.To, p.Moves)
				}
				at = m.To
			}
			if at != p.Stage {
				t.Fatalf("stage %v after %v", p.Stage, p.Moves)
			}
			taken += len(p.Moves)
		}
		if taken+len(refused) != len(moves) {
			t.Fatalf("%d taken, %d refused of %d", taken, len(refused), len(moves))
		}
	})
}

func TestReconcile(t *testing.T) {
	ids := func(v ...vine.ID) []vine.ID { return v }
	s := Reconcile(Counted{Survey: ids(1, 2, 3, 4, 9), Holes: ids(1, 3, 5, 6, 6), Planted: ids(1, 4, 5, 7, 9), Living: ids(9, 11)})
	var got []string
	for _, m := range s.Mismatches {
		got = append(got, strings.Join([]string{string(rune('0' + m.Vine)), m.Text}, " "))
	}
	require.Equal(t, []string{
		"2 to replace, but no hole was dug",
		"3 hole dug, not planted: an open hole; mark or fill it",
		"4 planted, but no hole was counted",
		"5 dug and planted, but not on the survey",
		"6 a hole that the survey does not ask for: an open hole; mark or fill it; counted twice in one list",
		"7 planted, but neither on the survey nor dug",
		"9 a living vine is taken to stand here: look before anything is dug",
	}, got)
	require.Equal(t, "survey 5, holes 4, planted 5; 1 agree in all three, 7 vines to settle", s.String())
	require.Empty(t, Reconcile(Counted{}).Mismatches)
}
