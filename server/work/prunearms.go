package work

import (
	"fmt"

	"courson/geo/pruning"
	"courson/geo/pruning/renewal"
)

// WoodJob asks which spur and which cane to keep on each arm of a vine.
type WoodJob struct {
	Arms  []renewal.Arm
	Canes int    // how many the vine is to carry
	Last  string // the arm that carried the cane last winter; empty: not known
	// History is what is recorded of the vine; the zero value where nothing is.
	History  renewal.History
	Settings renewal.Settings
}

// Wood is the choice for each arm, and which arm keeps its cane where the vine
// carries fewer canes than it has arms.
type Wood struct {
	Arms []renewal.Choice
	Keep *renewal.Keep // nil where every arm keeps its cane, or none does
}

// ChooseWood chooses. Errors wrap renewal.ErrShoot or renewal.ErrSetting.
func ChooseWood(job WoodJob) (Wood, error) {
	var out Wood
	var canes []renewal.ArmCane
	for _, arm := range job.Arms {
		for _, h := range job.History.Arms {
			if h.Name == arm.Name {
				arm.Expect = h.Expect
			}
		}
		c, err := renewal.Choose(arm, job.Settings)
		if err != nil {
			return out, err
		}
		out.Arms = append(out.Arms, c)
		if c.Cane != nil {
			canes = append(canes, renewal.ArmCane{Arm: arm.Name, DiameterMM: c.Cane.DiameterMM, Sound: c.Cane.Verdict != renewal.Unsound})
		}
	}
	if job.Canes != 1 || len(out.Arms) < 2 {
		return out, nil
	}
	if job.Last == "" {
		job.Last = caneArm(job.History)
	}
	keep, err := renewal.WhichArm(canes, job.Last, job.Settings)
	if err != nil {
		return out, fmt.Errorf("which arm keeps its cane: %w", err)
	}
	out.Keep = &keep
	return out, nil
}

// caneArm gives the arm that alone carried canes last winter, as it is recorded;
// empty where that is not known.
func caneArm(h renewal.History) string {
	name, season := "", 0
	for _, a := range h.Arms {
		last := 0
		if len(a.Seasons) > 0 {
			last = a.Seasons[len(a.Seasons)-1]
		}
		switch {
		case len(a.Canes) == 0 || last < season:
		case last > season:
			name, season = a.Name, last
		default:
			name = "" // both arms carried one
		}
	}
	return name
}

// RenewalSettings are the limits of a block's standards, where they say something
// of a cut; the others are the usual ones.
func RenewalSettings(w pruning.Wood) renewal.Settings {
	s := renewal.Usual()
	s.CaneLeastMM, s.BullMM = w.MinCaneMM, w.BullCaneMM
	if w.StubMM > 0 {
		s.StubLeastMM = w.StubMM
	}
	if w.StubPerWound >= 1 && w.StubPerWound <= 2 {
		s.StubFactor = w.StubPerWound
	}
	return s
}
