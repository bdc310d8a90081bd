package renewal

import (
	"fmt"
	"math"
	"strings"
)

// ArmCane is the cane candidate of one arm.
type ArmCane struct {
	Arm        string
	DiameterMM float64
	Sound      bool
}

// Keep says which arm keeps its cane, where a vine carries one.
type Keep struct {
	Arm   string // empty: none can
	Free  bool   // the arms in Equal do equally well, and Arm is only a proposal
	Equal []string
	Text  string
}

// Diameters are taken to a tenth of a millimetre, as a caliper gives them.
const caliperMM = 0.1

// WhichArm chooses the arm whose cane is kept: the stronger one of those that are
// adequate, else the best there is unless it is unsound. Equal canes are a free
// choice, and it says so; it then proposes the arm that did not carry the cane last
// winter (last, empty if not known), so that the sides alternate.
func WhichArm(arms []ArmCane, last string, settings Settings) (Keep, error) {
	s, err := settings.filled()
	if err != nil {
		return Keep{}, err
	}
	best := -1
	score := func(a ArmCane) (verdict int, tenths float64) {
		v, _ := s.judge(a.DiameterMM, a.Sound)
		mm := a.DiameterMM
		if v == Bull {
			mm = -mm // of bull canes the thinner
		}
		return v.worse(), math.Round(mm / caliperMM)
	}
	for k, a := range arms {
		if math.IsNaN(a.DiameterMM) || a.DiameterMM < 0 || a.DiameterMM > thickMM {
			return Keep{}, fmt.Errorf("arm %q: %w: a cane of %g mm (0 to %d)", a.Arm, ErrShoot, a.DiameterMM, thickMM)
		}
		if v, mm := score(a); v < Unsound.worse() {
			if best < 0 {
				best = k
				continue
			}
			if bv, bmm := score(arms[best]); v < bv || v == bv && mm > bmm {
				best = k
			}
		}
	}
	if best < 0 {
		return Keep{Text: "No arm has a cane that could be laid down: spurs only, or cut back."}, nil
	}
	bv, bmm := score(arms[best])
	out := Keep{Arm: arms[best].Arm}
	for _, a := range arms {
		if v, mm := score(a); v == bv && mm == bmm {
			out.Equal = append(out.Equal, a.Arm)
		}
	}
	out.say(arms[best], last, s)
	return out, nil
}

func (k *Keep) say(best ArmCane, last string, s Settings) {
	v, why := s.judge(best.DiameterMM, best.Sound)
	if len(k.Equal) == 1 {
		k.Equal = nil
		k.Text = fmt.Sprintf("The cane stays on the %s arm, the stronger one (%s).", k.Arm, why)
	} else {
		k.Free = true
		k.Text = fmt.Sprintf("Free choice: the canes of %s are equal (%s).", strings.Join(k.Equal, " and "), why)
		if last == k.Arm {
			k.Arm = k.Equal[1]
			k.Text += fmt.Sprintf(" Last winter's cane was on the %s arm; with the %s arm the sides alternate.", last, k.Arm)
		}
	}
	if v != Adequate {
		k.Text += fmt.Sprintf(" It is %s: think of spurs only.", v)
	}
}
