package replant

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// npv discounts by powers, apart from the code under test.
func npv(cash []float64, rate float64) (sum float64) {
	for t, c := range cash {
		sum += c * math.Pow(1+rate, -float64(t))
	}
	return sum
}

func cashOf(p Plan) (out []float64) {
	for _, y := range p.Years {
		out = append(out, y.Cash)
	}
	return out
}

// The example printed with the NPV function of common spreadsheets: 10 %, -10 000,
// 3 000, 4 200, 6 800, the first a year from now: 1 188.44 (from memory).
func TestNPV_Spreadsheet(t *testing.T) {
	require.InDelta(t, 1188.44, npv([]float64{0, -10_000, 3_000, 4_200, 6_800}, 0.10), 0.005)
}

// flat is money in which all is simple: plants bear at once, all live, 1 000 kg/ha
// at a margin of 1, tending 100, 10 %.
func flat() Money {
	m := DefaultMoney()
	for key, v := range map[string]float64{"price": 2, "harvest_cost": 1, "full_yield": 1000, "tending": 100, "rest": 40, "replace_vine": 1, "plant_block": 200, "pull_block": 50,
		"discount_rate": 0.1, "compensation": 0, "yearly_loss": 0, "replant_survival": 1, "block_survival": 1, "first_crop_leaf": 1, "full_leaf_block": 1, "full_leaf_replant": 1, "rest_years": 0} {
		set(&m, key, v)
	}
	return m
}

// set gives an assumption a value, its low and high with it.
func set(m *Money, key string, v float64) {
	for _, f := range m.Fields() {
		if f.Key == key {
			f.Value, f.Low, f.High = v, v, v
			return
		}
	}
	panic("no assumption " + key)
}

// One hectare of 1 000 places, 100 of them gaps, worked by hand at 10 %:
//
//	year            0         1         2        sum
//	factor          1     1/1.1    1/1.21
//	leave         800    727.27    661.16   2 188.43
//	interplant    800    818.18    743.80   2 361.98
//	pull          650    818.18    743.80   2 211.98
func TestCompare_ByHand(t *testing.T) {
	b := BlockCase{Season: 2027, AreaHa: 1, Positions: 1000, Gaps: 100, Remaining: 3, Over: 1, Horizon: 3}
	c, err := Compare(b, flat())
	require.NoError(t, err)
	// Leave: 900 kg × 1 - 100 = 800 each year.
	require.InDeltaSlice(t, []float64{800, 800, 800}, cashOf(c.Plans[Leave]), 1e-9)
	require.InDelta(t, 2188.43, c.Plans[Leave].NPV, 0.005)
	// Interplant: 1 000 - 100 - 100 replants × 1, then 900.
	require.InDeltaSlice(t, []float64{800, 900, 900}, cashOf(c.Plans[Interplant]), 1e-9)
	require.InDelta(t, 2361.98, c.Plans[Interplant].NPV, 0.005)
	require.Equal(t, 100, c.Plans[Interplant].Replant)
	// Pull: 1 000 - 100 - 50 - 200, then 900.
	require.InDeltaSlice(t, []float64{650, 900, 900}, cashOf(c.Plans[PullBlock]), 1e-9)
	require.InDelta(t, 2211.98, c.Plans[PullBlock].NPV, 0.005)
	require.InDelta(t, 818.18, c.Plans[PullBlock].Years[1].Present, 0.005)
	require.InDelta(t, 1468.18, c.Plans[PullBlock].Years[1].Total, 0.005)
	require.Contains(t, strings.Join(c.Advice, "\n"), "interplant comes out ahead of pull the block by 150 €")
	require.Contains(t, strings.Join(c.Advice, "\n"), "not a verdict")
}

