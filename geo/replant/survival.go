package replant

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Lifetime is how long one plant was followed.
type Lifetime struct {
	// Seasons it was followed; for a lost plant the leaf in which it was lost.
	Seasons float64
	Lost    bool   // false: it still stood when last seen
	Cause   string // of the loss
}

// Lifetimes gives the plants of histories as lifetimes, as known in the winter
// before a season's growth. A plant lost after its k-th leaf counts as lost at k;
// one that stands has come through season - From leaves. Plants of unknown age and
// those planted this winter tell nothing and are left out. key names the group of
// a plant ("" leaves it out); nil puts all in one group.
func Lifetimes(all []History, season int, key func(Plant) string) map[string][]Lifetime {
	out := map[string][]Lifetime{}
	for _, h := range all {
		for _, p := range h.Plants {
			group := "all"
			if key != nil {
				group = key(p)
			}
			if l, ok := p.lifetime(season); ok && group != "" {
				out[group] = append(out[group], l)
			}
		}
	}
	return out
}

func (p Plant) lifetime(season int) (Lifetime, bool) {
	switch {
	case p.From == 0 || p.From >= season:
		return Lifetime{}, false
	case p.To == 0 || p.To >= season:
		return Lifetime{Seasons: float64(season - p.From)}, true
	}
	return Lifetime{Seasons: float64(p.To - p.From + 1), Lost: true, Cause: p.cause()}, true
}

// Step is the share alive just after a time, until the next step.
type Step struct {
	Seasons float64 `json:"seasons"`
	AtRisk  int     `json:"at_risk"` // followed up to here
	Lost    int     `json:"lost"`    // here
	Share   float64 `json:"share"`   // alive, 0 to 1
	SE      float64 `json:"se"`      // Greenwood's standard error of Share
	Low     float64 `json:"low"`     // interval Share ± z SE, cut to 0 to 1
	High    float64 `json:"high"`
}

// Curve is a survival curve: one step for each time at which plants were lost.
type Curve struct {
	Plants int     `json:"plants"`
	Lost   int     `json:"lost"`
	Level  float64 `json:"level"`
	Steps  []Step  `json:"steps"`
}

// Survive gives the product-limit estimate (Kaplan E.L., Meier P., J. Am. Stat.
// Assoc. 53:457-481, 1958) with Greenwood's interval (Greenwood M., Reports on
// Public Health and Medical Subjects 33, 1926) at a level such as 0.95. A plant
// that was last seen standing at a time counts as at risk there. At a share of 0
// the formula has no width: the interval is then 0 to the interval before. The
// error wraps ErrInput.
func Survive(list []Lifetime, level float64) (Curve, error) {
	sorted, z, err := sortLives(list, level)
	if err != nil {
		return Curve{}, err
	}
	c := Curve{Plants: len(list), Level: level}
	share, sum := 1.0, 0.0
	for i := 0; i < len(sorted); {
		n, end, lost := len(sorted)-i, i, 0
		for ; end < len(sorted) && sorted[end].Seasons == sorted[i].Seasons; end++ {
			if sorted[end].Lost {
				lost++
			}
		}
		if lost > 0 {
			share *= 1 - float64(lost)/float64(n)
			st := Step{Seasons: sorted[i].Seasons, AtRisk: n, Lost: lost, Share: share}
			if lost < n {
				sum += float64(lost) / (float64(n) * float64(n-lost))
				st.SE = share * math.Sqrt(sum)
				st.Low, st.High = max(0, share-z*st.SE), min(1, share+z*st.SE)
			} else {
				st.Share, share = 0, 0
				st.High = 1
				if k := len(c.Steps); k > 0 {
					st.High = c.Steps[k-1].High
				}
			}
			c.Steps = append(c.Steps, st)
			c.Lost += lost
		}
		i = end
	}
	return c, nil
}

// At gives the share alive after so many seasons.
func (c Curve) At(seasons float64) float64 {
	share := 1.0
	for _, s := range c.Steps {
		if s.Seasons > seasons {
			break
		}
		share = s.Share
	}
	return share
}

func sortLives(list []Lifetime, level float64) ([]Lifetime, float64, error) {
	z, err := quantile(level)
	if err != nil {
		return nil, 0, err
	}
	for _, l := range list {
		if !(l.Seasons > 0) || math.IsInf(l.Seasons, 0) {
			return nil, 0, wrong(ErrInput, "lifetime", l.Seasons, "seasons above 0")
		}
	}
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, func(a, b Lifetime) int { return cmp.Compare(a.Seasons, b.Seasons) })
	return sorted, z, nil
}

// quantile gives the two-sided normal quantile of a level: 1.96 for 0.95.
func quantile(level float64) (float64, error) {
	if !(level > 0 && level < 1) {
		return 0, wrong(ErrInput, "level", level, "between 0 and 1, such as 0.95")
	}
	return distuv.UnitNormal.Quantile((1 + level) / 2), nil
}

// CauseShare is the share of plants lost to one cause up to each time.
type CauseShare struct {
	Cause  string    `json:"cause"`
	Lost   int       `json:"lost"`
	Shares []float64 `json:"shares"` // at the curve's steps
}

// Causes splits what a survival curve loses by cause: at each step the share
// alive before it times the share of those at risk that this cause took
// (cumulative incidence; Kalbfleisch J., Prentice R., The Statistical Analysis of
// Failure Time Data, 1980, from memory). The shares of all causes and the share
// alive add up to 1 at every step. Most losses first.
func Causes(list []Lifetime, level float64) (Curve, []CauseShare, error) {
	c, err := Survive(list, level)
	if err != nil {
		return c, nil, err
	}
	lost := map[string][]int{}
	for _, l := range list {
		if l.Lost {
			k, _ := slices.BinarySearchFunc(c.Steps, l.Seasons, func(s Step, t float64) int { return cmp.Compare(s.Seasons, t) })
			if lost[l.Cause] == nil {
				lost[l.Cause] = make([]int, len(c.Steps))
			}
			lost[l.Cause][k]++
		}
	}
	var out []CauseShare
	for cause, by := range lost {
		s := CauseShare{Cause: cause, Shares: make([]float64, len(c.Steps))}
		before, sum := 1.0, 0.0
		for k, st := range c.Steps {
			sum += before * float64(by[k]) / float64(st.AtRisk)
			s.Shares[k], before = sum, st.Share
			s.Lost += by[k]
		}
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b CauseShare) int {
		return cmp.Or(cmp.Compare(b.Lost, a.Lost), cmp.Compare(a.Cause, b.Cause))
	})
	return c, out, nil
}
