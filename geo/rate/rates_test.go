package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// hectares are three zones of one hectare each: 100 rows by 100 m at 3 m, no
// more and no less than row by vine spacing.
func hectares(t *testing.T) *Zones {
	t.Helper()
	z := zonesFrom(t, scene{rows: 100, vines: 100, rowM: 3, vineM: 1}, func(row, n int) uint8 { return uint8(1 + n*3/100) })
	for k := range z.List {
		z.List[k].Number = k + 1
		z.List[k].AreaM2 = 10_000
		z.List[k].Z = float64(k) - 1
		z.List[k].Means, z.List[k].Known = []float64{[]float64{0.2, 0.4, 0.7}[k]}, []int{100}
	}
	z.Scale = []Scaling{{Name: "vigour"}}
	return z
}

func material(t *testing.T, key string) Material {
	t.Helper()
	for _, m := range Materials() {
		if m.Key == key {
			return m
		}
	}
	t.Fatalf("no material %q", key)
	return Material{}
}

func ratesOf(r *Rates) (out []float64) {
	for _, z := range r.Zones {
		out = append(out, z.Rate)
	}
	return out
}

// Managing vineyard variability by variable rate fertilization, Infowine/Enoforum,
// 2019: Barbera, trial 1 (urea) 120, 60, 0 kg/ha in low, medium and high vigour,
// trial 2 (slow release) 80, 40, 0; the uniform control of both had the medium
// rate. One hectare of each gives the same as uniform.
func TestRates_BarberaTrials(t *testing.T) {
	z := hectares(t)
	for _, c := range []struct {
		base float64
		want []float64
	}{{60, []float64{120, 60, 0}}, {40, []float64{80, 40, 0}}} {
		r, err := z.Rates(Request{Material: material(t, "nitrogen"), Aim: EvenOut, Rule: ByFactor, Base: c.base, Factor: []float64{2, 1, 0}, Uniform: c.base})
		require.NoError(t, err)
		assert.Equal(t, c.want, ratesOf(r))
		assert.InDelta(t, c.base, r.Mean, 1e-9)
		assert.InDelta(t, 3*c.base, r.Total, 1e-9)
		assert.InDelta(t, 0, r.Uniform.More, 1e-9)
		assert.Equal(t, "kg", r.Measure)
		assert.Equal(t, c.want[0], r.Zones[0].NKgPerHa)
	}
	assert.Equal(t, Record{"Barbera, Italy, slow-release 13-5-21", KgPerHa, 80, 40, 0, OnRecord()[1].Source}, OnRecord()[1])
}

// Integrated production guideline, grapes, IOBC-WPRS: 5 kg N per ha and year for
// each tonne; 8 t/ha: 40 kg N/ha.
func TestRates_NitrogenPerTonne(t *testing.T) {
	most, err := NitrogenCap(8, NitrogenPerTonne)
	require.NoError(t, err)
	assert.Equal(t, 40.0, most)
	z := hectares(t)
	q := Request{Material: material(t, "nitrogen"), Aim: EvenOut, Rule: ByZone, ByZone: []float64{80, 40, 0}, Nitrogen: NitrogenLimit{YieldTPerHa: []float64{8}}}
	r, err := z.Rates(q)
	require.NoError(t, err)
	assert.Equal(t, []float64{40, 40, 0}, ratesOf(r))
	assert.Equal(t, "nitrogen per tonne of grapes", r.Zones[0].Bound)
	q.Nitrogen = NitrogenLimit{YieldTPerHa: []float64{8, 10, 12}, PerYear: 45, Given: 15}
	r, err = z.Rates(q)
	require.NoError(t, err)
	assert.Equal(t, []float64{25, 30, 0}, ratesOf(r))
	// Compost with 6 kg N/t: 40 kg N/ha are 6.67 t/ha.
	q = Request{Material: material(t, "compost"), Aim: EvenOut, Rule: ByZone, ByZone: []float64{12, 6, 0}, Nitrogen: NitrogenLimit{YieldTPerHa: []float64{8}}}
	q.Material.NKgPerT = 6
	r, err = z.Rates(q)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{40.0 / 6, 6, 0}, ratesOf(r), 1e-12)
	assert.InDelta(t, 40, r.Zones[0].NKgPerHa, 1e-9)
	q.Material.NKgPerT = 0
	r, err = z.Rates(q)
	require.NoError(t, err)
	assert.Contains(t, r.Notes[len(r.Notes)-1], "how much nitrogen Compost holds is not entered")
}