// Gaps, replants and compensation year by year, by hand: shares of a full crop.
func TestCompare_CropByHand(t *testing.T) {
	crops := func(p Plan) (out []float64) {
		for _, y := range p.Years {
			out = append(out, y.YieldKgHa/1000)
		}
		return out
	}
	m := flat()
	set(&m, "compensation", 0.5)
	set(&m, "yearly_loss", 0.1)
	// 0.9 + 0.1 × 0.5; then 0.09 lost and not yet made up: 0.81 + 0.05; then 0.729 +
	// 0.19 × 0.5.
	c, err := Compare(BlockCase{AreaHa: 1, Positions: 1000, Gaps: 100, Remaining: 3, Over: 1, Horizon: 3}, m)
	require.NoError(t, err)
	require.InDeltaSlice(t, []float64{0.95, 0.86, 0.824}, crops(c.Plans[Leave]), 1e-9)
	require.InDelta(t, 0.271, c.Plans[Leave].Years[2].Gaps, 1e-9)

	// A fifth are gaps, filled over two years; four plants in five live; first crop
	// in leaf 3, full in leaf 5: a third, two thirds, full. Until a replant bears
	// more, its neighbours' half counts.
	set(&m, "yearly_loss", 0)
	set(&m, "replant_survival", 0.8)
	set(&m, "first_crop_leaf", 3)
	set(&m, "full_leaf_block", 5)
	set(&m, "full_leaf_replant", 5)
	c, err = Compare(BlockCase{AreaHa: 1, Positions: 1000, Gaps: 200, Remaining: 6, Over: 2, Horizon: 6}, m)
	require.NoError(t, err)
	require.InDeltaSlice(t, []float64{0.9, 0.9, 0.9, 0.8 + 0.02 + 0.08*2/3 + 0.04, 0.8 + 0.02 + 0.08 + 0.08*2/3, 0.98}, crops(c.Plans[Interplant]), 1e-9)
	require.Equal(t, 200, c.Plans[Interplant].Replant)

	// A new block after a year of rest: nothing for two leaves, then thirds; its
	// gaps are made up to a half of what the neighbours bear.
	set(&m, "rest_years", 1)
	set(&m, "block_survival", 0.9)
	c, err = Compare(BlockCase{AreaHa: 1, Positions: 1000, Gaps: 200, Remaining: 6, Over: 2, Horizon: 6}, m)
	require.NoError(t, err)
	require.InDeltaSlice(t, []float64{0, 0, 0, 0.95 / 3, 0.95 * 2 / 3, 0.95}, crops(c.Plans[PullBlock]), 1e-9)
	require.InDelta(t, -90, c.Plans[PullBlock].Years[0].Cash, 1e-9, "pulling 50, rest 40")
	require.InDelta(t, -300, c.Plans[PullBlock].Years[1].Cash, 1e-9, "planting 200, tending 100")
}

// With nothing lost and no gaps a block pays the same each year: the sum is that of
// an annuity due, a (1 - v^n) / (1 - v), v = 1 / (1 + i) (any standard text).
func TestCompare_Annuity(t *testing.T) {
	for _, rate := range []float64{0.02, 0.05, 0.12} {
		for _, years := range []int{1, 7, 30} {
			m := flat()
			set(&m, "discount_rate", rate)
			c, err := Compare(BlockCase{AreaHa: 2.5, Positions: 5000, Remaining: years, Over: 3, Horizon: years}, m)
			require.NoError(t, err)
			v := 1 / (1 + rate)
			require.InDelta(t, 900*(1-math.Pow(v, float64(years)))/(1-v), c.Plans[Leave].PerHa, 1e-6)
			require.InDelta(t, c.Plans[Leave].PerHa, c.Plans[Interplant].PerHa, 1e-9, "no gaps, nothing to fill")
			require.InDelta(t, 2.5*c.Plans[Leave].PerHa, c.Plans[Leave].NPV, 1e-6)
		}
	}
}

// Filling all gaps at once where nothing else is lost is worth so many times one
// position: two ways of reckoning.
func TestPositionWorth_IsTheDifference(t *testing.T) {
	m := DefaultMoney()
	set(&m, "yearly_loss", 0)
	b := BlockCase{AreaHa: 1, Positions: 4000, Gaps: 320, Remaining: 18, Over: 1, Horizon: 25}
	c, err := Compare(b, m)
	require.NoError(t, err)
	w, err := PositionWorth(m, 4000, 18)
	require.NoError(t, err)
	require.InDelta(t, 320*w.Sum, c.Plans[Interplant].PerHa-c.Plans[Leave].PerHa, 1e-6)
}

