package crew_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
)

// shift is a person's day of pruning vines one by one from 8 o'clock: minutes of
// each; the first record only opens the day.
func shift(who string, d int, c crew.Class, minutes ...float64) (list []crew.Record) {
	at := day(d).Add(8 * time.Hour)
	for _, m := range append([]float64{0}, minutes...) {
		at = at.Add(time.Duration(m * float64(time.Minute)))
		list = append(list, crew.Record{Who: who, Crew: "north", When: at, Operation: crew.Pruning, System: guyot, Class: c, Vines: 1})
	}
	return list
}

func repeat(m float64, n int) (out []float64) {
	for range n {
		out = append(out, m)
	}
	return out
}

func rateOf(t require.TestingT, l crew.Learnt, c crew.Class) crew.Rate {
	for _, r := range l.Rates {
		if r.Key.Class == c {
			return r
		}
	}
	require.Fail(t, "no rate")
	return crew.Rate{}
}

func TestLearn(t *testing.T) {
	usual := 2.7 // the planning figure of a cane-pruned vine of the middle class
	few := shift("ana", 4, 3, repeat(2, 10)...)
	var many []crew.Record
	for d := range 10 {
		for _, who := range []string{"ana", "bo", "cem"} {
			many = append(many, shift(who, 4+d, 3, repeat(2, 100)...)...)
		}
	}
	for _, c := range []struct {
		name      string
		records   []crew.Record
		low, high float64 // of the minutes
		vines     int
	}{
		{"a few records hardly move the planning figure", few, 2.6, usual, 10},
		{"many say what they say", many, 2, 2.06, 3000},
		{"a lunch hour is cut out", append(shift("ana", 4, 3, append(append(repeat(2, 150), 62), repeat(2, 149)...)...), shift("ana", 5, 3, repeat(2, 300)...)...), 2, 2.2, 599},
		{"a row tapped at once counts for its vines", []crew.Record{
			{Who: "ana", When: day(4), Operation: crew.Pruning, System: guyot, Class: 3, Vines: 1},
			{Who: "ana", When: day(4).Add(4 * time.Hour), Operation: crew.Pruning, System: guyot, Class: 3, Vines: 120}}, 2.2, 2.55, 120},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := table(t).Learn(c.records, crew.LearnOptions{})
			require.NoError(t, err)
			r := rateOf(t, got, 3)
			require.GreaterOrEqual(t, r.Minutes, c.low)
			require.Less(t, r.Minutes, c.high)
			require.Equal(t, c.vines, r.Vines)
			require.Less(t, r.Low, r.Minutes)
			require.Greater(t, r.High, r.Minutes)
			require.InDelta(t, 60/r.Minutes, r.PerHour(), 1e-12)
		})
	}
	got, err := table(t).Learn(many, crew.LearnOptions{})
	require.NoError(t, err)
	require.Equal(t, 3, rateOf(t, got, 3).People)
	require.Equal(t, 30, rateOf(t, got, 3).Spells)
	require.Equal(t, 30, got.Firsts)
}

// Three taps within seconds stand for three vines done since the tap before them.
func TestLearn_Bursts(t *testing.T) {
	var list []crew.Record
	at := day(4).Add(8 * time.Hour)
	for range 100 {
		at = at.Add(8 * time.Minute)
		for k := range 3 {
			list = append(list, crew.Record{Who: "ana", When: at.Add(time.Duration(k) * 2 * time.Second), Operation: crew.Pruning, System: guyot, Class: 3, Vines: 1})
		}
	}
	got, err := table(t).Learn(list, crew.LearnOptions{PriorVines: 0.001})
	require.NoError(t, err)
	require.InDelta(t, 8.0/3, rateOf(t, got, 3).Minutes, 0.01)
	require.Equal(t, 198, got.Bursts)
	require.Equal(t, 3, got.Firsts)
}

// What one class teaches is taken for the others of the operation and system
// until they have records of their own; other systems and operations learn nothing.
func TestLearn_OtherClasses(t *testing.T) {
	got, err := table(t).Learn(shift("ana", 4, 3, repeat(1.35, 400)...), crew.LearnOptions{})
	require.NoError(t, err)
	tab := table(t, got.Rates...)
	plain := table(t)
	k := func(s crew.System, c crew.Class) crew.Key {
		return crew.Key{Operation: crew.Pruning, System: s, Class: c}
	}
	factor := rateOf(t, got, crew.ClassAll).Factor
	require.Greater(t, factor, 0.5)
	require.Less(t, factor, 0.7)
	require.InDelta(t, factor, tab.Minutes(k(guyot, 5), false)/plain.Minutes(k(guyot, 5), false), 1e-12)
	require.Less(t, tab.Minutes(k(guyot, 3), false), factor*plain.Minutes(k(guyot, 3), false))
	require.Equal(t, plain.Minutes(k(cordon, 3), false), tab.Minutes(k(cordon, 3), false))
}

