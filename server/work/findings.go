package work

import (
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/patch"
	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vigour"
	"courson/geo/vine"
)

// findingsVersion is part of every stamp: raise it when the same measures give
// other findings.
const findingsVersion = 1

// Measured is a block in one season with all that was measured on its vines.
type Measured struct {
	Stand   *stand.Stand
	Columns []vigour.Column // besides weight, score and yield, which the stand has
	// Covariate is what the block's standards let help where vigour has to be
	// estimated: one of the words of VigourStandards, "" as by default.
	Covariate string
	// Before gives the season before on the same ground, nil where there is none.
	Before func() (*Measured, error)
}

// FindJob is what Find works from.
type FindJob struct {
	Now      Measured
	Earlier  []Measured // earlier seasons on the same ground, newest first
	Cultivar string
	Search   PatchStandards
	Since    int // the earlier season to compare with; 0: the newest that can be
	Stop     func() bool
	Progress func(share float64)
}

// Findings is what was found of a block in a season.
type Findings struct {
	Base   string // stamp of the measures alone, without what shows of replants
	Found  *stand.Found
	Drawn  tile.Areas
	Places []Place      // of Drawn.Patches
	Stand  *stand.Stand // that it was worked out from

	Vigour *vigour.Result
	// Tested is what was tested vine by vine for patches; Patches is nil where
	// there is nothing to test.
	Tested  Quantity
	Value   patch.Column
	Patches *patch.Found
	Likely  *patch.LikelyFound // nil where every vine was seen
	LimitKg float64            // under which a vine counts as weak, kg/m
	Search  PatchStandards     // how patches were looked for
	Change  *Change            // nil without an earlier season
}

// Find works out vigour, patches and change of a block. What cannot be done
// honestly is refused in the parts; an error is a stop or a fault.
func Find(job FindJob) (*Findings, error) {
	s := job.Now.Stand
	out := &Findings{Stand: s, Search: job.Search}
	var err error
	if out.Vigour, err = job.Now.Vigour(job.Stop, func(share float64) { job.tell(0.6 * share) }); err != nil {
		return nil, fmt.Errorf("vigour of block %s, season %d: %w", s.Ground.Code, s.Season, err)
	}
	out.LimitKg = out.Vigour.Limits[1]
	if err := out.findPatches(job); err != nil {
		return nil, fmt.Errorf("patches of block %s, season %d: %w", s.Ground.Code, s.Season, err)
	}
	job.tell(0.9)
	if out.Change, err = changeOf(job); err != nil {
		return nil, fmt.Errorf("change of block %s, season %d: %w", s.Ground.Code, s.Season, err)
	}
	out.draw()
	out.Base = Stamp(job)
	out.Found = out.columns(out.Base)
	job.tell(1)
	return out, nil
}

func (j FindJob) tell(share float64) {
	if j.Progress != nil {
		j.Progress(share)
	}
}

// findPatches tests what was seen vine by vine; from a sample it gives areas
// that are likely weak.
func (f *Findings) findPatches(job FindJob) error {
	before := map[string]patch.Column{}
	if len(job.Earlier) > 0 {
		for _, q := range quantities(job.Earlier[0]) {
			before[q.key()] = q.column
		}
	}
	for _, q := range quantities(job.Now) {
		b := patch.Block{Stand: job.Now.Stand, Value: q.column, Cultivar: job.Cultivar}
		b.Before = before[q.key()]
		got, err := patch.Find(job.Search.search(b))
		if err != nil {
			return err
		}
		found := got.Blocks[0]
		if f.Patches == nil || !errors.Is(found.Refused, patch.ErrSampled) {
			f.Tested, f.Value, f.Patches = q.Quantity, q.column, &found
		}
		if !errors.Is(found.Refused, patch.ErrSampled) {
			return nil
		}
	}
	return f.findLikely(job)
}

// findLikely gives areas that a sample makes likely to be weak.
func (f *Findings) findLikely(job FindJob) error {
	s, v := job.Now.Stand, f.Vigour
	if v.Kriging.Estimated == 0 {
		return nil
	}
	in := patch.Sample{Stand: s, Probability: patch.NewColumn(s.Ground.Len()), Measured: patch.NewColumn(s.Ground.Len()),
		NuggetShare: v.Kriging.Nugget, Level: job.Search.Level, Least: job.Search.Least}
	for i, basis := range v.Basis {
		if basis == vigour.Measured || basis == vigour.Calibrated {
			in.Measured.Set(i, float64(v.KgPerM[i]))
		}
		if p, ok := v.ProbabilityBelow(i, f.LimitKg); ok && s.Condition[i].Living() {
			in.Probability.Set(i, p)
		}
	}
	got, err := patch.Likely(in)
	if err != nil {
		return err
	}
	f.Likely = &got
	return nil
}

// draw brings the outlines to degrees.
func (f *Findings) draw() {
	g := f.Stand.Ground
	fr := frame.New(orb.Point(g.Origin))
	add := func(kind string, n, vines int, shortfall float64, o patch.Outline) {
		mp, id := outlineOf(fr, o), patchID(g.Code, f.Stand.Season, kind, n)
		shape, err := tile.PrepareOutline(mp)
		if err != nil || shape.Empty() {
			shape = &tile.Outline{}
		}
		f.Places = append(f.Places, placeOf(mp, id, kind))
		f.Drawn.Patches = append(f.Drawn.Patches, tile.Patch{ID: id, Kind: kind, Vines: vines,
			Hectares: math.Round(o.AreaM2()) / 1e4, ShortfallPct: math.Round(shortfall*1000) / 10, Outline: shape})
	}
	if f.Patches != nil {
		count := map[string]int{}
		for i := range f.Patches.Patches {
			p := &f.Patches.Patches[i]
			count[p.Kind.String()]++
			add(p.Kind.String(), count[p.Kind.String()], len(p.Vines), p.ShortfallShare, p.Outline)
		}
	}
	if f.Likely != nil {
		for i := range f.Likely.Patches {
			p := &f.Likely.Patches[i]
			add("likely", i+1, len(p.Vines), 0, p.Outline)
		}
	}
}