// A closed form: crop from leaf 3 on is an annuity due less its first two years;
// 2 kg at a margin of 1, survival 0.8, nothing made up.
func TestPositionWorth_Annuity(t *testing.T) {
	m := flat()
	set(&m, "full_yield", 2000)
	set(&m, "replant_survival", 0.8)
	set(&m, "first_crop_leaf", 3)
	set(&m, "full_leaf_block", 3)
	set(&m, "full_leaf_replant", 3)
	set(&m, "replace_vine", 10)
	w, err := PositionWorth(m, 1000, 20)
	require.NoError(t, err)
	v := 1 / 1.1
	due := (1 - math.Pow(v, 20)) / (1 - v)
	require.InDelta(t, 0.8*2*(due-1-v)-10, w.Sum, 1e-9)
	require.Zero(t, w.Gain[1])
	// The first t at which 1.6 × (v² + … + v^t) reaches 10.
	sum, want := 0.0, -1
	for k := 2; k < 20 && want < 0; k++ {
		if sum += 1.6 * math.Pow(v, float64(k)); sum >= 10 {
			want = k
		}
	}
	require.Equal(t, want, w.PaysBy)
	set(&m, "replace_vine", 100)
	w, err = PositionWorth(m, 1000, 20)
	require.NoError(t, err)
	require.Equal(t, -1, w.PaysBy)
	require.Contains(t, w.Text, "does not pay back within 20 years")
	_, err = PositionWorth(m, 0, 20)
	require.ErrorIs(t, err, ErrInput)
}

func TestCompare_KeepUpAndYoung(t *testing.T) {
	m := flat()
	set(&m, "yearly_loss", 0.1)
	set(&m, "first_crop_leaf", 2)
	set(&m, "full_leaf_block", 3)
	set(&m, "full_leaf_replant", 3)
	c, err := Compare(BlockCase{AreaHa: 1, Positions: 1000, Gaps: 100, Young: []int{50, 50}, Remaining: 4, Over: 1, KeepUp: true, Horizon: 4}, m)
	require.NoError(t, err)
	// 800 old, 50 in leaf 1 (nothing), 50 in leaf 2 (half).
	require.InDelta(t, 825, c.Plans[Leave].Years[0].YieldKgHa, 1e-9)
	// All filled now, and each winter's tenth again.
	for k, y := range c.Plans[Interplant].Years {
		require.InDelta(t, []float64{100, 100, 100, 100}[k], y.Replants, 1e-9)
		require.InDelta(t, 1, y.Living, 1e-9)
	}
}

func TestSensitivity_BreakEvenIsLevel(t *testing.T) {
	b := BlockCase{AreaHa: 1, Positions: 4000, Gaps: 600, Remaining: 12, Over: 3, Horizon: 30, PermittedHlHa: 1000}
	m := DefaultMoney()
	c, err := Compare(b, m)
	require.NoError(t, err)
	ahead := c.best()[0]
	turns := 0
	require.Len(t, c.Sensitivity, len(m.Fields()))
	for k, s := range c.Sensitivity {
		require.InDelta(t, c.Plans[Leave].PerHa, s.NPV[Leave][1], 1e-9, "the middle is the sum itself")
		require.NotEmpty(t, s.Text)
		if !s.Turns || m.Fields()[k].whole {
			continue
		}
		turns++
		n := m
		n.Fields()[k].Value = s.Even
		mine, other := b.plan(ahead, &n).PerHa, b.plan(s.To, &n).PerHa
		require.InDelta(t, mine, other, 1e-4*math.Max(1, math.Abs(mine)), s.Text)
	}
	require.Positive(t, turns)
}

// Every default says where it is from, and may be shown.
func TestDefaultMoney(t *testing.T) {
	m := DefaultMoney()
	require.NoError(t, m.Check())
	for _, f := range m.Fields() {
		require.NotEmpty(t, f.Source, f.Key)
		require.NotEmpty(t, f.Unit, f.Key)
	}
	for _, c := range []struct {
		name   string
		change func(*Money)
	}{
		{"price below 0", func(m *Money) { set(m, "price", -1) }}, {"no number", func(m *Money) { set(m, "full_yield", math.NaN()) }},
		{"share above 1", func(m *Money) { set(m, "compensation", 1.1) }}, {"half a year of rest", func(m *Money) { set(m, "rest_years", 0.5) }},
		{"low above value", func(m *Money) { m.Price.Low = 9 }}, {"full before first", func(m *Money) { set(m, "full_leaf_block", 2) }},
		{"endless", func(m *Money) { set(m, "tending", math.Inf(1)) }},
	} {
		n := DefaultMoney()
		c.change(&n)
		require.ErrorIs(t, n.Check(), ErrSettings, c.name)
		_, err := Compare(BlockCase{AreaHa: 1, Positions: 1, Over: 1}, n)
		require.ErrorIs(t, err, ErrSettings, c.name)
	}
}

