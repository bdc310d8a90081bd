package vigour

import (
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
	"courson/geo/vine"
)

// PlanInput is what a sampling plan is made from.
type PlanInput struct {
	Stand   *stand.Stand // as the vines stand now
	Earlier *Result      // an earlier map of the same ground: its range is covered; nil: none
	Last    []vine.ID    // vines weighed last time: those that still qualify are kept
	Options PlanOptions
}

// PlanOptions are the settings of Plan. Zero fields take the default.
type PlanOptions struct {
	Number   int     // how many vines; 0: as many as the error below needs
	RelError float64 // wanted relative error of the block's mean; default 0.1
	CV       float64 // how much vines vary; 0: as on the earlier map, else 0.25
	T        float64 // default 2
	// EndVines is how many vines at each end of a row, or of a part of it, are
	// passed over; default 2, below 0 none.
	EndVines int
	// Close is the share of the sample that is set beside another sampled vine,
	// so that the variogram learns how alike vines side by side are; default 0.1
	// from 30 vines on, below 0 none (M. A. Oliver, R. Webster, Catena 113, 2014,
	// ask for some close pairs; the share is chosen by us).
	Close float64
	Seed  uint64 // another seed, another sample; the same seed, the same sample
}

// SamplePlan says which vines to weigh.
type SamplePlan struct {
	Vines     []int    `json:"-"` // indices in the ground, by address
	Picks     []Pick   `json:"-"` // why each of them was chosen
	Wanted    int      `json:"wanted"`
	Qualified int      `json:"qualified"` // vines to choose from
	CV        float64  `json:"cv"`
	CVFrom    string   `json:"cv_from"`
	RelError  float64  `json:"rel_error"`
	T         float64  `json:"t"`
	Kept      int      `json:"kept"`       // of last time's vines
	Lost      int      `json:"lost"`       // of last time's vines that no longer qualify
	Layers    int      `json:"layers"`     // ranges of vigour that are covered; 1: nothing is known of the range
	RangeFrom string   `json:"range_from"` // what the ranges are from; "" nothing
	Passed    Passed   `json:"passed"`
	Notes     []string `json:"notes"`
}

// Within is the relative error of the block's mean that weighing the vines of the
// plan leaves, at the plan's T: what SampleSize asks for, turned round. 0 where
// every vine that qualifies is weighed.
func (p *SamplePlan) Within() float64 {
	n := float64(len(p.Vines))
	if n == 0 || len(p.Vines) >= p.Qualified {
		return 0
	}
	return p.T * p.CV * math.Sqrt(1/n-1/float64(p.Qualified))
}

// Pick is why a vine was chosen.
type Pick struct {
	Range  int  // 1 the weakest range of vigour, rising; 0 not known
	Kept   bool // it was weighed last time
	Beside bool // set beside another vine, to learn how alike neighbours are
}

// Passed counts the vines passed over, each by the first reason that holds.
type Passed struct {
	NotLiving int `json:"not_living"`
	Doubtful  int `json:"doubtful"`
	Replants  int `json:"replants"` // replanted, or young in a grown-up block
	AtEnds    int `json:"at_ends"`
	BesideGap int `json:"beside_gap"` // or beside a replant
}

const (
	defaultCV       = 0.25 // pruning weight in one Spanish block (Remote Sensing 7(11), 2015, 14458)
	defaultRelError = 0.10
	defaultT        = 2
	defaultEnds     = 2
	defaultClose    = 0.1
	closeFrom       = 30 // vines from which close pairs are set
)

