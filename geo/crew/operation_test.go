package crew_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/crew"
)

// flat is a table with one operation of so many minutes for every vine.
func flat(t *testing.T, minutes float64) *crew.Table {
	tab, err := crew.NewTable([]crew.Operation{{Name: crew.Pruning, Minutes: crew.Minutes{Cane: minutes, Spur: minutes, Young: minutes}}}, nil)
	require.NoError(t, err)
	return tab
}

// Published figures of labour.
func TestLabour(t *testing.T) {
	many := block(t, strings.Repeat("o", 80))
	t.Run("80 vines at 3 min take 4 h (a Virginia estate's weblog, pruning hours, 2008)", func(t *testing.T) {
		w, err := crew.Weigh(crew.Job{Stand: many, System: guyot, Table: flat(t, 3), Operation: crew.Pruning})
		require.NoError(t, err)
		require.InDelta(t, 4.0, w.All().Minutes/60, 1e-12)
	})
	t.Run("cutting and tying a cane-pruned vine take 3 min by the usual figures (common practice)", func(t *testing.T) {
		cut, tie := weigh(t, many, crew.Pruning), weigh(t, many, crew.Tying)
		require.InDelta(t, 4.0, (cut.All().Minutes+tie.All().Minutes)/60, 1e-12)
	})
	t.Run("110 h for 3 acres are 90.6 h/ha (the same, 2010)", func(t *testing.T) {
		require.InDelta(t, 90.6, crew.Content{Minutes: 110 * 60}.HoursPerHa(3*4046.8564224), 0.05)
	})
	t.Run("4,200 vines at 600 a worker-day are 7 worker-days (UN look to Marlborough grape vine pruning crews, Stuff, 2014)", func(t *testing.T) {
		require.InDelta(t, 7, crew.PersonDays(4200*8*60/600, 8, 1), 1e-12)
	})
	t.Run("nobody works without hours", func(t *testing.T) { require.Zero(t, crew.PersonDays(100, 0, 1)) })
}

// 50 h/ha with a machine before the hand: 10 to 15 % off on canes, 42.5 to 45
// h/ha; 60 % on spurs, 20 h/ha (La mécanisation de la taille au vignoble,
// Techniloire).
func TestPrePruning(t *testing.T) {
	for _, c := range []struct {
		name   string
		system crew.System
		saving float64 // 0: the usual one
		low    float64
		high   float64
	}{
		{"cane, least", guyot, 0.10, 45, 45},
		{"cane, most", guyot, 0.15, 42.5, 42.5},
		{"cane, as usual", guyot, 0, 42.5, 45},
		{"spur, as usual", cordon, 0, 20, 20},
	} {
		t.Run(c.name, func(t *testing.T) {
			ops := crew.Operations()
			for i := range ops {
				if ops[i].Name == crew.Pruning {
					ops[i].Minutes = crew.Minutes{Cane: 0.75, Spur: 0.75, Young: 0.75} // 50 h for 4,000 vines
					if c.saving > 0 {
						ops[i].Saves.Cane = c.saving
					}
				}
			}
			tab, err := crew.NewTable(ops, nil)
			require.NoError(t, err)
			k := crew.Key{Operation: crew.Pruning, System: c.system}
			require.InDelta(t, 50, 4000*tab.Minutes(k, false)/60, 0.1)
			got := 4000 * tab.Minutes(k, true) / 60
			require.GreaterOrEqual(t, got, c.low-0.1)
			require.LessOrEqual(t, got, c.high+0.1)
		})
	}
}

// Pruning of like blocks differs by up to 40 % (La Vigne no. 83, article
// VI0832110969, 1997).
func TestVigourFactor(t *testing.T) {
	require.InDelta(t, 1.4, crew.VigourFactor(5)/crew.VigourFactor(1), 0.005)
	for c := crew.Class(1); c < 5; c++ {
		require.Less(t, crew.VigourFactor(c), crew.VigourFactor(c+1))
	}
	require.Equal(t, 1.0, crew.VigourFactor(crew.ClassUnknown))
}

