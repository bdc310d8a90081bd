package renewal

import "fmt"

// explain says what the choice means, and what it needs at shoot thinning.
func (c *Choice) explain(arm Arm, s Settings) {
	switch {
	case c.Spur != nil:
		c.explainSpur(arm, s)
	case c.Cane != nil:
		c.Notes = append(c.Notes, "No usable spur: "+c.fromWhere(arm)+" is the cane, and next winter's spur and cane come from its lowest shoots.")
		c.FollowUps = append(c.FollowUps, FollowUp{Arm: c.Arm, Kind: KeepLow, Keep: []int{1, 2},
			Text: "At shoot thinning keep the two lowest well-placed shoots of the cane: they are next winter's spur and cane."})
	default:
		c.Notes = append(c.Notes, "Nothing on this arm can be a spur or a cane: leave the arm without, or cut it back to a water shoot.")
	}
	if c.Spur != nil && c.Cane == nil {
		c.Notes = append(c.Notes, "No shoot above the spur can be a cane: this arm carries a spur only.")
	}
	if c.Cane != nil && c.Cane.Verdict != Adequate {
		c.Notes = append(c.Notes, fmt.Sprintf("The best cane here is %s (%s).", c.Cane.Verdict, c.Cane.Why))
	}
}

func (c *Choice) explainSpur(arm Arm, s Settings) {
	c.Notes = append(c.Notes, fmt.Sprintf("Shoot %d: %s.", c.Spur.Shoot+1, c.Spur.Text()))
	if c.Spur.Drawback != "" {
		c.Notes = append(c.Notes, "Mind: "+c.Spur.Drawback+".")
	}
	if c.Spur.Way == LookFirst {
		c.Rule = s.rule()
	}
	if below := lowerShoots(arm, c.Spur.Shoot); len(below) > 0 {
		c.Notes = append(c.Notes, "A shoot below the spur comes off: leave its base, never cut it flush, for that cut would lie on the path of the sap.")
	}
	c.FollowUps = append(c.FollowUps, c.Spur.followUps(c.Arm)...)
	if !c.Spur.within(s) {
		c.Alarms = append(c.Alarms, Alarm{ClimbOver, fmt.Sprintf("The head climbs %.0f mm this winter, %.0f mm are the limit.", c.Spur.ClimbMM, s.ClimbLimitMM)})
	}
}

func (c *Choice) fromWhere(arm Arm) string {
	shoot := arm.Shoots[c.Cane.Shoot]
	if shoot.On == OnCane {
		return fmt.Sprintf("shoot %d, from the base of last year's cane,", c.Cane.Shoot+1)
	}
	return fmt.Sprintf("shoot %d", c.Cane.Shoot+1)
}

// remember says what last winter was to bring, and what of it is not there.
func (c *Choice) remember(arm Arm) {
	for _, e := range arm.Expect {
		c.Notes = append(c.Notes, "Last winter: "+e.Text)
		if e.Look != "" {
			c.Notes = append(c.Notes, "Look: "+e.Look+".")
		}
		if !e.Known || len(arm.Shoots) == 0 {
			continue
		}
		for _, want := range []struct {
			node int
			what string
		}{{e.NextSpur, "spur"}, {e.NextCane, "cane"}} {
			if !stands(arm, want.node) {
				c.Notes = append(c.Notes, fmt.Sprintf("The shoot meant for the %s (%s of last winter's spur) is not there, or not sound.", want.what, nodeWord(want.node)))
			}
		}
	}
}

func stands(arm Arm, node int) bool {
	for _, s := range arm.Shoots {
		if s.On == OnSpur && s.Node == node && s.Sound {
			return true
		}
	}
	return false
}

func nodeWord(node int) string {
	if node == 0 {
		return "base bud"
	}
	return fmt.Sprintf("node %d", node)
}

// lessClimb names, for an arm near the wire, the way that climbs less.
func (c *Choice) lessClimb() {
	if c.Spur == nil || len(c.Alarms) == 0 {
		return
	}
	for _, a := range c.Alternatives {
		if a.Shoot == c.Spur.Shoot && a.ClimbKnown && a.ClimbMM < c.Spur.ClimbMM {
			c.Notes = append(c.Notes, fmt.Sprintf("To climb less, %.0f in place of %.0f mm: %s. Mind: %s.", a.ClimbMM, c.Spur.ClimbMM, a.Text, a.Drawback))
			return
		}
	}
}

// wire warns of an arm that comes close to the fruiting wire, with this winter's
// climb.
func (c *Choice) wire(arm Arm, s Settings) {
	if arm.BelowWireMM == nil {
		return
	}
	left := *arm.BelowWireMM
	if c.Spur != nil {
		left -= c.Spur.ClimbMM
	}
	switch {
	case left < 0:
		c.Alarms = append(c.Alarms, Alarm{AboveWire, fmt.Sprintf("The end of the arm comes to lie %.0f mm above the fruiting wire: rebuild it from a low shoot.", -left)})
	case left < s.WireMarginMM:
		c.Alarms = append(c.Alarms, Alarm{NearWire, fmt.Sprintf("The end of the arm comes to lie %.0f mm below the fruiting wire, closer than %.0f mm: keep a low shoot to rebuild it.", left, s.WireMarginMM)})
	}
}

// rebuild keeps the lowest sound water shoot where the arm is too high or has no
// spur.
func (c *Choice) rebuild(arm Arm, s Settings) {
	needed := c.Spur == nil
	for _, a := range c.Alarms {
		needed = needed || a.Kind == NearWire || a.Kind == AboveWire
	}
	if !needed {
		return
	}
	best := -1
	for i, x := range arm.Shoots {
		usable := x.oldWood() && x.Sound && (x.DiameterMM == 0 || x.DiameterMM >= s.SpurLeastMM)
		if usable && (best < 0 || lower(x, arm.Shoots[best]) < 0) {
			best = i
		}
	}
	if best < 0 {
		c.FollowUps = append(c.FollowUps, FollowUp{Arm: c.Arm, Kind: KeepWater,
			Text: "At suckering leave one well-placed water shoot low on the arm or at the head: it is to rebuild the arm."})
		return
	}
	spur := Spur{Shoot: best, Way: TwoNodes, Faces: arm.Shoots[best].Faces, Nodes: 2, NextSpur: 1, NextCane: 2,
		ClimbMM: arm.Shoots[best].OutMM, ClimbKnown: true,
		Drawback: "little or no fruit in its first summer; from below the graft union it would be rootstock"}
	c.Rebuild = &spur
	c.Notes = append(c.Notes, fmt.Sprintf("Shoot %d, a water shoot: leave 2 nodes beside the rest, to rebuild the arm over the next winters. Never take one from below the graft union.", best+1))
	c.FollowUps = append(c.FollowUps, FollowUp{Arm: c.Arm, Kind: KeepWater, Keep: []int{1, 2},
		Text: "At suckering leave the shoots of the low spur that is to rebuild the arm, and tie the better one up."})
}