// A crew that takes a quarter longer is found out as such; nothing in what is
// learnt names a person.
func TestPaces(t *testing.T) {
	var list []crew.Record
	for d := range 8 {
		for k, who := range []string{"ana", "bo", "cem", "dee"} {
			own := shift(who, 4+d, 3, repeat(2.7*[]float64{1, 1, 1.25, 1.25}[k], 120)...)
			for i := range own {
				own[i].Crew = []string{"north", "south"}[k/2]
			}
			list = append(list, own...)
		}
	}
	got, err := table(t).Paces(list, crew.LearnOptions{})
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.Equal(t, "north", got[0].Crew)
	require.InDelta(t, 1, got[0].Pace, 0.01)
	require.InDelta(t, 1.25, got[1].Pace, 0.03)
	require.Equal(t, 2, got[1].People)
	require.NotContains(t, fmt.Sprintf("%+v", got), "ana")
}

// On invented work whose truth is known, the 80 % interval holds the true minutes
// about as often as it says, with people and days that differ, and with breaks.
func TestLearn_Coverage(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	const rounds = 250
	held, sum := 0, 0.0
	for range rounds {
		truth := 2.7 * (1 + 0.2*random.NormFloat64()) // like blocks differ
		var list []crew.Record
		for _, who := range []string{"ana", "bo", "cem", "dee"} {
			for d := range 5 {
				pace := truth * (1 + 0.15*random.NormFloat64())
				var minutes []float64
				for v := range 60 {
					m := pace * math.Exp(0.4*random.NormFloat64()-0.08)
					if v == 30 {
						m += 45
					}
					minutes = append(minutes, m)
				}
				list = append(list, shift(who, 4+d, 3, minutes...)...)
			}
		}
		got, err := table(t).Learn(list, crew.LearnOptions{})
		require.NoError(t, err)
		r := rateOf(t, got, 3)
		if r.Low <= truth && truth <= r.High {
			held++
		}
		sum += r.Minutes / truth
	}
	require.InDelta(t, 1, sum/rounds, 0.03, "not off on the average")
	t.Logf("held %d of %d, mean off by %.3f", held, rounds, sum/rounds-1)
	require.GreaterOrEqual(t, held, rounds*76/100)
	require.LessOrEqual(t, held, rounds*92/100)
}

// More records that say the same never widen the interval as a share of the rate,
// nor move the rate away from what they say; the order of the log does not matter.
func TestLearn_Shrinks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		says := rapid.Float64Range(1.5, 5).Draw(t, "minutes")
		n := rapid.IntRange(1, 100).Draw(t, "vines")
		a := shift("ana", 4, 3, repeat(says, n)...)
		b := append(append([]crew.Record{}, a...), shift("bo", 5, 3, repeat(says, n)...)...)
		less, err := table(t).Learn(a, crew.LearnOptions{})
		require.NoError(t, err)
		more, err := table(t).Learn(b, crew.LearnOptions{})
		require.NoError(t, err)
		x, y := rateOf(t, less, 3), rateOf(t, more, 3)
		require.LessOrEqual(t, math.Abs(y.Minutes-says), math.Abs(x.Minutes-says)+1e-6)
		require.LessOrEqual(t, (y.High-y.Low)/y.Minutes, (x.High-x.Low)/x.Minutes+1e-9)
		mixed := rapid.Permutation(b).Draw(t, "order")
		again, err := table(t).Learn(mixed, crew.LearnOptions{})
		require.NoError(t, err)
		require.InDelta(t, y.Minutes, rateOf(t, again, 3).Minutes, 1e-9)
	})
}

func TestLearn_Refuses(t *testing.T) {
	good := shift("ana", 4, 3, 2)[0]
	for _, c := range []struct {
		name string
		with func(r *crew.Record)
		want string
	}{
		{"nobody", func(r *crew.Record) { r.Who = "" }, "who"},
		{"no time", func(r *crew.Record) { r.When = time.Time{} }, "when"},
		{"no vine", func(r *crew.Record) { r.Vines = 0 }, "vines"},
		{"unknown operation", func(r *crew.Record) { r.Operation = "mowing" }, "mowing"},
		{"unknown class", func(r *crew.Record) { r.Class = 9 }, "class"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := good
			c.with(&r)
			_, err := table(t).Learn([]crew.Record{r}, crew.LearnOptions{})
			require.ErrorIs(t, err, crew.ErrRecord)
			require.ErrorContains(t, err, c.want)
		})
	}
	_, err := table(t).Learn(nil, crew.LearnOptions{Level: 2})
	require.ErrorIs(t, err, crew.ErrRecord)
	got, err := table(t).Learn(nil, crew.LearnOptions{})
	require.NoError(t, err)
	require.Empty(t, got.Rates)
}
