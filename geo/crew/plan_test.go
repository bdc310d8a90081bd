package crew_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

// blockOf is a block of rows of so many minutes; its rows are labelled code and
// number.
func blockOf(id vine.ID, code string, traits crew.Traits, minutes ...float64) crew.Block {
	rows := rowsOf(minutes...)
	for i := range rows {
		rows[i].Block, rows[i].ID, rows[i].Label = id, id*100+rows[i].ID, code+rows[i].Label
	}
	return crew.Block{ID: id, Code: code, Traits: traits, Rows: rows}
}

// told writes a crew's lists: day of January, rows, > for one that goes on the
// next day.
func told(p crew.Plan) (out []string) {
	for _, l := range p.Lists {
		text := fmt.Sprintf("%d %s:", l.Date.Day(), l.Crew)
		for _, k := range l.Tasks {
			text += " " + k.Label
			if !k.Ends {
				text += ">"
			}
		}
		if l.Over {
			text += " over"
		}
		out = append(out, text)
	}
	return out
}

func TestMake(t *testing.T) {
	a, b := gang("a", 1, false), gang("b", 1, false)
	days := crew.Calendar(day(4), 5)
	for _, c := range []struct {
		name   string
		blocks []crew.Block
		crews  []crew.Crew
		days   []crew.Day
		o      crew.PlanOptions
		want   []string
		left   int
	}{
		{"low-frost blocks first, early or frost-prone ones late, cold-tender ones last",
			[]crew.Block{blockOf(1, "T", crew.Traits{ColdTender: true}, 60), blockOf(2, "FE", crew.Traits{FrostProne: true, EarlyBudding: true}, 60),
				blockOf(3, "F", crew.Traits{FrostProne: true}, 60), blockOf(4, "L", crew.Traits{}, 60)},
			[]crew.Crew{a}, days, crew.PlanOptions{}, []string{"4 a: L1", "5 a: F1", "6 a: FE1", "7 a: T1"}, 0},
		{"the manager's rank goes before",
			[]crew.Block{blockOf(1, "A", crew.Traits{Rank: 2}, 60), blockOf(2, "B", crew.Traits{Rank: 1, FrostProne: true}, 60)},
			[]crew.Crew{a}, days, crew.PlanOptions{}, []string{"4 a: B1", "5 a: A1"}, 0},
		{"all crews in one block before any begins the next",
			[]crew.Block{blockOf(1, "A", crew.Traits{}, 60, 60), blockOf(2, "F", crew.Traits{FrostProne: true}, 60, 60)},
			[]crew.Crew{a, b}, days, crew.PlanOptions{}, []string{"4 a: A1", "4 b: A2", "5 a: F1", "5 b: F2"}, 0},
		{"a row that does not fit goes on the next day",
			[]crew.Block{blockOf(1, "A", crew.Traits{}, 40, 40, 40)}, []crew.Crew{a}, days, crew.PlanOptions{}, []string{"4 a: A1 A2>", "5 a: A2 A3"}, 0},
		{"unless the crew may end it",
			[]crew.Block{blockOf(1, "A", crew.Traits{}, 40, 40, 40)}, []crew.Crew{a}, days, crew.PlanOptions{Overrun: 20}, []string{"4 a: A1 A2 over", "5 a: A3"}, 0},
		{"rain: nothing on that day",
			[]crew.Block{blockOf(1, "A", crew.Traits{}, 60, 60)}, []crew.Crew{a}, crew.Lost(days, day(5), "rain"), crew.PlanOptions{}, []string{"4 a: A1", "6 a: A2"}, 0},
		{"half a day", []crew.Block{blockOf(1, "A", crew.Traits{}, 30, 60)}, []crew.Crew{a},
			[]crew.Day{{Date: day(4), Work: 0.5}, {Date: day(5), Work: 1}}, crew.PlanOptions{}, []string{"4 a: A1", "5 a: A2"}, 0},
		{"more people on a day", []crew.Block{blockOf(1, "A", crew.Traits{}, 60, 60, 60)}, []crew.Crew{a},
			[]crew.Day{{Date: day(4), Work: 1, People: map[string]int{"a": 2}}, {Date: day(5), Work: 1}}, crew.PlanOptions{}, []string{"4 a: A1 A2", "5 a: A3"}, 0},
		{"days too few: the rest is told", []crew.Block{blockOf(1, "A", crew.Traits{}, 90, 60)}, []crew.Crew{a}, days[:1], crew.PlanOptions{}, []string{"4 a: A1>"}, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := crew.Make(c.blocks, c.crews, c.days, c.o)
			require.NoError(t, err)
			require.Equal(t, c.want, told(got))
			require.Len(t, got.Left, c.left)
		})
	}
}