// Plan chooses vines to weigh: as many as the wanted error needs, spread over the
// block and over the range of vigour of an earlier map, and away from row ends,
// gaps and replants, whose vines are not like the others (common practice).
//
// Every vine that qualifies has the same chance: they are put in order by range
// of vigour and, within it, along a curve that passes near places one after the
// other (a Hilbert curve), and every so-manieth is taken from a start that the
// seed gives (systematic sampling; W. G. Cochran, 1977, chapter 8, spread in two
// dimensions as by D. L. Stevens and A. R. Olsen, JASA 99, 2004). Vines of last
// time stand for their stretch of the order.
//
// Errors: ErrInput, ErrBadOption, and ErrNoVines where no vine qualifies.
func Plan(in PlanInput) (*SamplePlan, error) {
	if in.Stand == nil || in.Stand.Ground == nil {
		return nil, fmt.Errorf("%w: there is no stand", ErrInput)
	}
	g := in.Stand.Ground
	if len(g.X) != g.Len() || len(g.Y) != g.Len() {
		return nil, fmt.Errorf("%w: the ground of block %s has no positions in metres", ErrInput, g.Code)
	}
	if e := in.Earlier; e != nil && (len(e.KgPerM) != g.Len() || len(e.Basis) != g.Len()) {
		return nil, fmt.Errorf("%w: the earlier map has %d vines, the block %d", ErrInput, len(e.KgPerM), g.Len())
	}
	p := &SamplePlan{}
	o, err := p.settle(in)
	if err != nil {
		return nil, err
	}
	ok := p.qualify(in.Stand, o.EndVines)
	if p.Qualified == 0 {
		return nil, fmt.Errorf("%w: of %d places %d have no living vine, %d are doubtful, %d hold replants or young vines, %d lie at row ends, %d beside gaps",
			ErrNoVines, g.Len(), p.Passed.NotLiving, p.Passed.Doubtful, p.Passed.Replants, p.Passed.AtEnds, p.Passed.BesideGap)
	}
	if p.Wanted = o.Number; p.Wanted == 0 {
		if p.Wanted, err = SampleSize(p.CV, p.RelError, p.T, p.Qualified); err != nil {
			return nil, err
		}
	}
	p.choose(in, ok, o)
	return p, nil
}

// settle fills in the defaults and where the variation is from.
func (p *SamplePlan) settle(in PlanInput) (PlanOptions, error) {
	o := in.Options
	if o.Number < 0 || !(o.RelError >= 0) || !(o.CV >= 0) || !(o.T >= 0) || math.IsNaN(o.Close) || o.Close > 0.5 {
		return o, fmt.Errorf("%w: %+v", ErrBadOption, o)
	}
	orElse := func(v, otherwise float64) float64 {
		if v == 0 {
			return otherwise
		}
		return v
	}
	p.RelError, p.T = orElse(o.RelError, defaultRelError), orElse(o.T, defaultT)
	o.Close = max(0, orElse(o.Close, defaultClose))
	if o.EndVines == 0 {
		o.EndVines = defaultEnds
	}
	switch cv, n := variation(in.Earlier); {
	case o.CV > 0:
		p.CV, p.CVFrom = o.CV, "given"
	case cv > 0:
		p.CV, p.CVFrom = cv, fmt.Sprintf("%d vines weighed for season %d", n, in.Earlier.Season)
	default:
		p.CV, p.CVFrom = defaultCV, "a usual figure; nothing was measured here yet"
	}
	return o, nil
}

// variation is the coefficient of variation of the weighed vines of a map; 0 where
// they are fewer than ten. Calibrated and estimated values are left out: they lie
// on a line or a surface, and so vary less than vines.
func variation(r *Result) (cv float64, n int) {
	if r == nil {
		return 0, 0
	}
	var m, ss float64
	for i, b := range r.Basis {
		if b == Measured {
			n++
			d := float64(r.KgPerM[i]) - m
			m += d / float64(n)
			ss += d * (float64(r.KgPerM[i]) - m)
		}
	}
	if n < 10 || !(m > 0) {
		return 0, n
	}
	return math.Sqrt(ss/float64(n-1)) / m, n
}

// qualify tells which vines may be sampled.
func (p *SamplePlan) qualify(s *stand.Stand, ends int) []bool {
	g := s.Ground
	ok := make([]bool, g.Len())
	unlike := replants(s)
	for r := range g.Rows {
		first, end := g.Rows[r].First, g.Rows[r].First+g.Rows[r].Count
		reach := usualStep(g, r)
		sameRow := func(i, j int) bool {
			return j >= first && j < end && (len(g.Part) != g.Len() || g.Part[i] == g.Part[j])
		}
		gapBeside := func(i, j int) bool {
			return sameRow(i, j) && (!s.Condition[j].Living() || unlike[j] || reach > 0 && step(g, i, j) > 1.5*reach)
		}
		for i := first; i < end; i++ {
			switch {
			case !s.Condition[i].Living():
				p.Passed.NotLiving++
			case s.Condition[i] == vine.Doubtful:
				p.Passed.Doubtful++
			case unlike[i]:
				p.Passed.Replants++
			case ends > 0 && !(sameRow(i, i-ends) && sameRow(i, i+ends)):
				p.Passed.AtEnds++
			case gapBeside(i, i-1) || gapBeside(i, i+1):
				p.Passed.BesideGap++
			default:
				ok[i] = true
				p.Qualified++
			}
		}
	}
	return ok
}

