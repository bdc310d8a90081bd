package renewal

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Arm is what stands on one arm before it is pruned.
type Arm struct {
	Name   string // as recorded: "left", "right", "head" or the system's own name
	Shoots []Shoot
	// BelowWireMM is how far the end of the arm lies below the fruiting wire;
	// less than 0 above it, nil not measured.
	BelowWireMM *float64
	// Expect is what the record leads one to expect here (ArmHistory.Expect). It
	// is shown with the choice and compared with what stands there.
	Expect []Expected
}

// Choice is what to keep on one arm.
type Choice struct {
	Arm          string
	Spur         *Spur // nil: no shoot can be a spur
	Cane         *Cane // the best candidate; nil: none. WhichArm says which arms keep theirs
	Rebuild      *Spur // a water shoot kept low, to take the arm's place; nil: none needed or none there
	FollowUps    []FollowUp
	Alternatives []Alternative
	Unusable     []Unusable // shoots that cannot be a spur
	Alarms       []Alarm
	Notes        []string // in plain words
	Rule         []string // the rule for the pruner, where the shoots were not looked at
}

// Cane is the candidate for the cane of an arm.
type Cane struct {
	Shoot      int // index in Arm.Shoots
	Verdict    Verdict
	DiameterMM float64 // 0 not measured
	Why        string
}

// Alternative is another way to cut, with its drawback.
type Alternative struct {
	Spur
	Text     string
	Drawback string
}

// Unusable is a shoot that cannot be a spur, and why.
type Unusable struct {
	Shoot  int // index in Arm.Shoots
	Reason string
}

// AlarmKind is what is wrong with an arm.
type AlarmKind string

// Alarms.
const (
	ClimbOver AlarmKind = "climb over the limit"
	NearWire  AlarmKind = "near the fruiting wire"
	AboveWire AlarmKind = "above the fruiting wire"
)

// Alarm is a warning about an arm.
type Alarm struct {
	Kind AlarmKind
	Text string
}

// Choose gives the spur and the cane to keep on an arm, what that needs at shoot
// thinning, and what else could be done. Without shoots, or where nobody looked
// which way their buds face, it gives the rule.
//
// Of all pairs of a spur and a cane farther out on the arm it takes, in this
// order: a spur within the climb limit; the better cane; the lower shoot for the
// spur; the way that the rule prefers for that shoot; a measured climb before one
// that is not; the smaller climb; a cane from last winter's spur before one from
// last winter's cane, and the one nearer the trunk.
func Choose(arm Arm, settings Settings) (Choice, error) {
	s, err := settings.filled()
	if err != nil {
		return Choice{}, err
	}
	for i, shoot := range arm.Shoots {
		if err := shoot.check(); err != nil {
			return Choice{}, fmt.Errorf("arm %q, shoot %d: %w", arm.Name, i+1, err)
		}
	}
	if w := arm.BelowWireMM; w != nil && (math.IsNaN(*w) || math.Abs(*w) > farOutMM) {
		return Choice{}, fmt.Errorf("arm %q: %w: its end lies %g mm below the wire", arm.Name, ErrShoot, *w)
	}
	c := Choice{Arm: arm.Name}
	c.remember(arm)
	if len(arm.Shoots) == 0 {
		c.Rule = s.rule()
		c.wire(arm, s)
		return c, nil
	}
	spurs, refused := c.spurs(arm, s)
	c.pick(arm, spurs, s)
	c.explain(arm, s)
	c.alternatives(spurs, refused)
	c.wire(arm, s)
	c.lessClimb()
	c.rebuild(arm, s)
	return c, nil
}

// spurs gives every way to make a spur on the arm, and notes shoots that cannot
// be one. Water shoots are for rebuilding only.
func (c *Choice) spurs(arm Arm, s Settings) (spurs, refused []Spur) {
	for i, shoot := range arm.Shoots {
		switch {
		case !shoot.Sound:
			c.Unusable = append(c.Unusable, Unusable{i, "dead, unripe or diseased"})
		case shoot.DiameterMM > 0 && shoot.DiameterMM < s.SpurLeastMM:
			c.Unusable = append(c.Unusable, Unusable{i, fmt.Sprintf("%g mm thick, under %g mm", shoot.DiameterMM, s.SpurLeastMM)})
		case shoot.oldWood():
			c.Unusable = append(c.Unusable, Unusable{i, "a water shoot from old wood: little fruit, good only to rebuild the arm"})
		default:
			allowed, not := s.ways(i, shoot)
			if len(allowed) == 0 {
				c.Unusable = append(c.Unusable, Unusable{i, "first bud on top, second bud too far out, base bud not sound"})
			}
			spurs, refused = append(spurs, allowed...), append(refused, not...)
		}
	}
	return spurs, refused
}

