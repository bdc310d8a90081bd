package layout

import (
	"fmt"
	"math"
)

// Step is the ground between two neighbouring plants along a row.
type Step struct {
	From, To  int     // index of the plant before and behind; -1 and the count are the row's ends
	LengthM   float64 // m along the row
	Missing   int     // places without a plant between them
	ResidualM float64 // what the step is longer (or, negative, shorter) than whole planting distances, m
	// Doubtful tells that the step fits no whole number of planting distances
	// well, or is too short for two plants: the number is the nearest one, for
	// a person to confirm.
	Doubtful bool
}

// doubtShare is how much of a planting distance may be left over before a step
// is doubtful. Chosen by us: half way between sure (0) and undecided (0.5).
const doubtShare = 0.25

// StepOf counts the missing places in a step of a length in metres at a
// planting distance in metres, by the nearest whole number.
func StepOf(lengthM, spacingM float64) Step {
	n := max(1, math.Round(lengthM/spacingM))
	left := lengthM - n*spacingM
	return Step{LengthM: lengthM, Missing: int(n) - 1, ResidualM: left,
		Doubtful: math.Abs(left) > doubtShare*spacingM}
}

// Steps counts the gaps along a row whose plants stand at the given distances
// from the numbering end, rising, in metres. A gap is a step longer than the
// planting distance by whole vines. It gives one step between each pair of
// neighbours; with ends, also the ground before the first plant (from the place
// StartM behind the numbering end where vine 1 belongs) and behind the last one
// (to EndM before the far end), whose Missing counts the places there.
//
// Refused are an impossible spacing, distances that are not finite or not
// rising, and more than MostPlaces missing places.
func Steps(chainageM []float64, lengthM float64, s Spacing, ends bool) ([]Step, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	if !(lengthM >= 0) || lengthM/s.VineM > MostPlaces {
		return nil, fmt.Errorf("%v m at %v m: %w: at most %d in a row", lengthM, s.VineM, ErrTooMany, MostPlaces)
	}
	for i, c := range chainageM {
		if !(math.Abs(c) <= lengthM+farM) || i > 0 && c < chainageM[i-1] {
			return nil, fmt.Errorf("plant %d at %v m: %w", i, c, ErrOrder)
		}
	}
	var out []Step
	if ends && len(chainageM) > 0 {
		out = append(out, endStep(-1, 0, chainageM[0]-s.StartM, s.VineM))
	}
	for i := 1; i < len(chainageM); i++ {
		st := StepOf(chainageM[i]-chainageM[i-1], s.VineM)
		st.From, st.To = i-1, i
		out = append(out, st)
	}
	if n := len(chainageM); ends && n > 0 {
		out = append(out, lastStep(n-1, n, lengthM-s.EndM-chainageM[n-1], s.VineM))
	}
	return out, nil
}

// endStep counts places from a place where a vine belongs to the first plant.
func endStep(from, to int, lengthM, spacingM float64) Step {
	n := max(0, math.Round(lengthM/spacingM))
	left := lengthM - n*spacingM
	return Step{From: from, To: to, LengthM: lengthM, Missing: int(n), ResidualM: left,
		Doubtful: math.Abs(left) > doubtShare*spacingM}
}

// lastStep counts the places behind the last plant. Only whole ones count: what
// is left over is ground without a place, not a doubt.
func lastStep(from, to int, roomM, spacingM float64) Step {
	fit := max(0, math.Floor((roomM+slackM)/spacingM))
	return Step{From: from, To: to, LengthM: roomM, Missing: int(fit), ResidualM: roomM - fit*spacingM}
}

// Missing adds up the missing places of steps.
func Missing(steps []Step) int {
	n := 0
	for _, s := range steps {
		n += s.Missing
	}
	return n
}
