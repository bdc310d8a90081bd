package rate

import (
	"fmt"
	"math"
)

// Aim is what rates are for. There is no default: the aims ask for opposite
// rates.
type Aim uint8

// The aims.
const (
	EvenOut       Aim = 1 + iota // bring weak and strong zones together
	UseDifference                // keep them apart, as for picking apart
)

// String gives the words.
func (a Aim) String() string {
	return [...]string{"not chosen", "even out", "use the difference"}[min(int(a), 2)]
}

// Rule is how the rate of a zone is found. There is no default.
type Rule uint8

// The rules.
const (
	ByZone   Rule = 1 + iota // ByZone[k]
	ByFactor                 // Base x Factor[k]
	Linear                   // Base + Slope x z, z the zone's mean in standard deviations
	Need                     // PerUnit x (Target - mean of Column), 0 where the mean is above
)

// Saving is how rates are cut to a budget.
type Saving uint8

// The ways.
const (
	Scaled   Saving = iota // all in proportion
	Levelled               // the highest first, down to one level
)

// Request says what rates are wanted. Rates are in Unit.
type Request struct {
	Material Material
	Aim      Aim
	Rule     Rule
	Unit     Unit // empty: the material's

	ByZone  []float64
	Base    float64
	Factor  []float64
	Slope   float64
	Target  float64
	PerUnit float64
	Column  int

	Floor, Cap float64 // of every zone; Cap 0: none
	// Budget is the most for the block, kg, l or pieces; 0: none.
	Budget   float64
	Saving   Saving
	Nitrogen NitrogenLimit
	Uniform  float64 // the rate to compare with; 0: the mean of the plan
}

// ZoneRate is the rate of one zone.
type ZoneRate struct {
	Zone     int     `json:"zone"`
	AreaM2   float64 `json:"area_m2"`
	Asked    float64 `json:"asked"` // by the rule alone
	Rate     float64 `json:"rate"`
	Bound    string  `json:"bound"`    // what bound it; empty: nothing
	Quantity float64 `json:"quantity"` // kg, l or pieces
	Cost     float64 `json:"cost"`
	NKgPerHa float64 `json:"n_kg_per_ha"`
}

// Rates are the rates of a block.
type Rates struct {
	Material Material
	Aim      Aim
	Unit     Unit
	Spacing  Spacing
	Zones    []ZoneRate
	AreaM2   float64
	Mean     float64 // of all ground, in Unit
	Total    float64 // kg, l or pieces
	Measure  string  // unit of totals
	Cost     float64
	Uniform  Same
	Budget   float64
	Cautions []string
	Notes    []string
	perHa    float64 // kg, l or pieces per ha in one Unit
}

// Same is what the same rate everywhere takes.
type Same struct {
	Rate     float64 `json:"rate"`
	Total    float64 `json:"total"`
	Cost     float64 `json:"cost"`
	More     float64 `json:"more"` // total of the plan less this
	MoreCost float64 `json:"more_cost"`
}

// Rates works out the rate of every zone: asked by the rule, then held to floor
// and cap, limits of the material, label, nitrogen, and budget, in this order.
// Errors: ErrAim, ErrOption, ErrUnit, ErrLabel, ErrBudget, ErrNotFinite.
func (z *Zones) Rates(q Request) (*Rates, error) {
	p, err := z.prepare(q)
	if err != nil {
		return nil, err
	}
	for k := range z.List {
		if err := p.ask(z, k); err != nil {
			return nil, err
		}
	}
	if err := p.save(); err != nil {
		return nil, err
	}
	return p.finish(), nil
}

// planner holds what Rates works with.
type planner struct {
	q      Request
	out    *Rates
	limits []limit
}

// limit is the least and most of a zone, and why.
type limit struct {
	least, most       float64
	leastWhy, mostWhy string
}

func (l *limit) raise(v float64, why string) {
	if v > l.least {
		l.least, l.leastWhy = v, why
	}
}

func (l *limit) lower(v float64, why string) {
	if v < l.most {
		l.most, l.mostWhy = v, why
	}
}