// patchID names a patch for people and links: block, season, kind, number.
func patchID(code string, season int, kind string, n int) string {
	return fmt.Sprintf("%s-%d-%c%d", code, season, kind[0], n)
}

// Place is where a patch lies.
type Place struct {
	ID      string
	Kind    string // weak, strong, likely
	Center  [2]float64
	Bounds  [4]float64       // west, south, east, north, degrees
	Outline orb.MultiPolygon // degrees, wound as RFC 7946 wants
}

// placeOf sums up an outline; its middle is that of the largest polygon's
// bounds.
func placeOf(mp orb.MultiPolygon, id, kind string) Place {
	b := mp.Bound()
	p := Place{ID: id, Kind: kind, Outline: mp, Bounds: [4]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}}
	largest := 0
	for i := range mp {
		if size(mp[i].Bound()) > size(mp[largest].Bound()) {
			largest = i
		}
	}
	if len(mp) > 0 {
		p.Center = mp[largest].Bound().Center()
	}
	return p
}

func size(b orb.Bound) float64 { return (b.Max[0] - b.Min[0]) * (b.Max[1] - b.Min[1]) }

// PatchPlace gives where patch i of Patches lies.
func (f *Findings) PatchPlace(i int) Place { return f.Places[i] }

// LikelyPlace gives where patch i of Likely lies.
func (f *Findings) LikelyPlace(i int) Place {
	n := 0
	if f.Patches != nil {
		n = len(f.Patches.Patches)
	}
	return f.Places[n+i]
}

func outlineOf(fr frame.Frame, o patch.Outline) orb.MultiPolygon {
	mp := make(orb.MultiPolygon, len(o))
	for i, pg := range o {
		for _, r := range pg {
			ring := make(orb.Ring, len(r))
			for k, p := range r {
				ring[k] = fr.Inverse(p.X, p.Y)
			}
			mp[i] = append(mp[i], ring)
		}
	}
	return mp
}

// columns makes the columns that maps are drawn from.
func (f *Findings) columns(stamp string) *stand.Found {
	n := f.Stand.Ground.Len()
	out := &stand.Found{Stamp: stamp, Class: f.Vigour.Class, Basis: make([]uint8, n), Doubt: make([]uint8, n),
		Change: make([]uint8, n), Patch: make([]stand.Patchy, n)}
	for i := range n {
		out.Basis[i] = uint8(f.Vigour.Basis[i])
		if se := f.Vigour.SE[i]; se >= 0 && f.Vigour.Basis[i] != vigour.None {
			out.Doubt[i] = tile.DoubtClass(float64(se))
		}
		out.Patch[i] = f.patchy(i)
	}
	if f.Change != nil {
		f.Change.classes(out.Change)
	}
	return out
}

// patchy is how a vine stands in its surroundings. A test goes before what a
// sample makes likely.
func (f *Findings) patchy(i int) stand.Patchy {
	if p := f.Patches; p != nil && p.Refused == nil {
		switch at := p.PatchOf[i]; {
		case at >= 0 && p.Patches[at].Kind == patch.Weak:
			return stand.PatchWeak
		case at >= 0:
			return stand.PatchStrong
		case p.Tested[i]:
			return stand.PatchPlain
		}
		return stand.PatchNone
	}
	if l := f.Likely; l != nil && l.Refused == nil && f.Vigour.Basis[i] != vigour.None {
		if l.PatchOf[i] >= 0 {
			return stand.PatchLikely
		}
		return stand.PatchPlain
	}
	return stand.PatchNone
}

// Stamp names what a job works from: the same measures give the same stamp.
func Stamp(job FindJob) string {
	h := fnv.New64a()
	fmt.Fprintf(h, "%d %q %v %d", findingsVersion, job.Cultivar, job.Search, job.Since)
	for _, m := range append([]Measured{job.Now}, job.Earlier...) {
		m.print(h)
	}
	return fmt.Sprintf("%016x", h.Sum64())
}

func (m Measured) print(w io.Writer) {
	s := m.Stand
	fmt.Fprintf(w, "|%d %d %v %s", s.Season, s.Ground.Revision, s.Rule, m.Covariate)
	var row [1]byte
	for i, c := range s.Condition {
		row[0] = s.Leaf[i] << 1
		if c.Living() {
			row[0] |= 1
		}
		if c == vine.Doubtful || c == vine.Replanted {
			row[0] ^= 0x80
		}
		_, _ = w.Write(row[:])
	}
	for _, c := range [][]float32{s.WeightG, s.Score, s.YieldG} {
		printColumn(w, c)
	}
	for _, c := range m.Columns {
		fmt.Fprintf(w, " %s %q", c.Quantity, c.Scale)
		printColumn(w, c.Values)
	}
}

func printColumn(w io.Writer, values []float32) {
	buf := make([]byte, 0, 4*len(values))
	for _, v := range values {
		b := math.Float32bits(v)
		buf = append(buf, byte(b), byte(b>>8), byte(b>>16), byte(b>>24))
	}
	_, _ = w.Write(buf)
}
