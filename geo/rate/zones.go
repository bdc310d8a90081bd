package rate

import (
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
)

// Method is how vines are sorted into classes.
type Method uint8

// The methods. On a single column KMeansMethod and NaturalMethod give the same,
// exact classes. NaturalMethod on several columns cuts their weighted mean.
const (
	KMeansMethod Method = iota
	NaturalMethod
	FuzzyMethod
)

var methodWords = [...]string{"k-means", "natural breaks", "fuzzy c-means"}

// String gives the words.
func (m Method) String() string { return methodWords[min(int(m), len(methodWords)-1)] }

// Options are the settings of Make. Zero fields take the default.
type Options struct {
	Method    Method
	Zones     int     // 2 to 6; default 3
	Seed      uint64  // of the starts
	Starts    int     // default 10
	Fuzziness float64 // exponent of fuzzy c-means; default 2

	// LeastM2 is the least area of a connected part of a zone; default 1,000 m²
	// (0.1 ha, common practice 0.1 to 0.2 ha); below 0: none.
	LeastM2 float64
	// WidthM is the width of the machine: zones are at least so wide, which makes
	// them passes of whole rows. 0: not held to.
	WidthM float64
	// PassRows is how many rows the machine does in a pass: borders lie between
	// passes. 0: by WidthM, or vine by vine where that is 0.
	PassRows int
	// WholeRows gives each pass one zone from end to end.
	WholeRows bool
	// ReactionM is how far the machine goes until a new rate is in force: within
	// passes, zones are at least so long. Default 15 m (10 to 20 m, common practice).
	ReactionM float64
	Rounds    int // of the majority filter; default 3, below 0: none
}

func (o Options) withDefaults() (Options, error) {
	for _, v := range []float64{o.Fuzziness, o.LeastM2, o.WidthM, o.ReactionM} {
		if !finite(v) {
			return o, refuse(ErrOption, "a setting of the zones is not a number")
		}
	}
	if o.Zones == 0 {
		o.Zones = 3
	}
	if o.Starts == 0 {
		o.Starts = 10
	}
	if o.Fuzziness == 0 {
		o.Fuzziness = DefaultFuzziness
	}
	if o.LeastM2 == 0 {
		o.LeastM2 = 1000
	}
	if o.ReactionM == 0 {
		o.ReactionM = 15
	}
	if o.Rounds == 0 {
		o.Rounds = 3
	}
	switch {
	case o.Zones < 2 || o.Zones > MostZones:
		return o, refuse(ErrOption, "%d zones asked for: 2 to %d are possible, 2 or 3 are usual", o.Zones, MostZones)
	case o.Starts < 1 || o.PassRows < 0 || o.WidthM < 0 || o.ReactionM < 0:
		return o, refuse(ErrOption, "starts %d, rows per pass %d, width %g m, reaction length %g m: none may be below 0", o.Starts, o.PassRows, o.WidthM, o.ReactionM)
	case int(o.Method) >= len(methodWords):
		return o, refuse(ErrOption, "method %d is not known", o.Method)
	}
	return o, nil
}

// MostZones is the largest number of zones.
const MostZones = stand.MostZones

// Zone is one zone of a block.
type Zone struct {
	Number int     `json:"number"` // 1 the weakest
	Vines  int     `json:"vines"`  // positions
	Living int     `json:"living"`
	Gaps   int     `json:"gaps"` // missing or dead
	AreaM2 float64 `json:"area_m2"`
	RowM   float64 `json:"row_m"` // metres of row
	Parts  int     `json:"parts"` // connected parts
	// Means are those of each column over the living vines with a value, Known how
	// many those are; a mean without any is 0.
	Means []float64 `json:"means"`
	Known []int     `json:"known"`
	Z     float64   `json:"z"`    // weighted mean of the standardised columns
	Sure  float64   `json:"sure"` // mean of Zones.Sure over vines that have it; -1 none
}

// Hectares of the zone.
func (z *Zone) Hectares() float64 { return z.AreaM2 / 1e4 }

// Small is a part of a zone below the least area that no other part borders on.
type Small struct {
	Zone   int     `json:"zone"`
	AreaM2 float64 `json:"area_m2"`
	First  int     `json:"first"` // its first vine
}

// Zones is a block cut into zones. Columns have the ground's length.
type Zones struct {
	Options Options
	Zone    []uint8 // 1 the weakest, up; 0 none
	Class   []uint8 // as the vine's own values say, before smoothing; 0 no value
	// Sure is how sure it is that the vine belongs to its zone, 0 to 1, -1 where it
	// has no value. By standard errors it is a probability, exact for one column,
	// for several at least that; else it is a fuzzy membership. See SureBy.
	Sure      []float32
	SureBy    string
	CellM2    []float64 // area of the ground cell
	List      []Zone    // entry k is zone k+1
	Scale     []Scaling
	Explained float64 // share of the variance between classes, by the vines' own values
	// Kept is that share between the zones as smoothed and snapped.
	Kept    float64
	Changed int // vines whose zone is another than their own values say
	Small   []Small
	Notes   []string // what a reader of the map should know, in plain words
	Remedy  *Remedy  // nil where all zones are left that were asked for, or nothing helps

	lie *lie
}

// Make cuts a block into zones. Errors: ErrInput, ErrOption, ErrNotFinite,
// ErrFewValues, ErrNoSpread, ErrDistinct, ErrGround. The same input and seed give
// the same zones.
func Make(s *stand.Stand, columns []Column, o Options) (*Zones, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	f, err := read(s, columns)
	if err != nil {
		return nil, err
	}
	l, err := layOut(s.Ground)
	if err != nil {
		return nil, err
	}
	m := &maker{s: s, f: f, l: l, o: o}
	if err := m.classify(); err != nil {
		return nil, err
	}
	m.shape()
	return m.result(), nil
}

