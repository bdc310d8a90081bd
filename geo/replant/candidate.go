package replant

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Action is what a candidate asks for.
type Action uint8

// The actions, from lightest to gravest. The gravest that applies is told.
const (
	ActWatch   Action = iota // sick, kept under watch
	ActTest                  // to be tested: an infected vine stands near
	ActLook                  // a person looks whether it is a gap
	ActReplace               // to be replaced, if the agronomist agrees
)

var actionWords = [...]string{"watch", "test", "look", "replace"}

// String gives the word for people.
func (a Action) String() string {
	return word(actionWords[:], int(a), "action")
}

// Why says what made a position a candidate, one bit each.
type Why uint16

// The reasons.
const (
	WhyMissing Why = 1 << iota
	WhyDead
	WhyAboveGraft
	WhySuspected
	WhyDoubtful
	WhySick
	WhyWeak
	WhyNeighbour
)

// Sickness is a finding of sickness on a vine. A vine with symptoms one year and
// none the next is not cured: findings of all years belong in the list.
type Sickness struct {
	Vine int32 // index in the ground
	Kind string
	Day  Day
}

// BlockInput is what is known of a block.
type BlockInput struct {
	Stand    *stand.Stand
	Findings *Findings // nil: the stand's conditions are taken as they are
	Sick     []Sickness
	Past     []*stand.Stand // the winters before, newest first, on the same ground
}

// Candidate is a position to do something about.
type Candidate struct {
	Vine    int    `json:"vine"` // index in the ground
	Address string `json:"address"`
	Action  Action `json:"action"`
	Why     Why    `json:"why"`
	Text    string `json:"text"`
}

// candidates collects by position before texts are written.
type candidates struct {
	in     BlockInput
	r      Rules
	g      *stand.Ground
	why    []Why
	action []Action
	kinds  map[int][]Sickness
	near   map[int]near // positions to test → the infected vine that is nearest
}

type near struct {
	vine int
	kind string
}

// Candidates lists, in the order of the ground, the positions that the rules pick,
// each with its reasons in words. The errors wrap ErrSettings or ErrInput.
func Candidates(in BlockInput, r Rules) ([]Candidate, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	n := in.Stand.Ground.Len()
	c := &candidates{in: in, r: r, g: in.Stand.Ground, why: make([]Why, n), action: make([]Action, n), kinds: map[int][]Sickness{}, near: map[int]near{}}
	for i := range n {
		c.byState(i)
		if c.weak(i) {
			c.add(i, WhyWeak, ActReplace)
		}
	}
	c.sick()
	var out []Candidate
	for i, w := range c.why {
		if w != 0 {
			out = append(out, Candidate{Vine: i, Address: c.g.Address(i).String(), Action: c.action[i], Why: w, Text: c.text(i)})
		}
	}
	return out, nil
}

func (in *BlockInput) check() error {
	if in.Stand == nil {
		return wrong(ErrInput, "stand", "none", "a stand")
	}
	n := in.Stand.Ground.Len()
	if in.Findings != nil && len(in.Findings.Verdicts) != n {
		return wrong(ErrInput, "findings", len(in.Findings.Verdicts), fmt.Sprintf("%d, as many as vines", n))
	}
	for k, p := range in.Past {
		if p == nil || p.Ground.Len() != n || p.Season != in.Stand.Season-1-k {
			return wrong(ErrInput, fmt.Sprintf("past winter %d", k+1), "another block or season", fmt.Sprintf("the stand of %d on the same ground", in.Stand.Season-1-k))
		}
	}
	for k, s := range in.Sick {
		if s.Vine < 0 || int(s.Vine) >= n || s.Kind == "" {
			return wrong(ErrInput, fmt.Sprintf("sickness %d", k), fmt.Sprintf("vine %d, kind %q", s.Vine, s.Kind), "a vine of the block and a kind")
		}
	}
	return nil
}

func (c *candidates) add(i int, w Why, a Action) {
	c.why[i] |= w
	c.action[i] = max(c.action[i], a)
}

// state gives what holds of a position: the findings, and where they say nothing
// the stand.
func (c *candidates) state(i int) State {
	if f := c.in.Findings; f != nil && f.Verdicts[i].State != Unjudged {
		return f.Verdicts[i].State
	}
	switch c.in.Stand.Condition[i] {
	case vine.Missing:
		return Missing
	case vine.Dead:
		return DeadStanding
	case vine.Doubtful:
		return Doubtful
	case vine.Unseen:
		return Unjudged
	}
	return Living
}

func (c *candidates) byState(i int) {
	switch c.state(i) {
	case Missing:
		c.add(i, WhyMissing, ActReplace)
	case DeadStanding:
		c.add(i, WhyDead, ActReplace)
	case DeadAboveGraft:
		c.add(i, WhyAboveGraft, ActReplace)
	case Suspected:
		c.add(i, WhySuspected, ActLook)
	case Doubtful:
		c.add(i, WhyDoubtful, ActLook)
	}
}

