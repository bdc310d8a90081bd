package patch

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
)

// What says what the values of a season are: two seasons can be compared value by
// value only where all three agree.
type What struct{ Quantity, Unit, Scale string }

func (w What) String() string {
	s := w.Quantity
	if w.Unit != "" {
		s += " in " + w.Unit
	}
	if w.Scale != "" {
		s += " on the scale " + w.Scale
	}
	return s
}

// Seasons is what Change compares: the blocks of a map in two seasons.
type Seasons struct {
	Before, After What
	Blocks        []BlockSeasons
	// SoundFrom is the value from which a vine counts as sound and not weak, in
	// both seasons; nil: not asked.
	SoundFrom *float64
}

// BlockSeasons is a block in two seasons.
type BlockSeasons struct {
	Earlier, Later *stand.Stand // of one ground
	Before, After  Column
	Cultivar       string
	Cultivars      []string // vine by vine where a block is mixed, else nil
}

// Changed is how vines changed between two seasons, paired vine by vine.
type Changed struct {
	// Ranks tells that the two seasons hold different measures, as Why says: what
	// is compared then is each vine's rank among the paired vines of its block, 0
	// weakest to 100, so that only who rose and who fell can be seen, and not
	// whether all did.
	Ranks bool
	Why   string

	All        Group
	ByLeaf     []Group // by leaf class in the later season, youngest first
	ByCultivar []Group
	ByBoth     []Group // where there are several of both
	Blocks     []BlockChanged
}

// BlockChanged is one block vine by vine.
type BlockChanged struct {
	Difference Column // later less earlier, in the unit or in ranks
	Percent    Column // of the earlier value, where that is above 0; none for ranks
	Pairs      int
	// Not paired although seen in both seasons: died or gone since, or another
	// plant than before.
	Lost, Replanted int
}

// Group is the vines of a leaf class, a cultivar or both.
type Group struct {
	Leaf     *LeafClass // nil: all
	Cultivar *string    // nil: all
	Vines    Paired
	// Rows compares the means of rows. Vines of a row are alike and not so many
	// independent witnesses: with hundreds of vines any change is beyond chance.
	// This is the test to go by.
	Rows Paired
	// Turned counts sound and weak vines; nil where not asked or for ranks.
	Turned *Turned
}

// pair is a vine in both seasons.
type pair struct {
	before, after float64
	kind          kind
	row           [2]int // block and row
}

// Change compares two seasons. Only plants that stood and were seen in both are
// paired; a position replanted since is another plant. Errors: ErrColumn,
// ErrNotFinite, ErrOption, and ErrFewValues where no vine can be paired.
func Change(s Seasons) (Changed, error) {
	if err := s.check(); err != nil {
		return Changed{}, err
	}
	out := Changed{Blocks: make([]BlockChanged, len(s.Blocks))}
	if s.Before != s.After {
		out.Ranks = true
		out.Why = fmt.Sprintf("%s cannot be compared with %s: ranks within each block are compared", s.Before, s.After)
	}
	var pairs []pair
	for k := range s.Blocks {
		b := &s.Blocks[k]
		vines := b.pairs(&out.Blocks[k])
		pairs = append(pairs, b.compare(k, vines, out.Ranks, &out.Blocks[k])...)
	}
	if len(pairs) == 0 {
		return Changed{}, fmt.Errorf("%w: no plant was seen in both seasons", ErrFewValues)
	}
	limit := s.SoundFrom
	if out.Ranks {
		limit = nil
	}
	out.group(pairs, limit)
	return out, nil
}

func (s Seasons) check() error {
	if s.SoundFrom != nil && (math.IsNaN(*s.SoundFrom) || math.IsInf(*s.SoundFrom, 0)) {
		return fmt.Errorf("limit of sound vines: %w", ErrNotFinite)
	}
	for _, b := range s.Blocks {
		if err := b.check(); err != nil {
			return err
		}
	}
	return nil
}

func (b BlockSeasons) check() error {
	if b.Earlier == nil || b.Later == nil || b.Earlier.Ground == nil || b.Later.Ground == nil {
		return fmt.Errorf("a block without a stand of both seasons: %w", ErrColumn)
	}
	g := b.Later.Ground
	if b.Earlier.Ground != g && !slices.Equal(b.Earlier.Ground.ID, g.ID) {
		return fmt.Errorf("block %s: the stands of the two seasons are not of one ground: %w", g.Code, ErrColumn)
	}
	if b.Earlier.Season >= b.Later.Season {
		return fmt.Errorf("block %s: season %d is not before %d: %w", g.Code, b.Earlier.Season, b.Later.Season, ErrOption)
	}
	var err error
	if b.Cultivars != nil && len(b.Cultivars) != g.Len() {
		err = fmt.Errorf("block %s: %d cultivars for %d vines: %w", g.Code, len(b.Cultivars), g.Len(), ErrColumn)
	}
	return errors.Join(b.Before.check("earlier values", b.Later), b.After.check("later values", b.Later), err)
}

