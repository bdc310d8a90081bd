// Package renewal is about the wood that comes back: which shoot to cut to a
// spur, so that next winter a spur stands below and a cane above again, where the
// cuts go, and how a vine's arms fare over the winters.
//
// Choose answers for one arm from what stands on it. NewHistory reads what was
// recorded winter by winter and says what to expect on each arm now, whether the
// path of the sap from the trunk is unbroken, and how far the head has climbed.
// Review finds winters that broke the rules. Renewal plans say what falls due in
// which winter. Draw draws a vine as it is seen from the row.
//
// The rules: the first clear bud of a spur faces down or out along the row; the
// shoot of the lower bud becomes the next spur, that of the upper bud the next
// cane; wounds are gathered on one side so that another stays free of them
// (Oenopedia, Quel raisonnement adopter pour respecter les flux de sève?). Use
// the lower shoot for the spur; where there is no spur, take the cane from the
// base of last year's cane (E. Hellman, Cane Pruning, eXtension Grapes, 2019).
// What to do with a spur whose first bud is on top is common practice. Lengths and
// diameters are in mm.
package renewal

import (
	"errors"
	"fmt"
	"math"
)

// What is refused.
var (
	ErrSetting = errors.New("a setting is out of range")
	ErrShoot   = errors.New("a shoot cannot be right")
	ErrWound   = errors.New("a wound cannot be right")
	ErrPlan    = errors.New("a renewal plan cannot be right")
	ErrDrawing = errors.New("a vine cannot be drawn")
)

// Settings are the limits a grower may move. A field that is 0 stands for the
// usual value.
type Settings struct {
	// ClimbLimitMM is how far a spur may move the head in one winter; usual 40.
	// About 38 mm in one winter is fair (common practice).
	ClimbLimitMM float64
	// SpurLeastMM is the least diameter of a shoot that is cut to a spur; usual
	// 6, the least that E. Hellman (eXtension Grapes, 2019) gives for a cane.
	SpurLeastMM float64
	// CaneLeastMM is the least diameter of a cane; usual 8, a pencil
	// (Winegrowers Supplies, Training from year 3 onwards).
	CaneLeastMM float64
	// BullMM is the diameter above which a cane is a bull cane; usual 15 (from
	// memory).
	BullMM float64
	// StubFactor is how many wound diameters of spare wood are left, 1 to 2;
	// usual 1.
	StubFactor float64
	// StubLeastMM is the least spare wood; usual 20: two to three centimetres
	// above the node in the trial on Ugni blanc, OENO One 8101.
	StubLeastMM float64
	// LargeWoundMM is the diameter from which a wound is large; usual 20 (common
	// practice).
	LargeWoundMM float64
	// WireMarginMM is how close the head may come to the fruiting wire; usual 50
	// (common practice).
	WireMarginMM float64
	// SideBreaksMM is the diameter from which a cut on the side of an arm is
	// taken to break the path of the sap; usual 30, chosen by us. See PathOf.
	SideBreaksMM float64
}

// Usual gives the usual settings.
func Usual() Settings {
	return Settings{
		ClimbLimitMM: 40, SpurLeastMM: 6, CaneLeastMM: 8, BullMM: 15,
		StubFactor: 1, StubLeastMM: 20, LargeWoundMM: 20, WireMarginMM: 50, SideBreaksMM: 30,
	}
}

// filled puts usual values where nothing is set and refuses what cannot be.
func (s Settings) filled() (Settings, error) {
	u := Usual()
	for _, f := range []struct {
		name       string
		v          *float64
		usual, max float64
	}{
		{"climb limit", &s.ClimbLimitMM, u.ClimbLimitMM, 1000},
		{"least diameter of a spur", &s.SpurLeastMM, u.SpurLeastMM, 50},
		{"least diameter of a cane", &s.CaneLeastMM, u.CaneLeastMM, 50},
		{"diameter of a bull cane", &s.BullMM, u.BullMM, 100},
		{"stub factor", &s.StubFactor, u.StubFactor, 2},
		{"least stub", &s.StubLeastMM, u.StubLeastMM, 200},
		{"diameter of a large wound", &s.LargeWoundMM, u.LargeWoundMM, 200},
		{"distance to the wire", &s.WireMarginMM, u.WireMarginMM, 1000},
		{"diameter of a side cut that breaks the path", &s.SideBreaksMM, u.SideBreaksMM, 300},
	} {
		if *f.v == 0 {
			*f.v = f.usual
		}
		if math.IsNaN(*f.v) || *f.v < 0 || *f.v > f.max {
			return s, fmt.Errorf("%w: %s is %g (above 0, at most %g)", ErrSetting, f.name, *f.v, f.max)
		}
	}
	if s.StubFactor < 1 {
		return s, fmt.Errorf("%w: stub factor is %g (1 to 2)", ErrSetting, s.StubFactor)
	}
	if s.BullMM <= s.CaneLeastMM {
		return s, fmt.Errorf("%w: a bull cane of %g mm is no thicker than the least cane of %g mm", ErrSetting, s.BullMM, s.CaneLeastMM)
	}
	return s, nil
}
