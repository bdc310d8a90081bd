package replant

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestOrderPlants(t *testing.T) {
	m181 := Sort{"Merlot", "181", "3309C"}
	m343 := Sort{"Merlot", "343", "3309C"}
	cf := Sort{Cultivar: "Cabernet franc"}
	s := DefaultOrderSettings()
	s.Drippers = 2
	o, err := OrderPlants([]Need{
		{m343, "H3", 100, false}, {m181, "H3", 500, false}, {cf, "B1", 1000, true}, {m181, "K2", 10, false}, {m181, "H3", 0, false},
	}, []Stock{{m181, 40}, {m343, 500}, {Sort{Cultivar: "Malbec"}, 3}}, s, When{Today: Date(2026, 11, 28), PlantOn: Date(2028, 3, 31)})
	require.NoError(t, err)
	var lines []string
	for _, l := range o.Lines {
		lines = append(lines, l.Text)
	}
	require.Equal(t, []string{
		"Cabernet franc: 1000 places; with losses and spare 1042 plants; 0 in hand; order 1042.",
		"Merlot, clone 181, on 3309C: 510 places; with losses and spare 616 plants; 40 in hand; order 576.", // 603 + 13
		"Merlot, clone 343, on 3309C: 100 places; with losses and spare 121 plants; 121 in hand; order 0.",
	}, lines)
	require.Equal(t, []string{"H3", "K2"}, o.Lines[1].Blocks)
	require.Equal(t, []int{1610, 1610, 1610, 3220}, []int{o.Holes, o.Stakes, o.Guards, o.Drippers})
	require.Contains(t, joined(o.Notes), "379 plants of Merlot, clone 343, on 3309C in hand are not needed")
	require.Contains(t, joined(o.Notes), "3 plants of Malbec")
	require.Contains(t, joined(o.Notes), "order by 2026-09-30 (18 months). That was 59 days ago")
	require.True(t, o.Late)
}

// 14 to 18 months for an exact sort (a California grapevine nursery's questions
// page), the safe end by default.
func TestOrderPlants_OrderBy(t *testing.T) {
	for _, c := range []struct {
		today  Day
		potted bool
		by     Day
		late   bool
		soon   bool
	}{
		{Date(2026, 5, 1), false, Date(2026, 9, 30), false, false},
		{Date(2026, 8, 15), false, Date(2026, 9, 30), false, true},
		{Date(2026, 9, 30), false, Date(2026, 9, 30), false, true},
		{Date(2026, 10, 1), false, Date(2026, 9, 30), true, false},
		{Date(2026, 10, 1), true, Date(2027, 9, 30), false, false},
		{0, false, Date(2026, 9, 30), false, false},
	} {
		o, err := OrderPlants(nil, nil, DefaultOrderSettings(), When{c.today, Date(2028, 3, 31), c.potted})
		require.NoError(t, err)
		require.Equal(t, c.by.String(), o.OrderBy.String())
		require.Equal(t, []bool{c.late, c.soon}, []bool{o.Late, o.Soon}, c.today.String())
	}
	o, err := OrderPlants(nil, nil, DefaultOrderSettings(), When{Today: jan(1)})
	require.NoError(t, err)
	require.Zero(t, o.OrderBy)
	require.Contains(t, o.Notes[0], "No planting day")
}

func TestOrderPlants_Refuses(t *testing.T) {
	for _, change := range []func(*OrderSettings){
		func(s *OrderSettings) { s.Survival = 0 }, func(s *OrderSettings) { s.BlockSurvival = 1.2 }, func(s *OrderSettings) { s.Spare = -0.1 },
		func(s *OrderSettings) { s.Stakes = 101 }, func(s *OrderSettings) { s.LeadMonths = 61 },
	} {
		s := DefaultOrderSettings()
		change(&s)
		_, err := OrderPlants(nil, nil, s, When{})
		require.ErrorIs(t, err, ErrSettings)
	}
	for _, n := range []Need{{Positions: 3}, {Sort: Sort{Cultivar: "Merlot"}, Positions: -1}} {
		_, err := OrderPlants([]Need{n}, nil, DefaultOrderSettings(), When{})
		require.ErrorIs(t, err, ErrInput)
	}
	_, err := OrderPlants(nil, []Stock{{Plants: -1}}, DefaultOrderSettings(), When{})
	require.ErrorIs(t, err, ErrInput)
}

// An order with what is in hand never falls short of the need, does not exceed it
// by a whole plant per need, and a better survival never asks for more.
func TestPlantsToOrder_NeverShort(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		need := rapid.IntRange(0, 1_000_000).Draw(t, "need")
		low := rapid.Float64Range(0.05, 1).Draw(t, "survival")
		high := rapid.Float64Range(low, 1).Draw(t, "better")
		plants := PlantsToOrder(need, low)
		if plants < need || float64(plants)*low < float64(need)*(1-1e-9)-1e-9 || float64(plants-1)*low >= float64(need) && need > 0 {
			t.Fatalf("%d plants for %d at %v", plants, need, low)
		}
		if better := PlantsToOrder(need, high); better > plants {
			t.Fatalf("%d at %v but %d at %v", plants, low, better, high)
		}
		if more := PlantsToOrder(need+1, low); more <= plants-1 || more < plants {
			t.Fatalf("%d for %d, %d for one more", plants, need, more)
		}
		s := DefaultOrderSettings()
		s.Survival, s.Spare = low, rapid.Float64Range(0, 1).Draw(t, "spare")
		stock := rapid.IntRange(0, 1_000_000).Draw(t, "stock")
		merlot := Sort{Cultivar: "Merlot"}
		o, err := OrderPlants([]Need{{Sort: merlot, Positions: need}}, []Stock{{merlot, stock}}, s, When{})
		if err != nil {
			t.Fatal(err)
		}
		l := o.Lines[0]
		if l.Order < 0 || l.Order+l.InHand < plants || l.InHand > stock || l.Order > 0 && l.InHand < stock {
			t.Fatalf("%+v of %d in stock", l, stock)
		}
	})
}

func TestPlantsToOrder_Exact(t *testing.T) {
	for _, c := range []struct {
		need     int
		survival float64
		want     int
	}{{90, 0.9, 100}, {63, 0.7, 90}, {0, 0.5, 0}, {1, 1, 1}, {1, 0.99, 2}, {7, 0.07, 100}} {
		require.Equal(t, c.want, PlantsToOrder(c.need, c.survival), "%d at %v", c.need, c.survival)
	}
}

func TestDay(t *testing.T) {
	for _, c := range []struct {
		from Day
		n    int
		want string
	}{{Date(2028, 3, 31), -1, "2028-02-29"}, {Date(2028, 3, 31), -18, "2026-09-30"}, {Date(2027, 1, 15), -14, "2025-11-15"}, {Date(2027, 12, 31), 2, "2028-02-29"}} {
		require.Equal(t, c.want, c.from.AddMonths(c.n).String())
	}
	d, err := ParseDay("2027-01-12")
	require.NoError(t, err)
	text, err := d.MarshalText()
	require.NoError(t, err)
	var back Day
	require.NoError(t, back.UnmarshalText(text))
	require.Equal(t, d, back)
	require.NoError(t, back.UnmarshalText(nil))
	require.Zero(t, back)
	require.Error(t, back.UnmarshalText([]byte("12.1.2027")))
	require.Equal(t, "an unknown day", Day(0).String())
}