// Adding compost to grapes, Ontario OMAFRA: 30 lb N/acre (printed as 34 kg/ha) at
// 5 lb N per ton are 6 tons/acre, about 13 t/ha.
func TestCompostFor_Ontario(t *testing.T) {
	n, err := Convert(30, LbPerAcre, KgPerHa, Spacing{})
	require.NoError(t, err)
	assert.InDelta(t, 33.6, n, 0.1)
	compost, err := CompostFor(n, 0, 5.0/2000*1000, 1) // 5 lb in a ton of 2,000 lb
	require.NoError(t, err)
	assert.InDelta(t, 13.45, compost, 0.01)
	tons, err := Convert(compost, TPerHa, TonPerAcre, Spacing{})
	require.NoError(t, err)
	assert.InDelta(t, 6, tons, 1e-9)
	free, err := CompostFor(40, 40, 5, 0.2)
	require.NoError(t, err)
	assert.Zero(t, free)
	half, err := CompostFor(40, 10, 10, 0.2)
	require.NoError(t, err)
	assert.InDelta(t, 15, half, 1e-12)
	for _, bad := range [][4]float64{{-1, 0, 5, 1}, {1, 0, 0, 1}, {1, 0, 5, 0}, {1, 0, 5, 1.1}, {math.NaN(), 0, 5, 1}, {math.Inf(1), 0, 5, 1}} {
		_, err := CompostFor(bad[0], bad[1], bad[2], bad[3])
		require.ErrorIs(t, err, ErrOption, "%v", bad)
	}
}

// Fertilizing wine grapes: linking shoot growth to petiole nitrogen, University of
// Wisconsin: 0, 20, 30, 40 to 50 lb/acre; 4 tons of grapes take about 14.5 lb/acre
// with them at 3.6 lb per ton.
func TestNitrogen_Wisconsin(t *testing.T) {
	for _, c := range [][3]float64{{1.6, 0, 0}, {1.4, 20, 20}, {1.0, 30, 30}, {0.8, 40, 50}} {
		least, most, err := PetioleNitrogen(c[0])
		require.NoError(t, err)
		assert.Equal(t, c[1:], []float64{least, most})
	}
	_, _, err := PetioleNitrogen(math.NaN())
	require.ErrorIs(t, err, ErrOption)
	taken, err := NitrogenCap(4, 3.6)
	require.NoError(t, err)
	assert.InDelta(t, 14.5, taken, 0.11)
}

// G. Allegro and others, International Society of Precision Agriculture: NDVI 0.80
// high, 0.60 medium, 0.40 low.
func TestCanopyClass_Allegro(t *testing.T) {
	for _, c := range []struct {
		ndvi  float64
		class int
	}{{0.80, 3}, {0.75, 3}, {0.60, 2}, {0.50, 2}, {0.40, 1}} {
		got, err := CanopyClass(c.ndvi)
		require.NoError(t, err)
		assert.Equal(t, c.class, got)
	}
	_, err := CanopyClass(1.2)
	require.ErrorIs(t, err, ErrOption)
}