func (z *Zones) prepare(q Request) (*planner, error) {
	if q.Unit == "" {
		q.Unit = q.Material.Unit
	}
	s := Spacing{z.lie.rowM, z.lie.vineM}
	perHa, err := q.Unit.PerHectare(s)
	if err != nil {
		return nil, err
	}
	if q.Unit.Quantity() != q.Material.Unit.Quantity() {
		return nil, refuse(ErrUnit, "%s is measured in %s, the rate in %s: choose a unit of the same kind", q.Material.Name, q.Material.Unit, q.Unit)
	}
	if err := q.check(len(z.List)); err != nil {
		return nil, err
	}
	p := &planner{q: q, out: &Rates{Material: q.Material, Aim: q.Aim, Unit: q.Unit, Spacing: s, Measure: q.Unit.Quantity().String(), Budget: q.Budget,
		Cautions: Cautions(q.Material), perHa: perHa}}
	if q.Rule == Need && (q.Column < 0 || q.Column >= len(z.Scale)) {
		return nil, refuse(ErrOption, "column %d of %d: the need is worked out from one of the columns of the zones", q.Column, len(z.Scale))
	}
	return p, nil
}

func (q *Request) check(zones int) error {
	if q.Aim != EvenOut && q.Aim != UseDifference {
		return refuse(ErrAim, "choose the aim: even out the block, or use the difference; they ask for opposite rates")
	}
	all := []float64{q.Base, q.Slope, q.Target, q.PerUnit, q.Floor, q.Cap, q.Budget, q.Uniform, q.Material.Least, q.Material.Most, q.Material.NKgPerT, q.Material.Price}
	for _, v := range append(append(all, q.ByZone...), q.Factor...) {
		if !finite(v) {
			return refuse(ErrNotFinite, "a rate, limit or price is not a number")
		}
	}
	m := &q.Material
	if q.Floor < 0 || q.Cap < 0 || q.Budget < 0 || q.Uniform < 0 || m.Least < 0 || m.Most < 0 || m.Price < 0 || m.NKgPerT < 0 {
		return refuse(ErrOption, "floor %g, cap %g, budget %g, uniform rate %g, limits %g to %g, price %g, nitrogen %g: none may be below 0", q.Floor, q.Cap, q.Budget, q.Uniform, m.Least, m.Most, m.Price, m.NKgPerT)
	}
	switch given := map[Rule]int{ByZone: len(q.ByZone), ByFactor: len(q.Factor), Linear: zones, Need: zones}; {
	case q.Rule < ByZone || q.Rule > Need:
		return refuse(ErrOption, "choose how rates are found: by zone, by factor, linear or by need")
	case given[q.Rule] != zones:
		return refuse(ErrOption, "%d rates or factors for %s: give one for each", given[q.Rule], zoneCount(zones))
	}
	if err := q.checkLabel(); err != nil {
		return err
	}
	return q.Nitrogen.check(zones)
}

// checkLabel wants a label with plant protection, and rates asked zone by zone
// that keep to it.
func (q *Request) checkLabel() error {
	l := q.Material.Label
	if q.Material.Kind != PlantProtection && l == nil {
		return nil
	}
	if l == nil || !(l.Least > 0) || !(l.Most >= l.Least) || !finite(l.Most) {
		return refuse(ErrLabel, "%s is a plant-protection product: enter the least and the most that its label allows before a rate is worked out", q.Material.Name)
	}
	return nil
}

// ask finds what the rule asks for zone k and holds it to the limits.
func (p *planner) ask(z *Zones, k int) error {
	q, of := &p.q, &z.List[k]
	r := ZoneRate{Zone: of.Number, AreaM2: of.AreaM2}
	switch q.Rule {
	case ByZone:
		r.Asked = q.ByZone[k]
	case ByFactor:
		r.Asked = q.Base * q.Factor[k]
	case Linear:
		r.Asked = q.Base + q.Slope*of.Z
	case Need:
		if of.Known[q.Column] == 0 {
			return refuse(ErrFewValues, "zone %d has no value of %q: its need is not known", of.Number, z.Scale[q.Column].Name)
		}
		r.Asked = q.PerUnit * max(0, q.Target-of.Means[q.Column])
	}
	if !finite(r.Asked) {
		return refuse(ErrNotFinite, "the rate of zone %d is not a number", of.Number)
	}
	l, err := p.limitOf(k)
	if err != nil {
		return err
	}
	if q.Rule == ByZone && q.Material.Label != nil && (r.Asked < l.least || r.Asked > l.most) {
		return refuse(ErrLabel, "zone %d: %g %s asked for; the label and your limits allow %g to %g", of.Number, r.Asked, q.Unit, l.least, l.most)
	}
	switch r.Rate = r.Asked; {
	case r.Rate > l.most:
		r.Rate, r.Bound = l.most, l.mostWhy
	case r.Rate < l.least:
		r.Rate, r.Bound = l.least, l.leastWhy
	}
	p.limits = append(p.limits, l)
	p.out.Zones = append(p.out.Zones, r)
	return nil
}

