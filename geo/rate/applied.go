package rate

import (
	"fmt"
	"math"
)

// Applied is one reading of what a machine put out: a place in metres of the
// block's frame, and the rate in the unit of the plan.
type Applied struct {
	XY
	Value float64
}

// ZoneApplied compares plan and work of a zone.
type ZoneApplied struct {
	Zone    int     `json:"zone"`
	Points  int     `json:"points"`
	Planned float64 `json:"planned"`
	Mean    float64 `json:"mean"`    // of the points; 0 without any
	SD      float64 `json:"sd"`      // divisor n-1; 0 below two points
	Percent float64 `json:"percent"` // mean less planned, per cent of planned; 0 where that is 0
	// Within is the share of points within Tolerance of the plan, 0 to 1. Where
	// nothing was planned it is the share at or below Tolerance of the block's mean.
	Within float64 `json:"within"`
}

// Work is what was applied in a block.
type Work struct {
	Unit    Unit          `json:"unit"`
	Zones   []ZoneApplied `json:"zones"`
	Points  int           `json:"points"`  // in a zone
	Outside int           `json:"outside"` // in none
	Bad     int           `json:"bad"`     // without a number, or below 0; not counted elsewhere
	Within  float64       `json:"within"`
	Notes   []string      `json:"notes"`
}

// Tolerance is how far an applied rate may be off and still counts as planned;
// common practice.
const Tolerance = 0.10

// Compare sorts readings into zones and compares them with the plan. Readings are
// taken alike, whatever time or way lies between them. Errors: ErrOption, and
// ErrFewValues where no point lies in a zone.
func (z *Zones) Compare(r *Rates, points []Applied) (*Work, error) {
	if err := z.fits(r); err != nil {
		return nil, err
	}
	w := &Work{Unit: r.Unit}
	sums := w.sort(z, r, points)
	var in float64
	for k, s := range sums {
		of := ZoneApplied{Zone: k + 1, Planned: r.Zones[k].Rate, Points: s.n}
		if s.n == 0 {
			w.Notes = append(w.Notes, fmt.Sprintf("Zone %d has no reading.", k+1))
		} else {
			s.judge(&of)
		}
		w.Zones = append(w.Zones, of)
		w.Points += s.n
		in += s.in
	}
	if w.Points == 0 {
		return nil, refuse(ErrFewValues, "none of %d readings lies in a zone: %d outside, %d without a number; check block and coordinate system", len(points), w.Outside, w.Bad)
	}
	w.Within = in / float64(w.Points)
	w.say()
	return w, nil
}

// readings are sums over those of one zone, about the first.
type readings struct {
	n                      int
	first, sum, square, in float64
}

func (s *readings) add(value float64, asPlanned bool) {
	if s.n == 0 {
		s.first = value
	}
	s.n++
	d := value - s.first
	s.sum, s.square = s.sum+d, s.square+d*d
	if asPlanned {
		s.in++
	}
}

func (s *readings) judge(of *ZoneApplied) {
	n := float64(s.n)
	of.Mean, of.Within = s.first+s.sum/n, s.in/n
	if s.n > 1 {
		of.SD = math.Sqrt(max(0, s.square-s.sum*s.sum/n) / (n - 1))
	}
	if of.Planned > 0 {
		of.Percent = 100 * (of.Mean - of.Planned) / of.Planned
	}
}

// sort puts every reading in its zone, and counts those that have none.
func (w *Work) sort(z *Zones, r *Rates, points []Applied) []readings {
	f := newFinder(z.Outlines())
	sums := make([]readings, len(z.List))
	for _, p := range points {
		if !finite(p.X) || !finite(p.Y) || !finite(p.Value) || p.Value < 0 {
			w.Bad++
			continue
		}
		k := f.zone(p.XY) - 1
		if k < 0 {
			w.Outside++
			continue
		}
		sums[k].add(p.Value, asPlanned(p.Value, r.Zones[k].Rate, r.Mean))
	}
	return sums
}

func (w *Work) say() {
	if w.Outside > 0 {
		w.Notes = append(w.Notes, fmt.Sprintf("%s outside the zones, as on headlands.", counted(w.Outside, "reading lies", "readings lie")))
	}
	if w.Bad > 0 {
		w.Notes = append(w.Notes, fmt.Sprintf("%s no number or one below 0.", counted(w.Bad, "reading has", "readings have")))
	}
}

// asPlanned tells whether a reading is within the tolerance, the limits counting.
func asPlanned(value, planned, mean float64) bool {
	if planned == 0 {
		return value <= Tolerance*mean
	}
	return math.Abs(value-planned) <= Tolerance*planned*(1+1e-12)
}

// finder finds the zone of a place: lines of all outlines, sorted into bands from
// south to north.
type finder struct {
	south, high float64
	bands       [][]zoneLine
}

type zoneLine struct {
	a, b XY
	zone int
}

func newFinder(outlines []Outline) *finder {
	var all []zoneLine
	f := &finder{south: math.Inf(1)}
	north := math.Inf(-1)
	for k, o := range outlines {
		for _, p := range o {
			for _, r := range p {
				for i := 1; i < len(r); i++ {
					all = append(all, zoneLine{r[i-1], r[i], k + 1})
					f.south, north = min(f.south, r[i].Y), max(north, r[i].Y)
				}
			}
		}
	}
	n := int(math.Sqrt(float64(len(all)))) + 1
	f.high = (north - f.south) / float64(n)
	f.bands = make([][]zoneLine, n)
	for _, e := range all {
		for k := f.band(min(e.a.Y, e.b.Y)); k <= f.band(max(e.a.Y, e.b.Y)); k++ {
			f.bands[k] = append(f.bands[k], e)
		}
	}
	return f
}

func (f *finder) band(y float64) int {
	return max(0, min(len(f.bands)-1, int((y-f.south)/f.high)))
}

// zone gives the zone that holds a place, 0 for none. On a border it is one of
// the zones beside it.
func (f *finder) zone(p XY) int {
	if len(f.bands) == 0 || !(f.high > 0) || p.Y < f.south || p.Y > f.south+f.high*float64(len(f.bands)) {
		return 0
	}
	var inside [MostZones + 1]bool
	for _, e := range f.bands[f.band(p.Y)] {
		if (e.a.Y > p.Y) != (e.b.Y > p.Y) && p.X < e.a.X+(p.Y-e.a.Y)/(e.b.Y-e.a.Y)*(e.b.X-e.a.X) {
			inside[e.zone] = !inside[e.zone]
		}
	}
	for k := 1; k < len(inside); k++ {
		if inside[k] {
			return k
		}
	}
	return 0
}

// counted writes a number with its word.
func counted(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}