// kg per metre = kg/ha x row spacing / 10,000 (derived): 6,000 kg/ha with rows 2.5 m
// apart are 1.5 kg/m; with vines 1.2 m apart 1.8 kg each. Factors as in NIST
// Handbook 44, Appendix C: 1 lb/acre = 1.120851 kg/ha, 1 gal/acre = 9.353956 l/ha.
func TestConvert(t *testing.T) {
	s := Spacing{2.5, 1.2}
	for _, c := range []struct {
		v        float64
		from, to Unit
		want     float64
	}{
		{6000, KgPerHa, KgPerM, 1.5}, {6, TPerHa, KgPerVine, 1.8}, {1.5, KgPerM, TPerHa, 6}, {600, GPerM2, TPerHa, 6},
		{1500, GPerM, KgPerM, 1.5}, {1800, GPerVine, KgPerHa, 6000},
		{1, LbPerAcre, KgPerHa, 1.120851}, {1, TonPerAcre, TPerHa, 2.241702}, {1, GalPerAcre, LPerHa, 9.353956},
		{25, Millimetre, M3PerHa, 250}, {1, Inch, Millimetre, 25.4}, {25, Millimetre, LPerVine, 75}, {10, LPerM, M3PerHa, 40},
		{15, PerM, PerHa, 60_000}, {15, PerM, PerVine, 18},
	} {
		got, err := Convert(c.v, c.from, c.to, s)
		require.NoError(t, err)
		assert.InEpsilon(t, c.want, got, 1e-6, "%v", c)
		back, err := Convert(got, c.to, c.from, s)
		require.NoError(t, err)
		assert.InEpsilon(t, c.v, back, 1e-12)
	}
	for _, c := range []struct {
		from, to Unit
		s        Spacing
	}{{KgPerHa, LPerHa, s}, {"stone", KgPerHa, s}, {KgPerHa, "", s}, {KgPerHa, KgPerM, Spacing{}}, {KgPerVine, KgPerHa, Spacing{2, 0}}, {KgPerM, KgPerHa, Spacing{math.NaN(), 1}}} {
		_, err := Convert(1, c.from, c.to, c.s)
		require.ErrorIs(t, err, ErrUnit, "%+v", c)
	}
	_, err := Convert(math.MaxFloat64, TPerHa, KgPerHa, s)
	require.ErrorIs(t, err, ErrNotFinite)
	m3, err := LayerM3PerHa(50, 0.5, 2.5) // 5 cm on a fifth of the ground
	require.NoError(t, err)
	assert.InDelta(t, 100, m3, 1e-9)
	_, err = LayerM3PerHa(50, 3, 2.5)
	require.ErrorIs(t, err, ErrOption)
}

func TestRates_Rules(t *testing.T) {
	z := hectares(t)
	m := Material{Name: "Own mix", Unit: KgPerHa, Price: 2}
	for _, c := range []struct {
		name string
		q    Request
		want []float64
	}{
		{"linear", Request{Rule: Linear, Base: 50, Slope: -20}, []float64{70, 50, 30}},
		{"linear, floor and cap", Request{Rule: Linear, Base: 50, Slope: -20, Floor: 40, Cap: 60}, []float64{60, 50, 40}},
		{"never below 0", Request{Rule: Linear, Base: 10, Slope: -20}, []float64{30, 10, 0}},
		{"need", Request{Rule: Need, Target: 0.5, PerUnit: 200}, []float64{60, 20, 0}},
		{"limits of the material", Request{Rule: ByZone, ByZone: []float64{90, 30, 5}, Material: Material{Name: "Limited", Unit: KgPerHa, Least: 10, Most: 80}}, []float64{80, 30, 10}},
		{"another unit", Request{Rule: ByZone, ByZone: []float64{0.03, 0.02, 0.01}, Unit: KgPerM, Material: Material{Name: "Limited", Unit: KgPerHa, Most: 80}}, []float64{80 * 3 / 1e4, 0.02, 0.01}},
	} {
		c.q.Aim = EvenOut
		if c.q.Material.Name == "" {
			c.q.Material = m
		}
		r, err := z.Rates(c.q)
		require.NoError(t, err, c.name)
		assert.InDeltaSlice(t, c.want, ratesOf(r), 1e-12, c.name)
	}
	r, err := z.Rates(Request{Material: m, Aim: EvenOut, Rule: ByZone, ByZone: []float64{30, 20, 10}, Uniform: 25})
	require.NoError(t, err)
	assert.InDelta(t, 120, r.Cost, 1e-9)
	assert.InDelta(t, 150, r.Uniform.Cost, 1e-9)
	assert.InDelta(t, -15, r.Uniform.More, 1e-9)
	assert.InDelta(t, -30, r.Uniform.MoreCost, 1e-9)
}

func TestRates_Budget(t *testing.T) {
	z := hectares(t)
	q := Request{Material: material(t, "water"), Aim: EvenOut, Rule: ByZone, ByZone: []float64{40, 20, 10}, Budget: 350_000} // 35 mm of 70
	r, err := z.Rates(q)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{20, 10, 5}, ratesOf(r), 1e-9)
	assert.LessOrEqual(t, r.Total, 350_000.0)
	q.Saving = Levelled
	r, err = z.Rates(q)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{12.5, 12.5, 10}, ratesOf(r), 1e-9)
	assert.Equal(t, []string{"budget", "budget", ""}, []string{r.Zones[0].Bound, r.Zones[1].Bound, r.Zones[2].Bound})
	q.Saving, q.Floor = Scaled, 9
	r, err = z.Rates(q)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{52.0 / 3, 9, 9}, []float64{r.Zones[0].Rate, r.Zones[1].Rate, r.Zones[2].Rate}, 0.35, "floors hold, the rest is scaled")
	assert.InDelta(t, 350_000, r.Total, 1e-3)
	q.Floor = 12
	_, err = z.Rates(q)
	require.ErrorIs(t, err, ErrBudget)
	require.ErrorContains(t, err, "350000 l is less than the 360000")
}

