package pruning

import (
	"fmt"
	"math"
)

// RuleKind names a way from last year's growth to a number of nodes.
type RuleKind string

// The kinds of load rule.
const (
	PerWeight       RuleKind = "per_weight"        // a nodes for the first weight of prunings, b for each further unit
	PerWeightMetric RuleKind = "per_weight_metric" // N = first + more × (W - first_kg)
	CaneWeight      RuleKind = "cane_weight"       // weight of prunings ÷ the weight that a shoot should have
	EffectiveShoots RuleKind = "effective_shoots"  // last year's shoots counted by diameter
	IdealShoots     RuleKind = "ideal_shoots"      // last year's ideal shoots counted, small ones half, large ones double
	Fixed           RuleKind = "fixed"             // the same number on every vine
)

// Rule is the load rule of a block: only the fields of its kind count.
type Rule struct {
	Kind RuleKind `json:"kind"`

	// PerWeight: N = A + B × (W - first weight), W the one-year-old prunings of
	// one vine in Unit, "lb" or "kg". Under the first weight, where the rule is
	// not defined, N falls in proportion, A × W / first weight, and the vine is
	// marked to be rebuilt (common practice).
	A           float64 `json:"a,omitempty"`
	B           float64 `json:"b,omitempty"`
	Unit        string  `json:"unit,omitempty"`
	FirstWeight float64 `json:"first_weight,omitempty"` // in Unit

	// PerWeightMetric: First nodes for the first FirstKg, More per further kg;
	// in proportion below, as above.
	First   float64 `json:"first,omitempty"`
	FirstKg float64 `json:"first_kg,omitempty"`
	More    float64 `json:"more_per_kg,omitempty"`

	// CaneWeight: the weight that a cane (one shoot's wood) should have, g.
	TargetG float64 `json:"target_g,omitempty"`

	// EffectiveShoots: score by diameter, rising limits; Extra is added for
	// damaged buds.
	Scores []DiameterScore `json:"scores,omitempty"`
	Extra  float64         `json:"extra,omitempty"`

	// IdealShoots: what a small and a large shoot count; RaiseShare is added for
	// buds that winter kills, RaiseYoungShare instead through leaf 7.
	Small           float64 `json:"small,omitempty"`
	Large           float64 `json:"large,omitempty"`
	RaiseShare      float64 `json:"raise_share,omitempty"`
	RaiseYoungShare float64 `json:"raise_young_share,omitempty"`

	// Fixed: the number of nodes.
	Nodes float64 `json:"nodes,omitempty"`
}

// DiameterScore is what a cane counts from a diameter up; Beyond leaves the
// limit itself to the class below.
type DiameterScore struct {
	FromMM float64 `json:"from_mm"`
	Beyond bool    `json:"beyond,omitempty"`
	Score  float64 `json:"score"`
}

// PerPound is the American rule a + b: a nodes for the first pound of prunings
// of a vine, b for each further pound. 30 + 10 for American grapes and simple
// advice, 20 + 10 for French hybrids, 20 + 20 for vinifera (Smith M., 2023 Grape
// Pruning Primer, Ohio State University). For Concord 30 + 10 is found too
// severe by Bates T., Cornell Lake Erie Laboratory: every rule is a setting.
func PerPound(a, b float64) Rule {
	return Rule{Kind: PerWeight, A: a, B: b, Unit: "lb", FirstWeight: 1}
}

// ConcordMetric is 55 nodes for the first 0.5 kg and 22 for each further kg
// (Keller, in Practical Winery & Vineyard, June 2017).
func ConcordMetric() Rule {
	return Rule{Kind: PerWeightMetric, First: 55, FirstKg: 0.5, More: 22}
}

// ByCaneWeight gives one node for so many grams of prunings; an ideal shoot
// weighs 30 to 40 g in a cool climate (WineSkills UK, Factors to be taken into
// account when pruning).
func ByCaneWeight(targetG float64) Rule { return Rule{Kind: CaneWeight, TargetG: targetG} }

// ByEffectiveShoots is the New Zealand rule for Sauvignon blanc: canes over 15 mm
// count 2, of 10 to 15 mm 1, of 7 to 10 mm a half, thinner ones nothing; 5 nodes
// are added for damaged buds (Practical Winery & Vineyard, June 2017). The source
// leaves open which class the limits themselves belong to; chosen by us: 7 and
// 10 mm to the upper one, 15 mm to the lower.
func ByEffectiveShoots() Rule {
	return Rule{Kind: EffectiveShoots, Scores: []DiameterScore{{FromMM: 7, Score: 0.5}, {FromMM: 10, Score: 1}, {FromMM: 15, Beyond: true, Score: 2}}, Extra: 5}
}

// ByIdealShoots counts ideal shoots, small ones a half and large ones two, and
// adds 10 % for buds that winter kills, of the 5 to 15 % named for mature vines
// (WineSkills UK). Vines under 8 years are to be raised clearly, the source says
// without a number; 25 % is chosen by us. Where dead buds are counted
// (Standards.DeadBuds), set both to 0.
func ByIdealShoots() Rule {
	return Rule{Kind: IdealShoots, Small: 0.5, Large: 2, RaiseShare: 0.10, RaiseYoungShare: 0.25}
}

// FixedNodes gives every vine the same number: growers who know their site after
// decades often prune so (Using pruning power for vine balance, Good Fruit
// Grower).
func FixedNodes(n float64) Rule { return Rule{Kind: Fixed, Nodes: n} }

// most nodes that a rule's figures may name; that of the record of what was left.
const mostNodes = 400

