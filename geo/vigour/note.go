package vigour

import (
	"fmt"
	"math"
)

// note writes what a reader of the map should know.
func (w *work) note() {
	say := func(format string, args ...any) { w.Notes = append(w.Notes, fmt.Sprintf(format, args...)) }
	for _, c := range w.Calibrations {
		switch {
		case c.Err != nil && c.Vines > 0:
			say("Not used: %s.", c.Refused)
		case c.Beyond > 0:
			say("%d of %d values calibrated from %s lie beyond the vines the line was fitted to.", c.Beyond, c.Used, c.Label)
		}
	}
	k := &w.Kriging
	if k.Err != nil {
		say("Vines without a measure have no value: %s.", k.Refused)
	}
	if k.Estimated > 0 {
		w.noteKriging(say)
	}
	w.noteYoung(say)
	if n := w.noRoom(); n > 0 {
		say("No value for %s: the metres of row occupied are not known.", vines(n))
	}
}

func (w *work) noteKriging(say func(string, ...any)) {
	k := &w.Kriging
	switch {
	case k.Fit.Sill == 0:
		say("Vines near each other are no more alike than vines far apart: each estimate is little more than the mean of the measured vines around.")
	case k.Nugget > highNugget:
		say("The nugget is %.0f %% of the sill: vines side by side differ almost as much as vines far apart. The estimates give the trend, not the single vine; decide vine by vine from vines that were measured.", 100*k.Nugget)
	}
	if k.Vines < 50 {
		say("The variogram rests on %d vines only; with fewer than 50 it is rough, 100 or more are better (common practice).", k.Vines)
	}
	if k.Weighed < fewestAlong && k.Calibrated > 0 {
		say("Only %s weighed: how much calibrated values err is known roughly. Standard errors of estimates were widened by %.0f %%, to what left-out weights miss by.", were(k.Weighed), 100*(k.Widened-1))
	}
	if k.LeaveOut.Vines >= 10 && k.Widened == 1 && (k.LeaveOut.MSDR > 1.5 || k.LeaveOut.MSDR < 0.67) {
		say("Left-out vines miss their estimates by %.2f times what the standard errors say (the mean squared deviation ratio is %.2f, 1 is right): take the standard errors with care.", math.Sqrt(k.LeaveOut.MSDR), k.LeaveOut.MSDR)
	}
	if c := k.Covariate; c != nil && !c.Used {
		say("%s was not used: %s.", c.Name, c.Why)
	}
	if k.Fit.Sill > 0 && k.Fit.Ratio < 1 {
		say("Vines are alike over longer distances %s the rows.", w.lengthwise())
	}
}

// lengthwise tells whether the longest range runs along or across the rows.
func (w *work) lengthwise() string {
	if w.Kriging.Fit.AngleDeg == w.Kriging.RowsDeg {
		return "along"
	}
	return "across"
}

// noteYoung names leaf classes that could not be estimated.
func (w *work) noteYoung(say func(string, ...any)) {
	var without [grownUp + 1]int
	for _, i := range w.order {
		if w.Basis[i] == None && w.living(i) {
			without[w.class[i]]++
		}
	}
	if w.Kriging.Err != nil {
		return
	}
	for c, n := range without {
		if n > 0 && !w.levelOf(uint8(c)) {
			say("No value for %s in %s: fewer than %d of that age were measured, and vines of another age say too little.", vines(n), leafWords(uint8(c)), fewestOfClass)
		} else if n > 0 {
			say("No value for %s: no measured vine lies within %g m.", vines(n), w.o.RadiusM)
		}
	}
}

func (w *work) levelOf(class uint8) bool {
	for _, l := range w.Kriging.Leaves {
		if l.Leaf == class {
			return true
		}
	}
	return false
}

func (w *work) noRoom() (n int) {
	for _, i := range w.order {
		if w.s.Condition[i].Living() && !(w.OccupiedM[i] > 0) {
			n++
		}
	}
	return n
}

// vines says how many vines.
func vines(n int) string {
	if n == 1 {
		return "1 vine"
	}
	return fmt.Sprintf("%d vines", n)
}

func were(n int) string {
	if n == 1 {
		return "1 vine was"
	}
	return fmt.Sprintf("%d vines were", n)
}