func TestOperations(t *testing.T) {
	tab := table(t)
	k := func(op string, s crew.System, c crew.Class) crew.Key {
		return crew.Key{Operation: op, System: s, Class: c}
	}
	// Pruning young, untrained vines takes longer per vine than mature ones (a
	// Virginia estate's weblog, pruning hours).
	require.Greater(t, tab.Minutes(k(crew.Pruning, guyot, crew.ClassYoung), false), tab.Minutes(k(crew.Pruning, guyot, 3), false))
	// Spur-pruned vines have no canes to tie down.
	require.Zero(t, tab.Minutes(k(crew.Tying, cordon, 3), false))
	// Shoot thinning: about 1 min per vine (Shoot thinning, Linden Vineyards, 2016).
	require.Equal(t, 1.0, tab.Minutes(k(crew.ShootThinning, guyot, 3), false))
	require.Zero(t, tab.Minutes(k("ploughing", guyot, 3), false))
	// Tying comes after pulling out, and that after pruning (common practice).
	tying, ok := tab.Operation(crew.Tying)
	require.True(t, ok)
	pulling, ok := tab.Operation(tying.After)
	require.True(t, ok)
	require.Equal(t, crew.Pruning, pulling.After)
	for _, o := range tab.Operations() {
		require.NotEmpty(t, o.Source, o.Name)
	}
}

func TestNewTable_Refuses(t *testing.T) {
	good := crew.Operation{Name: "mowing", Minutes: crew.Minutes{Cane: 1}}
	for _, c := range []struct {
		name string
		ops  []crew.Operation
		want string
	}{
		{"no name", []crew.Operation{{Minutes: good.Minutes}}, "name"},
		{"no minutes", []crew.Operation{{Name: "mowing"}}, "minutes"},
		{"negative minutes", []crew.Operation{{Name: "mowing", Minutes: crew.Minutes{Cane: -1}}}, "cane-pruned"},
		{"twice", []crew.Operation{good, good}, "twice"},
		{"after itself", []crew.Operation{{Name: "mowing", Minutes: good.Minutes, After: "mowing"}}, "after"},
		{"after an unknown one", []crew.Operation{{Name: "mowing", Minutes: good.Minutes, After: "sowing"}}, "sowing"},
		{"more nodes than all", []crew.Operation{{Name: "mowing", Minutes: good.Minutes, NodeShare: 1.5}}, "nodes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := crew.NewTable(c.ops, nil)
			require.ErrorIs(t, err, crew.ErrOperation)
			require.ErrorContains(t, err, c.want)
		})
	}
}

// Every usual operation has the cautions that belong to it, and all have the
// general ones. Which belongs where is common practice; what is said of powered
// shears, cold and slopes is from the sources that stand beside it.
func TestCautions(t *testing.T) {
	hazards := func(op string) (out []string) {
		for _, c := range crew.Cautions(op) {
			require.NotEmpty(t, c.Advice, c.Hazard)
			require.NotEmpty(t, c.Source, c.Hazard)
			require.NotContains(t, out, c.Hazard)
			out = append(out, c.Hazard)
		}
		return out
	}
	for op, want := range map[string]struct{ has, not []string }{
		crew.PrePruning:    {[]string{crew.HazardMachine, crew.HazardClearing, crew.HazardRollover, crew.HazardCold}, []string{crew.HazardShears}},
		crew.Pruning:       {[]string{crew.HazardShears, crew.HazardWet, crew.HazardFrozen, crew.HazardCold}, []string{crew.HazardMachine, crew.HazardHeat}},
		crew.PullingBrush:  {[]string{crew.HazardApart, crew.HazardEyes, crew.HazardCold}, []string{crew.HazardShears, crew.HazardWet}},
		crew.Tying:         {[]string{crew.HazardWires, crew.HazardFrozen, crew.HazardCold}, []string{crew.HazardShears}},
		crew.ShootThinning: {[]string{crew.HazardSprays, crew.HazardHeat}, []string{crew.HazardShears, crew.HazardFrozen, crew.HazardCold}},
		crew.Checking:      {[]string{crew.HazardEyes, crew.HazardCold}, []string{crew.HazardShears}},
		crew.Replanting:    {[]string{crew.HazardDigging, crew.HazardAuger, crew.HazardLifting}, []string{crew.HazardShears}},
		"mowing":           {[]string{crew.HazardCold, crew.HazardSlope}, []string{crew.HazardShears}},
	} {
		got := hazards(op)
		require.Subset(t, got, want.has, op)
		require.Subset(t, got, []string{crew.HazardMachines, crew.HazardAlone}, op)
		require.Equal(t, crew.HazardRules, got[len(got)-1], op)
		for _, h := range want.not {
			require.NotContains(t, got, h, op)
		}
	}
	require.Equal(t, crew.HazardShears, hazards(crew.Pruning)[0])
}