func TestRates_AimMustBeChosen(t *testing.T) {
	z := hectares(t)
	q := Request{Material: material(t, "compost"), Rule: ByZone, ByZone: []float64{2, 1, 0}}
	_, err := z.Rates(q)
	require.ErrorIs(t, err, ErrAim)
	for _, c := range []struct {
		aim     Aim
		key     string
		rates   []float64
		against bool
	}{
		{EvenOut, "compost", []float64{2, 1, 0}, false}, {EvenOut, "compost", []float64{0, 1, 2}, true},
		{UseDifference, "compost", []float64{2, 1, 0}, true}, {UseDifference, "compost", []float64{0, 1, 2}, false},
		{EvenOut, "seed", []float64{0, 10, 20}, false}, {EvenOut, "seed", []float64{20, 10, 0}, true}, {EvenOut, "lime", []float64{0, 1, 2}, false},
	} {
		r, err := z.Rates(Request{Material: material(t, c.key), Aim: c.aim, Rule: ByZone, ByZone: c.rates})
		require.NoError(t, err)
		last := r.Notes[len(r.Notes)-1]
		assert.Equal(t, c.against, len(r.Notes) > 1, "%+v: %v", c, r.Notes)
		if c.against {
			assert.Contains(t, last, "run against the aim")
		}
	}
}

func TestRates_PlantProtectionOnlyByLabel(t *testing.T) {
	z := hectares(t)
	m := Material{Name: "Copper", Kind: PlantProtection, Unit: KgPerHa}
	q := Request{Material: m, Aim: EvenOut, Rule: ByFactor, Base: 2, Factor: []float64{0.5, 1, 2}}
	for _, label := range []*Label{nil, {}, {Most: 2}, {Least: 1}, {Least: 2, Most: 1}, {Least: math.NaN(), Most: 1}} {
		q.Material.Label = label
		_, err := z.Rates(q)
		require.ErrorIs(t, err, ErrLabel)
	}
	q.Material.Label = &Label{Least: 1.5, Most: 3}
	r, err := z.Rates(q)
	require.NoError(t, err)
	assert.Equal(t, []float64{1.5, 2, 3}, ratesOf(r))
	assert.Equal(t, "label minimum", r.Zones[0].Bound)
	assert.Contains(t, r.Cautions[1], "label")
	q.Rule, q.ByZone = ByZone, []float64{1.4, 2, 2}
	_, err = z.Rates(q)
	require.ErrorIs(t, err, ErrLabel)
	q.ByZone, q.Budget = []float64{1.5, 2, 2}, 4
	_, err = z.Rates(q)
	require.ErrorIs(t, err, ErrBudget)
	q.Budget, q.Cap = 0, 1
	_, err = z.Rates(q)
	require.ErrorIs(t, err, ErrOption)
	require.ErrorContains(t, err, "label minimum")
}

func TestRates_OddInput(t *testing.T) {
	z := hectares(t)
	n := material(t, "nitrogen")
	three := []float64{1, 1, 1}
	for name, c := range map[string]struct {
		q   Request
		why error
	}{
		"no rule":        {Request{Material: n}, ErrOption},
		"two rates":      {Request{Material: n, Rule: ByZone, ByZone: three[:2]}, ErrOption},
		"NaN":            {Request{Material: n, Rule: ByZone, ByZone: []float64{1, math.NaN(), 1}}, ErrNotFinite},
		"too large":      {Request{Material: n, Rule: ByFactor, Base: math.MaxFloat64, Factor: []float64{2, 2, 2}}, ErrNotFinite},
		"negative floor": {Request{Material: n, Rule: ByZone, ByZone: three, Floor: -1}, ErrOption},
		"floor over cap": {Request{Material: n, Rule: ByZone, ByZone: three, Floor: 3, Cap: 2}, ErrOption},
		"litres":         {Request{Material: n, Rule: ByZone, ByZone: three, Unit: LPerHa}, ErrUnit},
		"no unit":        {Request{Material: Material{Name: "x"}, Rule: ByZone, ByZone: three}, ErrUnit},
		"column":         {Request{Material: n, Rule: Need, Column: 1}, ErrOption},
		"crops":          {Request{Material: n, Rule: ByZone, ByZone: three, Nitrogen: NitrogenLimit{YieldTPerHa: []float64{1, 2}}}, ErrOption},
		"limit":          {Request{Material: n, Rule: ByZone, ByZone: three, Nitrogen: NitrogenLimit{Given: -1}}, ErrOption},
	} {
		c.q.Aim = EvenOut
		_, err := z.Rates(c.q)
		require.ErrorIs(t, err, c.why, name)
	}
	z.List[1].Known[0] = 0
	_, err := z.Rates(Request{Material: n, Aim: EvenOut, Rule: Need, Target: 1, PerUnit: 1})
	require.ErrorIs(t, err, ErrFewValues)
}