// Check refuses figures out of reach; the error wraps ErrStandards.
func (r Rule) Check() error {
	type figure struct {
		field        string
		v, low, high float64
	}
	var want []figure
	switch r.Kind {
	case PerWeight:
		if r.Unit != "lb" && r.Unit != "kg" {
			return wrong(ErrStandards, "load_rule.unit", fmt.Sprintf("%q", r.Unit), `"lb" or "kg"`)
		}
		want = []figure{{"a", r.A, 1, mostNodes}, {"b", r.B, 0, mostNodes}, {"first_weight", r.FirstWeight, 0.05, 10}}
	case PerWeightMetric:
		want = []figure{{"first", r.First, 1, mostNodes}, {"first_kg", r.FirstKg, 0.05, 10}, {"more_per_kg", r.More, 0, mostNodes}}
	case CaneWeight:
		want = []figure{{"target_g", r.TargetG, 5, 200}}
	case EffectiveShoots:
		want = []figure{{"extra", r.Extra, 0, 50}}
		if err := checkScores(r.Scores); err != nil {
			return err
		}
	case IdealShoots:
		want = []figure{{"small", r.Small, 0, 1}, {"large", r.Large, 1, 3}, {"raise_share", r.RaiseShare, 0, 0.5}, {"raise_young_share", r.RaiseYoungShare, 0, 1}}
	case Fixed:
		want = []figure{{"nodes", r.Nodes, floorSpurs * floorSpurNodes, mostNodes}}
	default:
		return wrong(ErrStandards, "load_rule.kind", fmt.Sprintf("%q", r.Kind), "per_weight, per_weight_metric, cane_weight, effective_shoots, ideal_shoots or fixed")
	}
	for _, f := range want {
		if !(f.v >= f.low && f.v <= f.high) {
			return wrong(ErrStandards, "load_rule."+f.field, f.v, fmt.Sprintf("%g to %g", f.low, f.high))
		}
	}
	return nil
}

// mostScores bounds the classes of diameter; chosen by us.
const mostScores = 12

func checkScores(scores []DiameterScore) error {
	if len(scores) == 0 || len(scores) > mostScores {
		return wrong(ErrStandards, "load_rule.scores", fmt.Sprint(len(scores), " classes"), fmt.Sprintf("1 to %d", mostScores))
	}
	for i, s := range scores {
		if !(s.FromMM >= 0 && s.FromMM <= 60) || !(s.Score >= 0 && s.Score <= 5) {
			return wrong(ErrStandards, fmt.Sprintf("load_rule.scores[%d]", i), fmt.Sprintf("%g mm scoring %g", s.FromMM, s.Score), "0 to 60 mm scoring 0 to 5")
		}
		if i > 0 && (s.FromMM <= scores[i-1].FromMM || s.Score < scores[i-1].Score) {
			return wrong(ErrStandards, fmt.Sprintf("load_rule.scores[%d]", i), fmt.Sprintf("%g mm scoring %g after %g mm scoring %g", s.FromMM, s.Score, scores[i-1].FromMM, scores[i-1].Score), "rising limits, and scores that do not fall")
		}
	}
	return nil
}

// ByWeight gives the nodes, not yet rounded, that a vine's prunings of weightG g
// allow; belowFirst tells that the weight lies under the rule's first weight. ok
// is false where the kind does not go by weight.
func (r Rule) ByWeight(weightG float64) (nodes float64, belowFirst, ok bool) {
	kg := weightG / 1000
	switch r.Kind {
	case PerWeight:
		w := kg
		if r.Unit == "lb" {
			w = kg / KgPerLb
		}
		nodes, belowFirst = firstThenMore(r.A, r.B, w, r.FirstWeight)
	case PerWeightMetric:
		nodes, belowFirst = firstThenMore(r.First, r.More, kg, r.FirstKg)
	case CaneWeight:
		nodes = weightG / r.TargetG
	default:
		return 0, false, false
	}
	return nodes, belowFirst, true
}

func firstThenMore(first, more, w, firstWeight float64) (float64, bool) {
	if w < firstWeight*(1-1e-9) {
		return first * w / firstWeight, true
	}
	return first + more*math.Max(0, w-firstWeight), false
}

// youngThrough is the last leaf of vines under 8 years (WineSkills UK).
const youngThrough = 7

// raise is the share added to ideal shoots on a vine in some leaf, 0 unknown.
func (r Rule) raise(leaf int) float64 {
	if leaf >= 1 && leaf <= youngThrough {
		return r.RaiseYoungShare
	}
	return r.RaiseShare
}

// ByShoots gives the nodes, not yet rounded, for an effective number of shoots
// or a count of ideal shoots on a vine in its given leaf (0 unknown); ok is false
// where the kind counts no shoots.
func (r Rule) ByShoots(shoots float64, leaf int) (nodes float64, ok bool) {
	switch r.Kind {
	case EffectiveShoots:
		return shoots + r.Extra, true
	case IdealShoots:
		return shoots * (1 + r.raise(leaf)), true
	}
	return 0, false
}

// Effective gives the effective number of shoots for cane diameters in mm.
func (r Rule) Effective(diametersMM []float64) (n float64) {
	for _, d := range diametersMM {
		for k := len(r.Scores) - 1; k >= 0; k-- {
			s := r.Scores[k]
			if d > s.FromMM || !s.Beyond && d == s.FromMM {
				n += s.Score
				break
			}
		}
	}
	return n
}

// Ideal gives the count of ideal shoots: small ones and large ones weighted.
func (r Rule) Ideal(ideal, small, large float64) float64 {
	return ideal + r.Small*small + r.Large*large
}

// source is where the rule comes from, for Explain.
func (r Rule) source() string {
	switch r.Kind {
	case PerWeight:
		return srcOhio
	case PerWeightMetric, EffectiveShoots:
		return srcNZ
	case CaneWeight, IdealShoots:
		return srcUK
	}
	return srcOwner
}
