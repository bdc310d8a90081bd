package tile

import (
	"math"

	"courson/geo/stand"
	"courson/geo/vine"
)

// conditions is the number of conditions a vine can be in.
const conditions = int(vine.Doubtful) + 1

// commonShare is the part of a piece's vines, one in so many, that makes a
// condition count for the piece. Chosen by us: four vines of a fine piece.
const commonShare = 5

// bySeverity lists the conditions from the one that most asks for attention.
func bySeverity(c int) vine.Condition {
	return [conditions]vine.Condition{
		vine.Missing, vine.Dead, vine.Diseased, vine.Weak, vine.Doubtful,
		vine.Replanted, vine.Young, vine.Bearing, vine.Unseen,
	}[c]
}

// counts is what is summed over vines. Living vines are those to be pruned.
type counts struct {
	condition [conditions]int32
	progress  [5]int32 // of living vines
	vigour    int32    // sum of the classes
	classed   int32    // vines with a class
	doubt     [5]int32 // living vines by class of findings
	change    [6]int32
	patch     [5]int32
	load      [7]int32 // living vines by class of the load
	follow    [4]int32 // living vines by job at shoot thinning
	replant   [stand.Replantings]int32
	zone      [MostZones + 1]int32
}

func (c *counts) add(d *counts) {
	for i, n := range d.condition {
		c.condition[i] += n
	}
	for i, n := range d.progress {
		c.progress[i] += n
	}
	c.vigour += d.vigour
	c.classed += d.classed
	addTo(c.doubt[:], d.doubt[:])
	addTo(c.change[:], d.change[:])
	addTo(c.patch[:], d.patch[:])
	addTo(c.load[:], d.load[:])
	addTo(c.follow[:], d.follow[:])
	addTo(c.replant[:], d.replant[:])
	addTo(c.zone[:], d.zone[:])
}

func (c *counts) vines() (n int) {
	for _, k := range c.condition {
		n += int(k)
	}
	return n
}

func (c *counts) gaps() int    { return int(c.condition[vine.Missing] + c.condition[vine.Dead]) }
func (c *counts) done() int    { return int(c.progress[vine.Done]) }
func (c *counts) toPrune() int { return c.vines() - c.gaps() }

// meanVigour is the mean class, 0 where no vine has one.
func (c *counts) meanVigour() float64 {
	if c.classed == 0 {
		return 0
	}
	return float64(c.vigour) / float64(c.classed)
}

// worst is the most severe condition that at least one vine in commonShare is
// in; if none is that common, the commonest.
func (c *counts) worst() vine.Condition {
	n := int32(c.vines())
	commonest := vine.Unseen
	for i := range conditions {
		k := bySeverity(i)
		if c.condition[k] > 0 && c.condition[k]*commonShare >= n {
			return k
		}
		if c.condition[k] > c.condition[commonest] {
			commonest = k
		}
	}
	return commonest
}

// state is how far pruning has got over all living vines: to redo as soon as
// one is, done when each is done or skipped (also when none is left to prune),
// started when some are.
func (c *counts) state() vine.Progress {
	switch left := c.progress[vine.NotStarted] + c.progress[vine.Started]; {
	case c.progress[vine.ToRedo] > 0:
		return vine.ToRedo
	case left == 0:
		return vine.Done
	case c.progress[vine.Started]+c.progress[vine.Done] > 0:
		return vine.Started
	}
	return vine.NotStarted
}

// overall is what a whole block shows: as a piece, but to redo only when one
// living vine in commonShare is.
func (c *counts) overall() pieceSum {
	s := c.piece()
	if s.progress == vine.ToRedo && int(c.progress[vine.ToRedo])*commonShare < c.toPrune() {
		s.progress = vine.Started
	}
	return s
}

// pieceSum is what a piece shows.
type pieceSum struct {
	vines, gaps, done uint16
	condition         vine.Condition
	vigour            uint8 // mean class rounded, 0 none
	progress          vine.Progress
	doubt, change     uint8 // the commonest class, 0 none
	patch             stand.Patchy
	load              uint8 // the commonest class, 0 no plan
	follow            vine.FollowUp
	replant           stand.Replanting
	zone              uint8 // the commonest, 0 none
}

func (c *counts) piece() pieceSum {
	clamp := func(n int) uint16 { return uint16(min(n, math.MaxUint16)) }
	return pieceSum{
		vines: clamp(c.vines()), gaps: clamp(c.gaps()), done: clamp(c.done()),
		condition: c.worst(), vigour: uint8(math.Round(c.meanVigour())), progress: c.state(),
		doubt: commonest(c.doubt[1:]), change: commonest(c.change[1:]), patch: c.patchy(),
		load: commonest(c.load[1:]), follow: c.due(), replant: c.replanting(), zone: commonest(c.zone[1:]),
	}
}