func TestCautions(t *testing.T) {
	for _, m := range append(Materials(), Material{Kind: PlantProtection}, Material{}) {
		c := Cautions(m)
		require.NotEmpty(t, c)
		assert.Contains(t, c[0], "licensed adviser")
	}
	assert.Contains(t, Cautions(material(t, "water"))[1], "total of the block")
	assert.Contains(t, Cautions(material(t, "nitrogen"))[1], "170 kg/ha")
}

// Whatever is asked: cap, floor, label and budget hold exactly, totals over zones
// are those over ground cells, and the budget is used up where it binds.
func TestProperty_Rates(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := anyScene(rt)
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		k := rapid.IntRange(1, 6).Draw(rt, "zones")
		z := zonesFrom(t, s, func(_, _ int) uint8 { return uint8(1 + rng.IntN(k)) })
		for i := range z.List {
			z.List[i].Number, z.List[i].Z = i+1, 3*rng.Float64()-1.5
		}
		rate := rapid.Float64Range(0, 200)
		unit := rapid.SampledFrom([]Unit{KgPerHa, TPerHa, KgPerM, GPerVine, LbPerAcre}).Draw(rt, "unit")
		q := Request{Aim: UseDifference, Rule: ByZone, Unit: unit, Material: Material{Name: "m", Unit: unit, NKgPerT: rapid.SampledFrom([]float64{0, 5, 1000}).Draw(rt, "n")},
			Floor: rapid.SampledFrom([]float64{0, 0, 10}).Draw(rt, "floor"), Cap: rapid.SampledFrom([]float64{0, 10, 90.1}).Draw(rt, "cap"),
			Saving: Saving(rapid.IntRange(0, 1).Draw(rt, "saving")), Nitrogen: NitrogenLimit{PerYear: rapid.SampledFrom([]float64{0, 50}).Draw(rt, "year")}}
		for range z.List {
			q.ByZone = append(q.ByZone, rate.Draw(rt, "rate"))
		}
		free, err := z.Rates(q)
		if err != nil {
			require.ErrorIs(rt, err, ErrOption)
			return
		}
		check := func(r *Rates) {
			var sum float64
			for i, m2 := range z.CellM2 {
				sum += r.Zones[z.Zone[i]-1].Rate * r.perHa * m2 / 1e4
			}
			require.InDelta(rt, sum, r.Total, 1e-6*sum+1e-12)
			for i, of := range r.Zones {
				require.GreaterOrEqual(rt, of.Rate, q.Floor)
				require.True(rt, q.Cap == 0 || of.Rate <= q.Cap)
				require.True(rt, of.Rate <= max(q.ByZone[i], q.Floor))
				require.True(rt, q.Nitrogen.PerYear == 0 || of.NKgPerHa <= q.Nitrogen.PerYear*(1+1e-12))
				require.True(rt, finite(of.Quantity) && finite(of.Cost))
			}
			require.True(rt, finite(r.Mean) && finite(r.Uniform.More))
		}
		check(free)
		q.Budget = free.Total * rapid.Float64Range(0.01, 1.2).Draw(rt, "budget")
		r, err := z.Rates(q)
		if err != nil {
			require.ErrorIs(rt, err, ErrBudget)
			return
		}
		check(r)
		require.True(rt, q.Budget == 0 || r.Total <= q.Budget, "%v of %v", r.Total, q.Budget)
		if q.Budget > 0 {
			require.InDelta(rt, min(free.Total, q.Budget), r.Total, 1e-9*free.Total, "no less than possible")
		}
	})
}