func (p *planner) limitOf(k int) (limit, error) {
	q, m := &p.q, &p.q.Material
	l := limit{least: 0, leastWhy: "not below 0", most: math.Inf(1)}
	material, _ := m.Unit.PerHectare(p.out.Spacing)
	own := func(v float64) float64 { return v * material / p.out.perHa } // from the material's unit
	if m.Unit == q.Unit {
		own = func(v float64) float64 { return v }
	}
	l.raise(q.Floor, "floor")
	l.raise(own(m.Least), "least of the material")
	if q.Cap > 0 {
		l.lower(q.Cap, "cap")
	}
	if m.Most > 0 {
		l.lower(own(m.Most), "most of the material")
	}
	if m.Label != nil {
		l.raise(own(m.Label.Least), "label minimum")
		l.lower(own(m.Label.Most), "label maximum")
	}
	if kg, why, ok := q.Nitrogen.of(k); ok && m.NKgPerT > 0 {
		l.lower(kg*1000/m.NKgPerT/p.out.perHa, why)
	}
	if l.least > l.most {
		return l, refuse(ErrOption, "zone %d: the %s of %g %s lies above the %s of %g", k+1, l.leastWhy, l.least, q.Unit, l.mostWhy, l.most)
	}
	return l, nil
}

// finish adds totals, cost, the comparison and notes.
func (p *planner) finish() *Rates {
	r := p.out
	for k := range r.Zones {
		of := &r.Zones[k]
		of.Quantity = p.quantity(k, of.Rate)
		of.Cost = of.Quantity * r.Material.Price
		of.NKgPerHa = of.Rate * r.perHa / 1000 * r.Material.NKgPerT
		r.AreaM2 += of.AreaM2
		r.Cost += of.Cost
	}
	r.Total = p.total(func(k int) float64 { return r.Zones[k].Rate })
	if r.AreaM2 > 0 {
		r.Mean = r.Total / r.perHa / (r.AreaM2 / 1e4)
	}
	r.Uniform.Rate = p.q.Uniform
	if p.q.Uniform == 0 {
		r.Uniform.Rate = r.Mean
	}
	r.Uniform.Total = r.Uniform.Rate * r.perHa * r.AreaM2 / 1e4
	r.Uniform.Cost = r.Uniform.Total * r.Material.Price
	r.Uniform.More, r.Uniform.MoreCost = r.Total-r.Uniform.Total, r.Cost-r.Uniform.Cost
	p.say()
	return r
}

func (p *planner) quantity(k int, rate float64) float64 {
	return rate * p.out.perHa * p.out.Zones[k].AreaM2 / 1e4
}

func (p *planner) total(rate func(k int) float64) (sum float64) {
	for k := range p.out.Zones {
		sum += p.quantity(k, rate(k))
	}
	return sum
}

// say notes what a reader of the rates should know.
func (p *planner) say() {
	r := p.out
	say := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	say("Aim: %s.", r.Aim)
	for _, z := range r.Zones {
		if z.Bound != "" {
			say("Zone %d: %.4g %s asked for, %.4g given: %s.", z.Zone, z.Asked, r.Unit, z.Rate, z.Bound)
		}
	}
	p.checkAim(say)
	n := p.q.Nitrogen
	if (len(n.YieldTPerHa) > 0 || n.PerYear > 0) && r.Material.NKgPerT == 0 {
		say("The nitrogen limit was not applied: how much nitrogen %s holds is not entered.", r.Material.Name)
	}
}

// checkAim warns where rates run against the aim.
func (p *planner) checkAim(say func(string, ...any)) {
	r := p.out
	if len(r.Zones) < 2 || r.Material.Weak == 0 {
		return
	}
	weak, strong := r.Zones[0].Rate, r.Zones[len(r.Zones)-1].Rate
	towards := float64(r.Material.Weak) * (weak - strong) // above 0: evens out
	if r.Aim == EvenOut && towards < 0 || r.Aim == UseDifference && towards > 0 {
		say("These rates run against the aim %q: %.4g %s in the weakest zone, %.4g in the strongest.", r.Aim, weak, r.Unit, strong)
	}
}