// sums holds what each piece of an index shows of a stand, and the whole block.
type sums struct {
	fine, coarse []pieceSum
	block        counts
}

// sumPieces goes once through the stand's columns, about 3 ns per vine.
func sumPieces(ix *Index, s *stand.Stand) *sums {
	out := &sums{fine: make([]pieceSum, len(ix.fine)), coarse: make([]pieceSum, len(ix.coarse))}
	for i, p := range ix.coarse {
		var whole counts
		for j := p.sub; j < p.subEnd; j++ {
			c := countVines(s, int(ix.fine[j].first), int(ix.fine[j].end))
			out.fine[j] = c.piece()
			whole.add(&c)
		}
		out.coarse[i] = whole.piece()
		out.block.add(&whole)
	}
	return out
}

// commonest gives which of the classes from 1 up most vines are in, 0 where
// none is in any; of equals the lower.
func commonest(classes []int32) uint8 {
	best, most := uint8(0), int32(0)
	for i, n := range classes {
		if n > most {
			best, most = uint8(i+1), n
		}
	}
	return best
}

// patchy is the gravest kind of patch that one vine in commonShare is in, else
// plain where any was judged.
func (c *counts) patchy() stand.Patchy {
	all := int32(0)
	for _, n := range c.patch {
		all += n
	}
	for _, p := range [...]stand.Patchy{stand.PatchWeak, stand.PatchLikely, stand.PatchStrong} {
		if n := c.patch[p]; n > 0 && n*commonShare >= all {
			return p
		}
	}
	if all > c.patch[stand.PatchNone] {
		return stand.PatchPlain
	}
	return stand.PatchNone
}

// due is the commonest job that is left to do in a piece, as soon as one vine has
// one; else done where all are.
func (c *counts) due() vine.FollowUp {
	if job := commonest(c.follow[vine.FollowRubOff:vine.FollowDone]); job != 0 {
		return vine.FollowUp(job)
	}
	if c.follow[vine.FollowDone] > 0 {
		return vine.FollowDone
	}
	return vine.FollowNone
}

// replantShare is the part of a piece's places, one in so many, from which gaps
// show. Chosen by us: two places of a fine piece, so that a few single gaps do not
// paint a whole block.
const replantShare = 10

// replanting is the commonest kind of gap or step of a piece, where enough of its
// places have one.
func (c *counts) replanting() stand.Replanting {
	n := int32(0)
	for _, k := range c.replant[1:] {
		n += k
	}
	if n == 0 || n*replantShare < int32(c.vines()) {
		return stand.ReplantNone
	}
	return stand.Replanting(commonest(c.replant[1:]))
}

func addTo(sum, more []int32) {
	for i, n := range more {
		sum[i] += n
	}
}

// countFound sums what was found of the living vines first … end-1.
func (c *counts) countFound(s *stand.Stand, first, end int) {
	f := s.Found
	if f == nil {
		return
	}
	for i := first; i < end; i++ {
		if f.Replant != nil {
			c.replant[min(f.Replant[i], stand.Replantings-1)]++
		}
		if f.Zone != nil {
			c.zone[min(int(f.Zone[i]), MostZones)]++
		}
		if !s.Condition[i].Living() {
			continue
		}
		c.doubt[min(int(f.Doubt[i]), len(c.doubt)-1)]++
		c.change[min(int(f.Change[i]), len(c.change)-1)]++
		c.patch[min(int(f.Patch[i]), len(c.patch)-1)]++
	}
}

// countVines sums vines first … end-1.
func countVines(s *stand.Stand, first, end int) counts {
	var c counts
	for i := first; i < end; i++ {
		cond := s.Condition[i]
		if int(cond) >= conditions {
			cond = vine.Unseen
		}
		c.condition[cond]++
		if p := s.Progress[i]; cond.Living() && int(p) < len(c.progress) {
			c.progress[p]++
		}
		if v := s.Vigour[i]; v > 0 && v <= 5 {
			c.vigour += int32(v)
			c.classed++
		}
		if cond.Living() {
			c.load[s.LoadOf(i)]++
			c.follow[min(int(s.FollowOf(i)), len(c.follow)-1)]++
		}
	}
	c.countFound(s, first, end)
	return c
}
