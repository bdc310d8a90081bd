package rate

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Remedy is settings with which no zone is lost: the nearest to those asked for
// that were found.
type Remedy struct {
	LeastM2   float64 `json:"least_m2"`
	WidthM    float64 `json:"width_m"`
	PassRows  int     `json:"rows_per_pass"`
	WholeRows bool    `json:"whole_rows"`
	Rounds    int     `json:"rounds"`
	Text      string  `json:"text"` // what to change, from what to what
}

// findRemedy tries gentler settings, one change before two, and then the least
// area that the smallest zone still has. nil where nothing helps.
func (m *maker) findRemedy() *Remedy {
	for _, o := range m.gentler() {
		zone, _ := m.follow(o)
		if area := m.smallestZone(zone); area < o.LeastM2 {
			o.LeastM2 = roundDown(area)
		}
		if o.LeastM2 > 0 {
			m.l.merge(zone, o.LeastM2)
		}
		if m.smallestZone(zone) > 0 {
			return &Remedy{o.LeastM2, o.WidthM, o.PassRows, o.WholeRows, o.Rounds, m.changes(o)}
		}
	}
	return nil
}

// gentler gives the options as asked for, then with less smoothing and snapping.
func (m *maker) gentler() []Options {
	var (
		out     = []Options{m.o}
		whole   = func(o *Options) { o.WholeRows = false }
		rounds  = func(o *Options) { o.Rounds = -1 }
		passes  = func(o *Options) { o.WidthM, o.PassRows, o.WholeRows = 0, 0, false }
		changes = [][]func(*Options){{whole}, {rounds}, {whole, rounds}, {passes}, {passes, rounds}}
	)
	for _, list := range changes {
		o := m.o
		for _, change := range list {
			change(&o)
		}
		if !slices.Contains(out, o) {
			out = append(out, o)
		}
	}
	return out
}

// smallestZone gives the least, over all zones asked for, of the area of a zone's
// largest part, m²; 0 where one has none.
func (m *maker) smallestZone(zone []uint8) float64 {
	_, parts := m.l.parts(zone)
	most := make([]float64, m.o.Zones+1)
	for _, p := range parts {
		most[p.zone] = max(most[p.zone], p.areaM2)
	}
	return slices.Min(most[1:])
}

// roundDown to tens of m², small areas to tenths.
func roundDown(v float64) float64 {
	if v >= 20 {
		return math.Floor(v/10) * 10
	}
	return math.Floor(v*10) / 10
}

// changes says in words how options differ from those asked for.
func (m *maker) changes(o Options) string {
	var list []string
	if o.LeastM2 != m.o.LeastM2 {
		list = append(list, fmt.Sprintf("set the least area to %g m² instead of %g", o.LeastM2, m.o.LeastM2))
	}
	if o.WholeRows != m.o.WholeRows {
		list = append(list, "let zones end within rows")
	}
	if o.WidthM != m.o.WidthM {
		list = append(list, fmt.Sprintf("do without the machine's width of %g m", m.o.WidthM))
	}
	if o.PassRows != m.o.PassRows {
		list = append(list, fmt.Sprintf("do without passes of %d rows", m.o.PassRows))
	}
	if o.Rounds != m.o.Rounds {
		list = append(list, fmt.Sprintf("smooth 0 rounds instead of %d", m.o.Rounds))
	}
	return fmt.Sprintf("To keep all %d zones, %s; or ask for fewer zones", m.o.Zones, strings.Join(list, " and "))
}

// zoneCount says how many zones.
func zoneCount(n int) string {
	if n == 1 {
		return "1 zone"
	}
	return fmt.Sprintf("%d zones", n)
}