// pick sets the best pair of spur and cane.
func (c *Choice) pick(arm Arm, spurs []Spur, s Settings) {
	var best []float64
	try := func(p *Spur, cane int) {
		r := rank(arm, p, cane, s)
		if best != nil && slices.Compare(r, best) >= 0 {
			return
		}
		best, c.Spur, c.Cane = r, nil, nil
		if p != nil {
			spur := *p
			c.Spur = &spur
		}
		if cane >= 0 {
			shoot := arm.Shoots[cane]
			v, why := s.judge(shoot.DiameterMM, shoot.Sound)
			c.Cane = &Cane{cane, v, shoot.DiameterMM, why}
		}
	}
	for k := range spurs {
		try(&spurs[k], -1)
		for i, shoot := range arm.Shoots {
			if i != spurs[k].Shoot && shoot.Sound && !shoot.oldWood() && lower(arm.Shoots[spurs[k].Shoot], shoot) < 0 {
				try(&spurs[k], i)
			}
		}
	}
	if len(spurs) > 0 {
		return
	}
	try(nil, -1)
	for i, shoot := range arm.Shoots {
		if shoot.Sound && !shoot.oldWood() {
			try(nil, i)
		}
	}
}

// rank orders pairs of a spur and a cane; smaller is better. See Choose.
func rank(arm Arm, p *Spur, cane int, s Settings) []float64 {
	r := make([]float64, 0, 12)
	over, below, way, unknown, climb := 0.0, 0.0, 0.0, 0.0, 0.0
	if p != nil {
		for i, x := range arm.Shoots {
			if i != p.Shoot && lower(x, arm.Shoots[p.Shoot]) < 0 {
				below++
			}
		}
		over, unknown = flag(!p.within(s)), flag(!p.ClimbKnown)
		way, climb = p.Way.order(), p.ClimbMM
	}
	quality, place, out, index := 4.0, 0.0, 0.0, 0.0
	if cane >= 0 {
		shoot := arm.Shoots[cane]
		v, _ := s.judge(shoot.DiameterMM, shoot.Sound)
		quality, out, index = float64(v.worse()), shoot.OutMM, float64(cane)
		place = flag(shoot.On == OnCane)
		if p == nil {
			place = 1 - place // without a spur the base of last year's cane comes first
		}
	}
	return append(r, over, quality, flag(way == LookFirst.order()), below, way, unknown, climb, place, out, nodeOf(arm, cane), index)
}

func nodeOf(arm Arm, i int) float64 {
	if i < 0 {
		return 0
	}
	return float64(arm.Shoots[i].Node)
}

func flag(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// lowerShoots gives the shoots of the arm that stand lower than the spur's.
func lowerShoots(arm Arm, spur int) (out []int) {
	for i, x := range arm.Shoots {
		if i != spur && !x.oldWood() && lower(x, arm.Shoots[spur]) < 0 {
			out = append(out, i)
		}
	}
	return out
}

// alternatives lists every other way, first those of the chosen shoot.
func (c *Choice) alternatives(spurs, refused []Spur) {
	chosen := -1
	if c.Spur != nil {
		chosen = c.Spur.Shoot
	}
	for _, p := range append(slices.Clone(spurs), refused...) {
		if c.Spur != nil && p == *c.Spur {
			continue
		}
		a := Alternative{Spur: p, Text: p.Text(), Drawback: p.Drawback}
		if p.Shoot != chosen && chosen >= 0 {
			a.Text = fmt.Sprintf("shoot %d instead: %s", p.Shoot+1, p.Text())
			a.Drawback = cmp.Or(a.Drawback, "not the best pair of spur and cane")
		}
		c.Alternatives = append(c.Alternatives, a)
	}
	slices.SortStableFunc(c.Alternatives, func(a, b Alternative) int {
		return cmp.Or(cmp.Compare(flag(a.Shoot != chosen), flag(b.Shoot != chosen)), cmp.Compare(a.Shoot, b.Shoot))
	})
}