// replants tells which vines are replants: marked so, or in their first four
// leaves where most living vines are grown up.
func replants(s *stand.Stand) []bool {
	class := leafClasses(s)
	living, young := 0, 0
	for i := range class {
		if s.Condition[i].Living() {
			living++
			if class[i] < grownUp {
				young++
			}
		}
	}
	out := make([]bool, len(class))
	for i := range out {
		out[i] = s.Condition[i] == vine.Replanted || class[i] < grownUp && 2*young < living
	}
	return out
}

// choose picks the vines.
func (p *SamplePlan) choose(in PlanInput, ok []bool, o PlanOptions) {
	g := in.Stand.Ground
	list, layer := p.inOrder(in, ok)
	chosen := map[int]bool{}
	kept, beside := map[int]bool{}, map[int]bool{}
	for _, id := range in.Last {
		if i, there := g.IndexOf(id); there && ok[i] {
			if !chosen[i] {
				p.Kept++
			}
			chosen[i], kept[i] = true, true
		} else {
			p.Lost++
		}
	}
	want := min(p.Wanted, len(list))
	pairs := 0
	if want >= closeFrom && p.Kept == 0 {
		pairs = int(math.Round(o.Close * float64(want)))
	}
	takeEvenly(list, want-pairs, o.Seed, chosen)
	for _, i := range takeBeside(g, list, pairs, chosen) {
		beside[i] = true
	}
	for _, i := range byAddress(g) {
		if chosen[int(i)] {
			p.Vines = append(p.Vines, int(i))
			p.Picks = append(p.Picks, Pick{Range: layer[i], Kept: kept[int(i)], Beside: beside[int(i)]})
		}
	}
	p.note(len(list))
}

func (p *SamplePlan) note(qualified int) {
	say := func(format string, args ...any) { p.Notes = append(p.Notes, fmt.Sprintf(format, args...)) }
	if p.Wanted > qualified {
		say("%d vines are wanted, only %d qualify: all of them are named.", p.Wanted, qualified)
	}
	switch {
	case p.Lost > 0 && len(p.Vines) > p.Kept:
		say("%d of last time's vines are gone, doubtful, or no longer like the others; others stand in for them.", p.Lost)
	case p.Lost > 0:
		say("%d of last time's vines are gone, doubtful, or no longer like the others.", p.Lost)
	}
	if p.Kept > p.Wanted {
		say("Last time's %d vines are kept although %d would do.", p.Kept, p.Wanted)
	}
	if n := len(p.Vines); n < fewestKnown {
		say("From %d vines a mean can be told, but no map: at least %d are needed to estimate the others.", n, fewestKnown)
	}
}

// layersFor is into how many ranges of vigour a sample is divided: at least six
// vines each, at most four ranges; chosen by us.
func layersFor(want int) int { return max(1, min(4, want/6)) }

// inOrder gives the vines that qualify by range of vigour and along the curve,
// and the range of every vine.
func (p *SamplePlan) inOrder(in PlanInput, ok []bool) (list []int, layer []int) {
	g := in.Stand.Ground
	for _, i := range byAddress(g) {
		if ok[i] {
			list = append(list, int(i))
		}
	}
	layer = make([]int, g.Len())
	p.Layers = 1
	if from, values := rangeOf(in, list); values != nil {
		p.RangeFrom = from
		p.Layers = layersOf(values, list, layersFor(min(p.Wanted, len(list))), layer)
	}
	curve := alongCurve(g, list)
	slices.SortStableFunc(list, func(a, b int) int {
		if layer[a] != layer[b] {
			return layer[a] - layer[b]
		}
		return compareKeys(curve[a], curve[b])
	})
	return list, layer
}

// rangeOf gives what tells strong from weak vines of a list, below 0 where it is
// not known: the earlier map; where there is none, the visual score of this
// season if half of them have one; nil for neither.
func rangeOf(in PlanInput, list []int) (from string, values []float32) {
	if e := in.Earlier; e != nil {
		values = make([]float32, len(e.KgPerM))
		for i, b := range e.Basis {
			values[i] = -1
			if b != None {
				values[i] = max(0, e.KgPerM[i])
			}
		}
		return fmt.Sprintf("vigour of season %d", e.Season), values
	}
	scored := 0
	for _, i := range list {
		if i < len(in.Stand.Score) && in.Stand.Score[i] >= 0 {
			scored++
		}
	}
	if scored == 0 || 2*scored < len(list) {
		return "", nil
	}
	return fmt.Sprintf("visual score of season %d", in.Stand.Season), in.Stand.Score
}
