package demoestate

import (
	"math"
	"math/rand/v2"

	"courson/geo/vine"
)

// plant is the invented truth of one vine position over the three winters.
type plant struct {
	depth     float64 // soil depth, 0 to 1
	planted   [3]int  // first leaf of the plant that stands there, by season
	condition [3]vine.Condition
	cause     [3]string
	woodKgM   [3]float64 // one-year wood per metre of row, kg/m; 0 where no living plant
}

// seasonAt gives the season of one of the three winters.
func seasonAt(w int) int { return FirstSeason + w }

// grow invents a vine's three winters. sick is how close it stands to the heart
// of a spot of trunk disease, 0 to 1.
func grow(d design, depth, sick float64, rng *rand.Rand) plant {
	p := plant{depth: depth}
	own := math.Exp(0.17 * rng.NormFloat64())
	for w := range p.condition {
		season := seasonAt(w)
		if w == 0 {
			p.planted[w] = d.planted
			p.condition[w], p.cause[w] = firstWinter(d, season, sick, rng)
		} else {
			p.planted[w] = p.planted[w-1]
			p.nextWinter(w, season, sick, rng)
		}
		leaf := vine.Leaf(p.planted[w], season)
		if p.condition[w].Living() && leaf > 0 {
			// The wood of this winter grew in the leaf before.
			p.woodKgM[w] = wood(leaf-1, season, depth, sick, own*math.Exp(0.10*rng.NormFloat64()))
		}
	}
	return p
}

// firstWinter says what the first survey found.
func firstWinter(d design, season int, sick float64, rng *rand.Rand) (vine.Condition, string) {
	leaf := vine.Leaf(d.planted, season)
	if leaf == 0 {
		return vine.Unseen, "" // not planted yet
	}
	gone := 0.006 + 0.0012*float64(leaf) + 0.22*sick
	switch r := rng.Float64(); {
	case r < gone:
		return vine.Missing, lossCause(sick, rng)
	case r < gone+0.004+0.05*sick:
		return vine.Dead, lossCause(sick, rng)
	case r < gone+0.008+0.20*sick && leaf > 6:
		return vine.Diseased, "trunk disease"
	case leaf <= 3:
		return vine.Young, ""
	}
	return vine.Bearing, ""
}

func lossCause(sick float64, rng *rand.Rand) string {
	if sick > 0.25 {
		return "trunk disease"
	}
	return []string{"machine damage", "frost", "unknown", "unknown"}[rng.IntN(4)]
}

// nextWinter carries the vine on from the winter before.
func (p *plant) nextWinter(w, season int, sick float64, rng *rand.Rand) {
	before := p.condition[w-1]
	leaf := vine.Leaf(p.planted[w], season)
	switch {
	case leaf == 0:
		p.condition[w] = vine.Unseen
	case before == vine.Missing && rng.Float64() < 0.5:
		p.condition[w], p.planted[w] = vine.Replanted, season
	case before == vine.Dead && rng.Float64() < 0.7:
		p.condition[w], p.cause[w] = vine.Missing, "pulled"
	case !before.Living():
		p.condition[w], p.cause[w] = before, p.cause[w-1]
	default:
		p.condition[w], p.cause[w] = ageing(before, leaf, season, p.depth, sick, rng)
	}
}

// ageing says how a living vine stands a winter later.
func ageing(before vine.Condition, leaf, season int, depth, sick float64, rng *rand.Rand) (vine.Condition, string) {
	dieBack := 0.002 + 0.02*sick
	cause := lossCause(sick, rng)
	if season == DrySeason {
		dieBack += 0.16 * thirst(leaf-1, depth) * thirst(leaf-1, depth)
		cause = "drought"
	}
	r := rng.Float64()
	switch {
	case r < dieBack:
		return vine.Dead, cause
	case r < dieBack+0.01*sick && leaf > 6:
		return vine.Diseased, "trunk disease"
	case season == CurrentSeason && r > 0.9985:
		return vine.Doubtful, "no sap seen at pruning"
	case season == DrySeason && thirst(leaf-1, depth) > 0.62 && r > 0.80:
		return vine.Weak, "drought"
	case before == vine.Weak && r > 0.55:
		return vine.Weak, "drought"
	case before == vine.Diseased:
		return vine.Diseased, "trunk disease"
	case leaf <= 3:
		return vine.Young, ""
	}
	return vine.Bearing, ""
}

// thirst is how hard a dry summer bites, 0 to 1: shallow soil, shallow roots.
func thirst(leaf int, depth float64) float64 {
	roots := 0.35
	switch {
	case leaf <= 2:
		roots = 1
	case leaf <= 4:
		roots = 0.85
	case leaf <= 7:
		roots = 0.6
	}
	return roots * (1 - depth)
}

// wood is the one-year wood of a winter, kg per metre of row, that grew in the
// given leaf.
func wood(leaf, season int, depth, sick, own float64) float64 {
	if leaf <= 0 {
		return 0.02 * own
	}
	size := 1.0
	if leaf < 6 {
		size = []float64{0, 0.14, 0.34, 0.62, 0.86, 0.97}[leaf]
	}
	year := 1.06
	switch season {
	case DrySeason:
		year = 1.02 - 0.95*thirst(leaf, depth)
	case CurrentSeason:
		year = 0.98 - 0.30*thirst(leaf, depth)
	}
	return max(0.01, (0.14+0.74*depth)*size*year*(1-0.45*sick)*own)
}
