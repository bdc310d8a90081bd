package patch

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"sync"

	"courson/geo/stand"
)

// Input is what Find looks at: the blocks of one map in one season. All vines
// of the map are tested together, so that the rate holds for the map; to have it
// hold for each block by itself, call Find for each block.
type Input struct {
	Blocks []Block
	Rate   float64 // share of false findings among the vines found; 0: 0.05
	Least  int     // fewest vines found that make a patch; 0: 10
	// AlongM and AcrossRows are the reach of the test, m along the rows and row
	// distances across them. 0: about 6 m and 1.75, and wider where vines stand so
	// far apart that fewer than 16 values would lie in reach.
	AlongM, AcrossRows float64
}

// Block is a block with what was seen vine by vine.
type Block struct {
	Stand *stand.Stand
	// Value is what was seen on each vine: pruning weight per metre, cane count,
	// score, raster sample … The less, the weaker. Never estimates: kriged values
	// are smooth by construction, and smooth values have patches also in noise.
	Value Column
	// Before is the same quantity on the same scale in an earlier season; may be
	// left out.
	Before Column
	// Cultivar is what grows there, with the rootstock where that differs;
	// Cultivars says so vine by vine where a block is mixed, else nil.
	Cultivar  string
	Cultivars []string
}

// Result is what Find found, block by block in the order given.
type Result struct {
	Rate   float64
	Tests  int // vines tested, over all blocks
	Blocks []Found
}

// Found is what was found in one block.
type Found struct {
	Reach Reach // of the test
	// Refused says why the block was not tested, nil where it was: ErrSampled,
	// ErrFewValues, ErrNoSpread, ErrSpacing, ErrReach.
	Refused error
	// Moran tells whether the block has structure at all; the patches rest on the
	// tests of single vines.
	Moran   Global
	Judged  int // living vines with a value and enough others of their kind
	Clipped int // of those, vines so far off that they were counted as nearer
	// Alone are judged vines with fewer than eight values in reach: not tested.
	Alone     int
	Scattered int // vines found that are too few together to be a patch

	// One entry for each vine.
	Tested   []bool
	Expected Column    // what leaf and cultivar lead one to expect
	Z        []float64 // Gi*, 0 where not tested; below 0 weak surroundings
	Q        []float64 // p adjusted over the map, 1 where not tested
	PatchOf  []int32   // index in Patches, -1 for none

	Patches []Patch // weak ones first, the largest first
}

// Structured tells whether the values of the block hang together in space more
// than chance would have it (Moran's I, 5 %).
func (f *Found) Structured() bool { return f.Refused == nil && f.Moran.Structured(structureLevel) }

// What Find takes where nothing is said; chosen by us.
const (
	defaultRate  = 0.05
	defaultLeast = 10
	// reachAlongM covers some vines on either side whatever the spacing;
	// reachRows takes in the rows beside and not the ones behind them.
	reachAlongM = 6
	reachRows   = 1.75
	// wantedInReach is the number of values in reach that the default aims at.
	wantedInReach = 16
	// fewestInReach is the guard of the normal approximation: with six
	// neighbours it let vines through in pure noise.
	fewestInReach = 8
	// fewestJudged is the least number of values of a block that is tested.
	fewestJudged = 30
	// leastSeen is the share of living vines that must have a value.
	leastSeen = 0.5
	// farthest is how many spreads off a vine may count: a mistyped value is one
	// vine and not a patch around it.
	farthest       = 6
	structureLevel = 0.05
	// rounded widens the reach a little: places are held to a fraction of a
	// millimetre, and vines at its very edge would come and go.
	rounded = 1.001
)

// Find finds the weak and the strong patches of a map: it compares every vine
// with what its leaf and cultivar lead one to expect, tests the surroundings of
// each vine (Gi*), corrects for the number of tests (Benjamini and Hochberg),
// leaves out sound vines on the rim, and joins what is left to patches.
//
// A block that cannot be tested says why in Found.Refused. Errors, for input
// that does not fit together: ErrColumn, ErrNotFinite, ErrOption.
func Find(in Input) (Result, error) {
	if err := in.check(); err != nil {
		return Result{}, err
	}
	in = in.withDefaults()
	expected := expect(in.Blocks)
	trials := make([]*trial, len(in.Blocks))
	each(len(trials), func(k int) {
		trials[k] = newTrial(&in, &in.Blocks[k], expected[k])
		trials[k].test()
	})
	out := Result{Rate: in.Rate, Tests: adjustAll(trials), Blocks: make([]Found, len(trials))}
	each(len(trials), func(k int) {
		trials[k].findPatches()
		out.Blocks[k] = trials[k].found
	})
	return out, nil
}

// each calls do for 0 to n-1, shared over the processors.
func each(n int, do func(k int)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for k := range next {
				do(k)
			}
		})
	}
	for k := range n {
		next <- k
	}
	close(next)
	wg.Wait()
}

func (in Input) check() error {
	for _, v := range []float64{in.Rate, in.AlongM, in.AcrossRows} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			return fmt.Errorf("rate %v, reach of %v m and %v rows: %w", in.Rate, in.AlongM, in.AcrossRows, ErrOption)
		}
	}
	if in.Rate >= 1 || in.Least < 0 {
		return fmt.Errorf("rate %v and least size of %d vines: %w: a rate lies between 0 and 1", in.Rate, in.Least, ErrOption)
	}
	for _, b := range in.Blocks {
		if err := b.check(); err != nil {
			return err
		}
	}
	return nil
}

func (b Block) check() error {
	if b.Stand == nil || b.Stand.Ground == nil {
		return fmt.Errorf("a block without a stand: %w", ErrColumn)
	}
	errs := []error{b.Value.check("values", b.Stand)}
	if !b.Before.empty() {
		errs = append(errs, b.Before.check("earlier values", b.Stand))
	}
	if n := b.Stand.Ground.Len(); b.Cultivars != nil && len(b.Cultivars) != n {
		errs = append(errs, fmt.Errorf("block %s: %d cultivars for %d vines: %w", b.Stand.Ground.Code, len(b.Cultivars), n, ErrColumn))
	}
	return errors.Join(errs...)
}

func (in Input) withDefaults() Input {
	if in.Rate == 0 {
		in.Rate = defaultRate
	}
	if in.Least == 0 {
		in.Least = defaultLeast
	}
	return in
}
