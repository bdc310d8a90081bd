package work

import (
	"fmt"
	"slices"

	"courson/geo/rate"
)

// rule is rate.Rule with its words.
type rule rate.Rule

func (r rule) String() string {
	return [...]string{"", "by zone", "by factor", "linear", "need"}[min(int(r), 4)]
}

type saving rate.Saving

func (s saving) String() string { return [...]string{"scaled", "levelled"}[min(int(s), 1)] }

// request brings what somebody wrote into the form of package rate.
func (q *RateRequest) request() (rate.Request, error) {
	out := rate.Request{Unit: rate.Unit(q.Unit), ByZone: q.ByZone, Base: q.Base, Factor: q.Factor, Slope: q.Slope, Target: q.Target, PerUnit: q.PerUnit,
		Column: q.Column, Floor: q.Floor, Cap: q.Cap, Budget: q.Budget, Uniform: q.Uniform,
		Nitrogen: rate.NitrogenLimit{YieldTPerHa: q.Nitrogen.YieldTPerHa, PerTonne: q.Nitrogen.PerTonne, PerYear: q.Nitrogen.PerYear, Given: q.Nitrogen.Given}}
	var err error
	if out.Material, err = q.material(); err != nil {
		return out, err
	}
	if q.Aim == "" {
		return out, fmt.Errorf("%w: rates.aim: choose \"even out\" or \"use the difference\": the two ask for opposite rates", ErrRates)
	}
	if out.Aim, err = word("rates.aim", q.Aim, rate.EvenOut, rate.UseDifference); err != nil {
		return out, err
	}
	r, err := word("rates.rule", q.Rule, rule(rate.ByZone), rule(rate.ByFactor), rule(rate.Linear), rule(rate.Need))
	if err != nil {
		return out, err
	}
	out.Rule = rate.Rule(r)
	if q.Saving != "" {
		s, err := word("rates.saving", q.Saving, saving(rate.Scaled), saving(rate.Levelled))
		if err != nil {
			return out, err
		}
		out.Saving = rate.Saving(s)
	}
	return out, nil
}

// material finds it in the list, or takes the one that was written out. Price and
// analysis of the request go before those of the list.
func (q *RateRequest) material() (rate.Material, error) {
	m, err := q.listed()
	if err != nil {
		return m, err
	}
	if q.Price > 0 {
		m.Price = q.Price
	}
	if q.Nitrogen.NKgPerT > 0 {
		m.NKgPerT = q.Nitrogen.NKgPerT
	}
	return m, nil
}

func (q *RateRequest) listed() (rate.Material, error) {
	if q.Material == "own" && q.Own != nil {
		return q.Own.material()
	}
	list := rate.Materials()
	k := slices.IndexFunc(list, func(m rate.Material) bool { return m.Key == q.Material })
	if k < 0 {
		var keys []string
		for _, m := range list {
			keys = append(keys, m.Key)
		}
		return rate.Material{}, fmt.Errorf("%w: rates.material: found %q, wanted one of %v, or own with its description", ErrRates, q.Material, keys)
	}
	return list[k], nil
}

func (o *OwnMaterial) material() (rate.Material, error) {
	kinds := []rate.Kind{rate.Other, rate.Nitrogen, rate.Compost, rate.Mulch, rate.Lime, rate.Water, rate.Seed, rate.Shoots, rate.PlantProtection}
	kind, err := word("rates.own.kind", o.Kind, kinds...)
	if err != nil {
		return rate.Material{}, err
	}
	m := rate.Material{Key: "own", Name: o.Name, Kind: kind, Unit: rate.Unit(o.Unit), Least: o.Least, Most: o.Most, NKgPerT: o.NKgPerT, NShare: o.NShare, Weak: o.Weak}
	if o.Name == "" {
		return m, fmt.Errorf("%w: rates.own.name: a material wants a name", ErrRates)
	}
	if o.Product != "" || o.LabelMost != 0 || o.LabelLeast != 0 {
		m.Label = &rate.Label{Product: o.Product, Least: o.LabelLeast, Most: o.LabelMost}
	}
	return m, nil
}