// pairs gives the vines that can be paired.
func (b *BlockSeasons) pairs(out *BlockChanged) []int {
	var vines []int
	years := b.Later.Season - b.Earlier.Season
	for i := range b.Later.Condition {
		if !b.Before.Seen[i] || !b.After.Seen[i] {
			continue
		}
		was, is := int(b.Earlier.Leaf[i]), int(b.Later.Leaf[i])
		switch {
		case !b.Earlier.Condition[i].Living() || !b.Later.Condition[i].Living():
			out.Lost++
		case is > 0 && (was > 0 && is-was != years || is <= years):
			out.Replanted++
		default:
			vines = append(vines, i)
		}
	}
	out.Pairs = len(vines)
	return vines
}

// compare fills the columns of block k and gives its pairs.
func (b *BlockSeasons) compare(k int, vines []int, ranks bool, out *BlockChanged) []pair {
	before, after := pick(b.Before.Value, vines), pick(b.After.Value, vines)
	if ranks {
		before, after = percentRanks(before), percentRanks(after)
	}
	n := b.Later.Ground.Len()
	out.Difference, out.Percent = NewColumn(n), NewColumn(n)
	pairs := make([]pair, len(vines))
	block := Block{Stand: b.Later, Cultivar: b.Cultivar, Cultivars: b.Cultivars}
	for j, d := range differences(before, after) {
		i := vines[j]
		out.Difference.Set(i, d)
		if before[j] > 0 && !ranks {
			out.Percent.Set(i, 100*d/before[j])
		}
		pairs[j] = pair{before[j], after[j], kindOf(&block, i), [2]int{k, int(b.Later.Ground.Row[i])}}
	}
	return pairs
}

func pick(values []float64, vines []int) []float64 {
	out := make([]float64, len(vines))
	for k, i := range vines {
		out[k] = values[i]
	}
	return out
}

// percentRanks puts values in order from 0 to 100: 100 (rank - 1/2) / n, equal
// values sharing the mean of their ranks.
func percentRanks(v []float64) []float64 {
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(v[i], v[j]) })
	out := make([]float64, len(v))
	for lo := 0; lo < len(order); {
		hi := lo
		for hi < len(order) && v[order[hi]] == v[order[lo]] {
			hi++
		}
		for _, i := range order[lo:hi] {
			out[i] = 100 * float64(lo+hi) / 2 / float64(len(v))
		}
		lo = hi
	}
	return out
}

// group makes the groups of the pairs.
func (c *Changed) group(pairs []pair, limit *float64) {
	leaves, cultivars, both := map[LeafClass][]pair{}, map[string][]pair{}, map[kind][]pair{}
	for _, p := range pairs {
		leaves[p.kind.leaf] = append(leaves[p.kind.leaf], p)
		cultivars[p.kind.cultivar] = append(cultivars[p.kind.cultivar], p)
		both[p.kind] = append(both[p.kind], p)
	}
	c.All = groupOf(pairs, limit)
	for leaf, p := range leaves {
		g := groupOf(p, limit)
		g.Leaf = &leaf
		c.ByLeaf = append(c.ByLeaf, g)
	}
	for cultivar, p := range cultivars {
		g := groupOf(p, limit)
		g.Cultivar = &cultivar
		c.ByCultivar = append(c.ByCultivar, g)
	}
	slices.SortFunc(c.ByLeaf, func(a, b Group) int { return cmp.Compare(a.Leaf.From, b.Leaf.From) })
	slices.SortFunc(c.ByCultivar, func(a, b Group) int { return cmp.Compare(*a.Cultivar, *b.Cultivar) })
	if len(leaves) < 2 || len(cultivars) < 2 {
		return
	}
	for _, k := range sortedKinds(both) {
		g := groupOf(both[k], limit)
		g.Leaf, g.Cultivar = &k.leaf, &k.cultivar
		c.ByBoth = append(c.ByBoth, g)
	}
}

func groupOf(pairs []pair, limit *float64) Group {
	before, after := make([]float64, len(pairs)), make([]float64, len(pairs))
	for k, p := range pairs {
		before[k], after[k] = p.before, p.after
	}
	g := Group{Vines: Pair(before, after), Rows: pairRows(pairs)}
	if limit != nil {
		g.Turned = turn(pairs, *limit)
	}
	return g
}

// pairRows compares the means of rows.
func pairRows(pairs []pair) Paired {
	type sums struct{ before, after, n float64 }
	rows := map[[2]int]sums{}
	for _, p := range pairs {
		s := rows[p.row]
		rows[p.row] = sums{s.before + p.before, s.after + p.after, s.n + 1}
	}
	keys := make([][2]int, 0, len(rows))
	for k := range rows {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b [2]int) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	before, after := make([]float64, len(keys)), make([]float64, len(keys))
	for k, key := range keys {
		s := rows[key]
		before[k], after[k] = s.before/s.n, s.after/s.n
	}
	return Pair(before, after)
}

func turn(pairs []pair, limit float64) *Turned {
	var n [2][2]int // weak before, weak after
	for _, p := range pairs {
		was, is := 0, 0
		if p.before < limit {
			was = 1
		}
		if p.after < limit {
			is = 1
		}
		n[was][is]++
	}
	t := Turn(n[0][0], n[0][1], n[1][0], n[1][1])
	return &t
}