// weak tells whether a living vine was weak in each of the last winters. A winter
// in which nothing was seen of it breaks the row.
func (c *candidates) weak(i int) bool {
	n := c.r.WeakWinters
	if n == 0 || len(c.in.Past) < n-1 || c.state(i).Gap() {
		return false
	}
	for k := range n {
		s := c.in.Stand
		if k > 0 {
			s = c.in.Past[k-1]
		}
		v := s.Vigour[i]
		if s.Condition[i] != vine.Weak && (v == 0 || int(v) > c.r.WeakClass) {
			return false
		}
		if leaf := s.Leaf[i]; leaf != 0 && int(leaf) < c.r.WeakFromLeaf {
			return false
		}
	}
	return true
}

// sick marks infected vines and the living ones around them.
func (c *candidates) sick() {
	for _, s := range c.in.Sick {
		c.kinds[int(s.Vine)] = append(c.kinds[int(s.Vine)], s)
	}
	for _, s := range c.in.Sick {
		i, rule := int(s.Vine), c.r.Sick[s.Kind]
		if c.state(i).Gap() {
			c.why[i] |= WhySick
		} else if rule.Replace {
			c.add(i, WhySick, ActReplace)
		} else {
			c.add(i, WhySick, ActWatch)
		}
		if rule.Test {
			c.eachNeighbour(i, func(j int) { c.test(j, i, s.Kind) })
		}
	}
}

func (c *candidates) test(j, from int, kind string) {
	for _, s := range c.kinds[j] {
		if s.Kind == kind {
			return // known to be infected itself
		}
	}
	if c.state(j).Gap() {
		return
	}
	if old, ok := c.near[j]; !ok || c.distance(j, from) < c.distance(j, old.vine) {
		c.near[j] = near{from, kind}
	}
	c.add(j, WhyNeighbour, ActTest)
}

// eachNeighbour gives the places around one: along the row without crossing a
// road, and the nearest place of the rows beside.
func (c *candidates) eachNeighbour(i int, do func(j int)) {
	r := int(c.g.Row[i])
	row := c.g.Rows[r]
	for _, way := range []int{-1, 1} {
		for k := 1; k <= c.r.Along; k++ {
			j := i + way*k
			if j < row.First || j >= row.First+row.Count || c.part(j) != c.part(i) {
				break
			}
			do(j)
		}
		for k := 1; k <= c.r.Across; k++ {
			q := r + way*k
			if q < 0 || q >= len(c.g.Rows) || c.g.Rows[q].Count == 0 {
				continue
			}
			if j := c.nearest(i, c.g.Rows[q]); j >= 0 {
				do(j)
			}
		}
	}
}

func (c *candidates) part(i int) uint8 {
	if len(c.g.Part) == 0 {
		return 0
	}
	return c.g.Part[i]
}

// nearest gives the place of a row that is nearest on the ground, -1 where even
// that is further along than the neighbours in the row would be (a shorter row).
func (c *candidates) nearest(i int, row stand.Row) int {
	best, d := -1, math.Inf(1)
	for j := row.First; j < row.First+row.Count; j++ {
		if e := c.distance(i, j); e < d {
			best, d = j, e
		}
	}
	if len(c.g.X) > 0 && c.g.RowSpacingM > 0 && c.g.VineSpacingM > 0 {
		across := c.g.RowSpacingM * float64(max(1, c.r.Across))
		if d > math.Hypot(across, c.g.VineSpacingM*float64(max(1, c.r.Along)))*1.1 {
			return -1
		}
	}
	return best
}

// distance in m on the ground, or in numbers where no positions are known.
func (c *candidates) distance(i, j int) float64 {
	if len(c.g.X) == 0 {
		return math.Abs(float64(c.g.Number[i]-c.g.Number[j])) + 10*math.Abs(float64(c.g.Row[i]-c.g.Row[j]))
	}
	dx, dy := float64(c.g.X[i]-c.g.X[j]), float64(c.g.Y[i]-c.g.Y[j])
	return math.Sqrt(dx*dx + dy*dy)
}

func (c *candidates) text(i int) string {
	var parts []string
	say := func(w Why, format string, args ...any) {
		if c.why[i]&w != 0 {
			parts = append(parts, fmt.Sprintf(format, args...))
		}
	}
	say(WhyMissing, "no plant stands there")
	say(WhyDead, "the plant is dead")
	say(WhyAboveGraft, "dead above the graft; the rootstock lives and may be grafted again")
	say(WhySuspected, "suspected gap: to be looked at")
	say(WhyDoubtful, "doubtful: to be looked at again")
	if c.why[i]&WhySick != 0 {
		parts = append(parts, "sick: "+sickText(c.kinds[i]))
	}
	say(WhyWeak, "weak in %d winters running", c.r.WeakWinters)
	if n, ok := c.near[i]; ok {
		parts = append(parts, fmt.Sprintf("to be tested: %s has %s", c.g.Address(n.vine), n.kind))
	}
	return strings.Join(parts, "; ")
}

func sickText(list []Sickness) string {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b Sickness) int { return cmp.Compare(a.Day, b.Day) })
	var words []string
	for _, s := range list {
		words = append(words, fmt.Sprintf("%s (%s)", s.Kind, s.Day))
	}
	return strings.Join(slices.Compact(words), ", ")
}