func TestCompare_Refuses(t *testing.T) {
	ok := BlockCase{AreaHa: 1, Positions: 10, Gaps: 1, Over: 1, Remaining: 5}
	for name, change := range map[string]func(*BlockCase){
		"no positions": func(b *BlockCase) { b.Positions = 0 }, "more gaps": func(b *BlockCase) { b.Gaps = 11 }, "no area": func(b *BlockCase) { b.AreaHa = 0 },
		"young": func(b *BlockCase) { b.Young = []int{10} }, "young below 0": func(b *BlockCase) { b.Young = []int{-1} }, "over": func(b *BlockCase) { b.Over = 0 },
		"remaining": func(b *BlockCase) { b.Remaining = -1 }, "horizon": func(b *BlockCase) { b.Horizon = 300 }, "permitted": func(b *BlockCase) { b.PermittedHlHa = math.NaN() },
	} {
		b := ok
		change(&b)
		_, err := Compare(b, DefaultMoney())
		require.ErrorIs(t, err, ErrInput, name)
	}
}

// anyCase draws a block and assumptions around the defaults.
func anyCase(t *rapid.T) (BlockCase, Money) {
	m := DefaultMoney()
	for _, f := range m.Fields() {
		if !f.whole {
			f.Value = rapid.Float64Range(f.Low, f.High).Draw(t, f.Key)
		}
	}
	m.FullBlock.Value, m.FullReplant.Value = max(m.FirstCrop.Value, m.FullBlock.Value), max(m.FirstCrop.Value, m.FullReplant.Value)
	b := BlockCase{AreaHa: 1, Positions: 1000, Gaps: rapid.IntRange(0, 1000).Draw(t, "gaps"), Remaining: rapid.IntRange(0, 25).Draw(t, "remaining"),
		Over: rapid.IntRange(1, 6).Draw(t, "over"), KeepUp: rapid.Bool().Draw(t, "keep up"), Horizon: rapid.IntRange(1, 35).Draw(t, "horizon")}
	if rapid.Bool().Draw(t, "appellation") {
		b.PermittedHlHa, b.PermittedLimit = 45, 0.2
	}
	return b, m
}

// More for the grapes never lowers a sum, more for work never raises it, and the
// sum is that of its years. Shares stay shares.
func TestPlan_Monotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, m := anyCase(t)
		for w := range Way(ways) {
			p := b.plan(w, &m)
			if s := npv(cashOf(p), m.Discount.Value); math.Abs(s-p.PerHa) > 1e-6*(1+math.Abs(s)) {
				t.Fatalf("%v: %v is not the sum of its years %v", w, p.PerHa, s)
			}
			for _, y := range p.Years {
				if y.Living < -1e-9 || y.Gaps < -1e-9 || y.Living+y.Gaps > 1+1e-9 || y.YieldKgHa < 0 || y.YieldKgHa > m.Yield.Value*(1+1e-9) || y.SoldKgHa > y.YieldKgHa {
					t.Fatalf("%v: %+v", w, y)
				}
			}
			more := m
			more.Price.Value *= 1.1
			if q := b.plan(w, &more).PerHa; q < p.PerHa-1e-9 {
				t.Fatalf("%v: a better price lowers %v to %v", w, p.PerHa, q)
			}
			for _, key := range []string{"harvest_cost", "tending", "rest", "replace_vine", "plant_block", "pull_block"} {
				dear := m
				for _, f := range dear.Fields() {
					if f.Key == key {
						f.Value *= 1.5
					}
				}
				if q := b.plan(w, &dear).PerHa; q > p.PerHa+1e-9 {
					t.Fatalf("%v: dearer %s raises %v to %v", w, key, p.PerHa, q)
				}
			}
		}
	})
}

// A hectare of 4 000 places, 500 of them gaps, filled over three years and kept up,
// 15 years ahead of it, with the default assumptions: the values of
// testdata/ways.py, which was written apart from the code.
func TestCompare_Independent(t *testing.T) {
	c, err := Compare(BlockCase{AreaHa: 1, Positions: 4000, Gaps: 500, Remaining: 15, Over: 3, KeepUp: true}, DefaultMoney())
	require.NoError(t, err)
	for w, want := range map[Way]float64{Leave: 8441.2821, Interplant: 478.1843, PullBlock: -15813.5764} {
		require.InDelta(t, want, c.Plans[w].PerHa, 0.0001, w.String())
	}
}

// Money of thousands is written in figures, not with a power of ten.
func TestPlain(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 35_000: "35000", 1.2: "1.2", 0.04: "0.04", 20_000_000: "20000000", 0.123456: "0.1235", -3.5: "-3.5", 12345.6: "12346"} {
		require.Equal(t, want, plain(v))
	}
}