// maker holds what Make works with.
type maker struct {
	s       *stand.Stand
	f       *features
	l       *lie
	o       Options
	centres [][]float64 // on the scale of features, by rising blend
	class   []uint8     // by the vine's own values, 1 up
	zone    []uint8
	share   float64 // variance explained by classes
	notes   []string
	remedy  *Remedy
}

// classify sorts vines with values by the method and numbers classes by rising
// mean.
func (m *maker) classify() (err error) {
	if m.centres, err = m.findCentres(m.o.Zones); err != nil {
		return err
	}
	m.sortCentres()
	m.sortVines()
	return nil
}

// sortCentres puts them in order of rising mean.
func (m *maker) sortCentres() {
	slices.SortStableFunc(m.centres, func(a, b []float64) int {
		if d := m.f.blend(a) - m.f.blend(b); d != 0 {
			return map[bool]int{true: -1, false: 1}[d < 0]
		}
		return slices.Compare(a, b)
	})
}

// sortVines gives every living vine with a value its class.
func (m *maker) sortVines() {
	m.class = make([]uint8, m.s.Ground.Len())
	row := make([]float64, m.f.d)
	borders := m.blendBorders()
	for i := range m.class {
		if !m.s.Condition[i].Living() || m.f.at(i, row) == 0 {
			continue
		}
		if borders != nil {
			m.class[i] = 1 + classBelow(borders, m.f.blend(row))
			continue
		}
		m.class[i] = 1 + uint8(nearestKnown(row, m.centres))
	}
	m.share = m.explained(m.class)
}

// findCentres gives k centres by the method.
func (m *maker) findCentres(k int) ([][]float64, error) {
	f := m.f
	switch {
	case m.o.Method == FuzzyMethod:
		r, err := FuzzyMeans(f.z, f.d, k, m.o.Fuzziness, m.o.Starts, m.o.Seed)
		if err != nil {
			return nil, err
		}
		return r.Centres, nil
	case m.o.Method == NaturalMethod || f.d == 1:
		return m.naturalCentres(k)
	}
	p, err := KMeans(f.z, f.d, k, m.o.Starts, m.o.Seed)
	if err != nil {
		return nil, err
	}
	return p.Centres, nil
}

// naturalCentres are the means of natural classes of the weighted mean of the
// columns.
func (m *maker) naturalCentres(k int) ([][]float64, error) {
	f := m.f
	blends := make([]float64, len(f.vines))
	for i := range blends {
		blends[i] = f.blend(f.z[i*f.d : i*f.d+f.d])
	}
	all, err := NaturalBreaks(blends, k)
	if err != nil {
		return nil, err
	}
	n := &all[k-1]
	centres := make([][]float64, k)
	for c := range centres {
		centres[c] = make([]float64, f.d)
	}
	for i, b := range blends {
		c := n.Class(b)
		for j := range f.d {
			centres[c][j] += f.z[i*f.d+j] / float64(n.Sizes[c])
		}
	}
	return centres, nil
}

// blendBorders are the limits between natural classes of several columns; nil
// where classes go by the nearest centre.
func (m *maker) blendBorders() []float64 {
	if m.o.Method != NaturalMethod || m.f.d == 1 {
		return nil
	}
	var out []float64
	for c := 1; c < len(m.centres); c++ {
		out = append(out, (m.f.blend(m.centres[c-1])+m.f.blend(m.centres[c]))/2)
	}
	return out
}

func classBelow(borders []float64, v float64) (c uint8) {
	for _, b := range borders {
		if v > b {
			c++
		}
	}
	return c
}

// nearestKnown is the nearest centre by the values that are known.
func nearestKnown(row []float64, centres [][]float64) (c int) {
	least := math.Inf(1)
	for k, centre := range centres {
		if s := squaredKnown(row, centre); s < least {
			c, least = k, s
		}
	}
	return c
}

func squaredKnown(row, centre []float64) (sum float64) {
	for j, v := range row {
		if v == v {
			sum += (v - centre[j]) * (v - centre[j])
		}
	}
	return sum
}

// shape makes zones of classes that a machine can follow.
func (m *maker) shape() {
	zone, left := m.follow(m.o)
	if m.zone = zone; left > 0 {
		m.notes = append(m.notes, fmt.Sprintf("No zone for %s: no vine with a value stands in these rows or beside them.", vines(left)))
	}
	if m.o.LeastM2 > 0 {
		m.l.merge(m.zone, m.o.LeastM2)
	}
	if m.smallestZone(m.zone) == 0 {
		m.remedy = m.findRemedy()
	}
	m.renumber()
}

// follow smooths and snaps the classes, before small parts are merged, and tells
// how many vines have no zone.
func (m *maker) follow(o Options) (zone []uint8, left int) {
	zone = slices.Clone(m.class)
	left = m.l.spread(zone)
	if o.Rounds > 0 {
		zone = m.l.majority(zone, o.Zones, o.Rounds)
	}
	rows := o.PassRows
	if o.WidthM > 0 {
		rows = max(rows, int(math.Ceil(o.WidthM/m.l.rowM-1e-6)))
	}
	if rows > 0 || o.WholeRows {
		m.snap(zone, max(1, rows), o)
	}
	return zone, left
}

func (m *maker) snap(zone []uint8, rows int, o Options) {
	least := max(o.ReactionM, m.l.vineM)
	if o.WholeRows {
		least = math.Inf(1)
	}
	passOf, passes := m.l.passes(rows)
	binOf, bins := m.l.bins(passOf, passes, least)
	m.l.elect(zone, o.Zones, binOf, bins)
}
