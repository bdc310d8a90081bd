package renewal

import (
	"fmt"
	"math"
)

// Face is the side of an arm a cut falls on, in the words of the record.
type Face string

// Faces.
const (
	Upper    Face = "upper"
	Lower    Face = "lower"
	SideFace Face = "side"
	NotNoted Face = ""
)

// Wound is a cut that is about to be made.
type Wound struct {
	Face       Face
	DiameterMM float64 // 0 not measured
	WoodYears  int     // age of the wood cut into: 1 last summer's; 0 not known
	OnPath     bool    // it lies between the trunk and the wood that is kept
}

// Advice is how to make a cut.
type Advice struct {
	StubMM   float64 // spare wood to leave
	Large    bool    // to be recorded, and treated first
	Warnings []string
	Cautions []string // for a large wound: WoundCare
	// Guidance says what the length of the stub rests on.
	Guidance string
}

// CutAdvice gives the spare wood to leave at a cut, the greater of the least stub
// and the stub factor times the diameter of the wound, whether the wound is large,
// and what is wrong with where it lies. A wound is large from the set diameter on,
// or into wood of more than two years (common practice).
//
// The length is a rule of the trade, for k = 1 reported and questioned in Part 1:
// Is there a correlation between the diameter of the pruning wound and the length
// of the desiccation cone?, IVES Technical Reviews 8418. Trials found no useful
// link to the diameter (OENO One 8101; P. Faúndez-López et al., Vitis 60, 2021),
// but to the distance from the node.
func CutAdvice(w Wound, settings Settings) (Advice, error) {
	s, err := settings.filled()
	if err != nil {
		return Advice{}, err
	}
	if math.IsNaN(w.DiameterMM) || w.DiameterMM < 0 || w.DiameterMM > 300 || w.WoodYears < 0 || w.WoodYears > 200 {
		return Advice{}, fmt.Errorf("%w: %g mm into wood of %d years", ErrWound, w.DiameterMM, w.WoodYears)
	}
	if w.Face != NotNoted && w.Face != Upper && w.Face != Lower && w.Face != SideFace {
		return Advice{}, fmt.Errorf("%w: face %q (upper, lower or side)", ErrWound, w.Face)
	}
	a := Advice{
		StubMM:   max(s.StubLeastMM, s.StubFactor*w.DiameterMM),
		Large:    w.DiameterMM >= s.LargeWoundMM || w.WoodYears > 2,
		Guidance: "Guidance of the trade, not science: spare wood lets the dead wood end before the path of the sap; cut above a node, and take the dry stub off the winter after.",
	}
	switch {
	case w.Face == Lower:
		a.Warnings = append(a.Warnings, "The cut lies on the lower face, where the path of the sap runs: cut above instead, or leave this wood.")
	case w.Face == SideFace && w.DiameterMM >= s.SideBreaksMM:
		a.Warnings = append(a.Warnings, fmt.Sprintf("A cut of %g mm on the side reaches the path of the sap on the lower face.", w.DiameterMM))
	case w.Face == SideFace && a.Large:
		a.Warnings = append(a.Warnings, "A large cut on the side narrows the path of the sap: cut on the upper face if you can.")
	}
	if w.OnPath && w.Face != Lower {
		a.Warnings = append(a.Warnings, "The cut lies on the path of the sap between the trunk and the wood that is kept: leave a longer stub or choose another shoot.")
	}
	if a.Large {
		a.Cautions = WoundCare()
	}
	return a, nil
}

// WoundCare is what to mind with wounds and tools.
func WoundCare() []string {
	return []string{
		// Growers respond to trunk disease threat, Wine Australia.
		"Do not prune in rain, nor for 36 hours after it.",
		"Keep wounds few and small; protect large ones at once with a registered product, as its label says.",
		// M. Ayres et al., Wine and Viticulture Journal, 2016.
		"A fresh wound is most at risk in its first two weeks.",
		// G. Torres, Pruning and trunk diseases, UC Cooperative Extension.
		"The larger the wound and the nearer the trunk, the greater the danger.",
		// Eutypa dieback: best practice management guide, Wine Australia, 2018.
		"Take dead wood out of the block: spores come from it in rain.",
		// Common practice.
		"Prune sick vines last and clean blades after them.",
		"Saws and shears: glasses on, the other hand well away, gloves that resist cuts; power off before clearing a blade.",
	}
}
