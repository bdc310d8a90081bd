package renewal

import (
	"fmt"
	"maps"
	"slices"

	"courson/geo/vine"
)

// FindingKind is a rule that a recorded winter broke.
type FindingKind string

// Findings.
const (
	PathCut    FindingKind = "cut on the path of the sap"
	ClimbedFar FindingKind = "climbed over the limit"
	Inverted   FindingKind = "inverted spur left as it is"
	NoSpur     FindingKind = "no spur left"
	NoCane     FindingKind = "no cane left"
)

// Finding is one broken rule.
type Finding struct {
	Season int
	Arm    string
	Kind   FindingKind
	Text   string
}

// Review goes through the recorded winters and finds those that broke the rules:
// a cut that breaks the path of the sap, a climb over the limit, an inverted spur
// of two nodes, which no shoot thinning can make right, an arm without a spur, and
// a winter without a cane on any arm of a vine that carried canes in another. A
// vine cut back, with no arm recorded, breaks none of them.
func Review(winters map[int]vine.Pruned, settings Settings) ([]Finding, error) {
	s, err := settings.filled()
	if err != nil {
		return nil, err
	}
	caned := false
	for _, p := range winters {
		_, canes, _, _ := p.Totals()
		caned = caned || canes > 0
	}
	var out []Finding
	for _, season := range slices.Sorted(maps.Keys(winters)) {
		p := winters[season]
		for _, a := range p.Arms {
			out = append(out, s.reviewArm(season, a)...)
		}
		if _, canes, _, ok := p.Totals(); ok && caned && canes == 0 && len(p.Arms) > 0 {
			out = append(out, Finding{season, "", NoCane, "No arm carries a cane."})
		}
	}
	return out, nil
}

func (s Settings) reviewArm(season int, a vine.Arm) (out []Finding) {
	found := func(kind FindingKind, format string, args ...any) {
		out = append(out, Finding{season, a.Name, kind, fmt.Sprintf(format, args...)})
	}
	for _, c := range a.LargeCuts {
		if p, _ := s.path([]MadeCut{{season, Face(c.Face), c.DiameterMM}}); p == Broken {
			found(PathCut, "A large cut on the %s face breaks the path of the sap.", c.Face)
		}
	}
	if a.ClimbMM > s.ClimbLimitMM {
		found(ClimbedFar, "The head climbed %.0f mm, %.0f mm are the limit.", a.ClimbMM, s.ClimbLimitMM)
	}
	for _, p := range a.Spurs {
		if Facing(p.FirstBudFaces) == Above && p.Nodes == 2 {
			found(Inverted, "The first bud of a spur of 2 nodes is on top: next winter nothing stands above the lower shoot.")
		}
	}
	if len(a.Spurs) == 0 && !isHead(a.Name) {
		found(NoSpur, "No spur was left on this arm.")
	}
	return out
}
