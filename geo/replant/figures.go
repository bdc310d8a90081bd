package replant

import "fmt"

// Figure is a default setting with where it is from. Those of money are in
// Money.Fields.
type Figure struct {
	Part   string `json:"part"` // find, rules, limits, life, order or count
	Key    string `json:"key"`
	Value  string `json:"value"`
	Source string `json:"source"`
}

// Figures lists the defaults of all settings but money, for people to see and set.
func Figures() (out []Figure) {
	part := ""
	add := func(key string, value any, source string) {
		out = append(out, Figure{part, key, fmt.Sprint(value), source})
	}
	part = "find"
	f := DefaultFindSettings()
	add("dead_sightings", f.DeadDays, srcPractice+": a second look, as buds break late after a dry winter")
	add("dead_days_apart", f.DaysApart, srcOurs)
	add("look_again_days", f.LookAgainDays, srcOurs)
	add("conflict_days", f.ConflictDays, srcOurs+": one winter")
	add("sure_error_m", f.SureErrorM, srcOurs+": a satellite receiver with a fixed solution claims a few centimetres")
	add("suspect_from", f.SuspectFrom, srcOurs+"; of a canopy index 0.5 is 3.5 deviations below the places beside it: Iglewicz and Hoaglin, 1993, from memory")
	add("canopy_below", f.CanopyBelow, srcOurs)
	part = "rules"
	r := DefaultRules()
	add("weak_winters", r.WeakWinters, srcOurs)
	add("weak_class", r.WeakClass, srcOurs)
	add("weak_from_leaf", r.WeakFromLeaf, srcPractice)
	add("test_along", r.Along, srcOurs+"; that neighbours are looked at: leafroll fact sheets 9 and 11, igws.co.za")
	add("test_across", r.Across, srcOurs+"; that neighbours are looked at: leafroll fact sheets 9 and 11, igws.co.za")
	add("sick", "see each kind", "see each kind")
	part = "limits"
	l := DefaultLimits()
	add("normal_yearly", l.NormalYearly, srcNormal)
	add("too_many_yearly", l.TooManyYearly, srcCost)
	add("too_many", l.TooMany, srcNormal)
	add("leafroll", l.Leafroll, srcLeafroll)
	add("red_blotch", l.RedBlotch, srcRedBlotch)
	add("appellation", l.Appellation, srcNormal+" (now often 20 %); "+srcRule2005+" (25 %)")
	add("permitted_hl_ha", l.PermittedHlHa, "the appellation's text in force")
	part = "life"
	v := DefaultLife()
	add("pull_season", v.PullSeason, "the owner")
	add("leaves", v.Leaves, srcPractice)
	add("ask_from_leaf", v.AskFromLeaf, srcCost)
	add("last_leaf", v.LastLeaf, srcCharente)
	add("least_years", v.LeastYears, srcCharente)
	part = "order"
	o := DefaultOrderSettings()
	add("survival", o.Survival, srcSurvival)
	add("block_survival", o.BlockSurvival, srcMemory)
	add("spare", o.Spare, srcOurs)
	add("stakes_per_plant", o.Stakes, srcPractice)
	add("guards_per_plant", o.Guards, srcPractice)
	add("drippers_per_plant", o.Drippers, srcPractice)
	add("lead_months", o.LeadMonths, srcNursery+": 14 to 18 months")
	add("potted_lead_months", o.PottedLeadMonths, srcMemory)
	add("warn_days", o.WarnDays, srcOurs)
	part = "count"
	add("allowance", DefaultAllowance, srcCount)
	return out
}