func TestMake_Refuses(t *testing.T) {
	crews := []crew.Crew{gang("a", 1, false)}
	blocks := []crew.Block{blockOf(1, "A", crew.Traits{}, 60)}
	days := crew.Calendar(day(4), 2)
	for _, c := range []struct {
		name   string
		blocks []crew.Block
		days   []crew.Day
		o      crew.PlanOptions
	}{
		{"a row twice", append(blocks, blocks...), days, crew.PlanOptions{}},
		{"days out of order", blocks, []crew.Day{days[1], days[0]}, crew.PlanOptions{}},
		{"more than a day", blocks, []crew.Day{{Date: day(4), Work: 2}}, crew.PlanOptions{}},
		{"overrun below 0", blocks, days, crew.PlanOptions{Overrun: -1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := crew.Make(c.blocks, crews, c.days, c.o)
			require.ErrorIs(t, err, crew.ErrShare)
		})
	}
}

// No minute of any row is lost or doubled, no crew is over its day unless it says
// so, and no block of a later turn is begun by a crew before its own rows of an
// earlier one are done.
func TestMake_Whole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		crews := anyCrews(t, 4)
		var blocks []crew.Block
		want, turn := map[vine.ID]float64{}, map[vine.ID]int{}
		for id := range rapid.IntRange(1, 4).Draw(t, "blocks") {
			traits := crew.Traits{FrostProne: rapid.Bool().Draw(t, "frost"), ColdTender: rapid.Bool().Draw(t, "tender")}
			b := blockOf(vine.ID(id+1), fmt.Sprint("B", id), traits)
			b.Rows = anyRows(t, 12)
			for i := range b.Rows {
				b.Rows[i].ID += 100 * b.ID
				want[b.Rows[i].ID], turn[b.Rows[i].ID] = b.Rows[i].Minutes, traits.Late()
			}
			blocks = append(blocks, b)
		}
		o := crew.PlanOptions{Overrun: rapid.SampledFrom([]float64{0, 15}).Draw(t, "overrun")}
		days := crew.Calendar(day(4), rapid.IntRange(0, 20).Draw(t, "days"), time.Sunday)
		plan, err := crew.Make(blocks, crews, days, o)
		require.NoError(t, err)
		got, last := map[vine.ID]float64{}, map[string]int{}
		for _, l := range plan.Lists {
			sum := 0.0
			for _, k := range l.Tasks {
				got[k.Row] += k.Minutes
				sum += k.Minutes
				require.GreaterOrEqual(t, turn[k.Row], last[l.Crew])
				last[l.Crew] = turn[k.Row]
			}
			require.NotEqual(t, time.Sunday, l.Date.Weekday())
			require.InDelta(t, sum, l.Minutes, 1e-6)
			require.LessOrEqual(t, l.Minutes, l.Room+o.Overrun+1e-6)
			if !l.Over {
				require.LessOrEqual(t, l.Minutes, l.Room+1e-6)
			}
		}
		for _, k := range plan.Left {
			got[k.Row] += k.Minutes
		}
		require.Len(t, got, len(want))
		for id, m := range want {
			require.InDelta(t, m, got[id], 1e-6)
		}
	})
}
