package rate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// renumber numbers the zones that are left by rising mean of their living vines,
// and classes and centres with them. Classes whose zone is gone go to the zone
// with the nearest centre.
func (m *maker) renumber() {
	left := m.leftByMean()
	if len(left) == 0 {
		return
	}
	if gone := m.o.Zones - len(left); gone > 0 {
		m.notes = append(m.notes, m.lost(gone))
	}
	to := make([]uint8, m.o.Zones+1)
	centres := make([][]float64, len(left))
	for k, old := range left {
		to[old], centres[k] = uint8(k+1), m.centres[old-1]
	}
	for z := 1; z <= m.o.Zones; z++ {
		if to[z] == 0 {
			c, _ := nearest(m.centres[z-1], centres)
			to[z] = uint8(c + 1)
		}
	}
	m.centres = centres
	for i := range m.zone {
		m.zone[i], m.class[i] = to[m.zone[i]], to[m.class[i]]
	}
}

// lost says that zones are gone, and what would keep them.
func (m *maker) lost(gone int) string {
	are, had := "is gone: it had", ""
	if gone > 1 {
		are = "are gone: they had"
	}
	if m.remedy != nil {
		had = " " + m.remedy.Text + "."
	}
	return fmt.Sprintf("%d of %d zones %s no part left of at least %.0f m², or none that holds its ground when borders are snapped.%s", gone, m.o.Zones, are, max(0, m.o.LeastM2), had)
}

// leftByMean gives the zones that have vines, by rising mean; the centre stands
// in for the mean where none of the vines has a value.
func (m *maker) leftByMean() (left []uint8) {
	sums, counts := make([]float64, m.o.Zones+1), make([]int, m.o.Zones+1)
	there := make([]bool, m.o.Zones+1)
	row := make([]float64, m.f.d)
	for i, z := range m.zone {
		there[z] = true
		if m.s.Condition[i].Living() && m.f.at(i, row) > 0 {
			sums[z] += m.f.blend(row)
			counts[z]++
		}
	}
	means := make([]float64, m.o.Zones+1)
	for z := 1; z <= m.o.Zones; z++ {
		means[z] = m.f.blend(m.centres[z-1])
		if counts[z] > 0 {
			means[z] = sums[z] / float64(counts[z])
		}
		if there[z] {
			left = append(left, uint8(z))
		}
	}
	slices.SortStableFunc(left, func(a, b uint8) int { return cmp.Compare(means[a], means[b]) })
	return left
}

// explained is the share of the variance of all columns that lies between zones:
// one less the sum of squares within over that in all, of vines with all values.
func (m *maker) explained(zone []uint8) float64 {
	d := m.f.d
	sum, count := make([]float64, (MostZones+1)*d), make([]float64, MostZones+1)
	total, all := make([]float64, d), 0.0
	for k, i := range m.f.vines {
		z := int(zone[i])
		count[z]++
		all++
		for j := range d {
			sum[z*d+j] += m.f.z[k*d+j]
			total[j] += m.f.z[k*d+j]
		}
	}
	var inside, in float64
	for k, i := range m.f.vines {
		z := int(zone[i])
		for j := range d {
			v := m.f.z[k*d+j]
			inside += (v - sum[z*d+j]/count[z]) * (v - sum[z*d+j]/count[z])
			in += (v - total[j]/all) * (v - total[j]/all)
		}
	}
	if in <= 0 {
		return 0
	}
	return max(0, 1-inside/in)
}

func (m *maker) result() *Zones {
	by := m.sureBy()
	z := &Zones{Options: m.o, Zone: m.zone, Class: m.class, Sure: m.sure(by), SureBy: by, CellM2: m.l.cellM2, Scale: m.f.scale,
		Explained: m.share, Kept: m.explained(m.zone), Remedy: m.remedy, lie: m.l}
	for _, v := range m.zone {
		for len(z.List) < int(v) {
			z.List = append(z.List, Zone{Number: len(z.List) + 1})
		}
	}
	for k := range z.List {
		z.List[k].Means, z.List[k].Known = make([]float64, len(m.f.in)), make([]int, len(m.f.in))
	}
	m.count(z)
	m.findSmall(z)
	z.Notes = append(slices.Clone(m.f.notes), m.notes...)
	m.say(z)
	return z
}

// count fills the list of zones.
func (m *maker) count(z *Zones) {
	type sum struct{ blend, sure, blends, sures float64 }
	sums := make([]sum, len(z.List))
	row := make([]float64, m.f.d)
	for i, v := range m.zone {
		if v == 0 {
			continue
		}
		of, s := &z.List[v-1], &sums[v-1]
		of.Vines++
		of.AreaM2 += m.l.cellM2[i]
		of.RowM += m.l.lengthM(i)
		if m.class[i] > 0 && m.class[i] != v {
			z.Changed++
		}
		if !m.s.Condition[i].Living() {
			of.Gaps++
			continue
		}
		of.Living++
		for k := range m.f.in {
			if c := &m.f.in[k]; c.known(i) {
				of.Means[k] += float64(c.Values[i])
				of.Known[k]++
			}
		}
		if m.f.at(i, row) > 0 {
			s.blend, s.blends = s.blend+m.f.blend(row), s.blends+1
		}
		if p := z.Sure[i]; p >= 0 {
			s.sure, s.sures = s.sure+float64(p), s.sures+1
		}
	}
	for k := range z.List {
		of, s := &z.List[k], sums[k]
		for c, n := range of.Known {
			of.Means[c] /= math.Max(1, float64(n))
		}
		of.Z = s.blend / math.Max(1, s.blends)
		if of.Sure = -1; s.sures > 0 {
			of.Sure = s.sure / s.sures
		}
	}
}

// lengthM is the metres of row whose ground is vine i's.
func (l *lie) lengthM(i int) float64 {
	p := &l.pieces[l.pieceOf[i]]
	k := i - p.lo
	if !p.rising {
		k = p.hi - 1 - i
	}
	u := l.u[i]
	before := (u - float64(p.cuts[k])/1000) * stretch(p.slope[k])
	return before + (float64(p.cuts[k+1])/1000-u)*stretch(p.slope[k+1])
}

// findSmall counts the parts of zones and names those that stayed small.
func (m *maker) findSmall(z *Zones) {
	_, parts := m.l.parts(m.zone)
	for _, p := range parts {
		if p.zone == 0 {
			continue
		}
		z.List[p.zone-1].Parts++
		if p.areaM2 < m.o.LeastM2 {
			z.Small = append(z.Small, Small{int(p.zone), p.areaM2, int(p.first)})
		}
	}
}

func (m *maker) say(z *Zones) {
	say := func(format string, args ...any) { z.Notes = append(z.Notes, fmt.Sprintf(format, args...)) }
	living, whole := 0, len(m.f.vines)
	partial := 0
	for i, c := range m.s.Condition {
		if c.Living() {
			living++
			if m.class[i] > 0 {
				partial++
			}
		}
	}
	if partial -= whole; partial > 0 {
		say("%s sorted by some of the columns only: the others have no value there.", were(partial))
	}
	if none := living - whole - partial; none > 0 {
		say("%s without any value lie in the zone of the vines around.", livingVines(none))
	}
	if gaps := len(m.zone) - living; gaps > 0 {
		say("%s without a living vine lie in the zone of the vines around; their ground counts.", positions(gaps))
	}
	for _, s := range z.Small {
		say("A part of zone %d at %s has %.0f m², less than the %.0f m² asked for: no other zone borders on it.", s.Zone, m.s.Ground.Address(s.First), s.AreaM2, m.o.LeastM2)
	}
	say("Zones cover the ground of the vines; headlands and roads are in none.")
}

func were(n int) string {
	if n == 1 {
		return "1 vine was"
	}
	return fmt.Sprintf("%d vines were", n)
}

func livingVines(n int) string {
	if n == 1 {
		return "1 living vine"
	}
	return fmt.Sprintf("%d living vines", n)
}

func positions(n int) string {
	if n == 1 {
		return "1 position"
	}
	return fmt.Sprintf("%d positions", n)
}

// Outlines gives the ground of the zones, entry k that of zone k+1: unions of
// ground cells that share borders place for place, so that neighbours neither
// overlap nor leave a sliver. Metres of the block's frame.
func (z *Zones) Outlines() []Outline {
	return z.lie.outlines(z.Zone, len(z.List))[1:]
}
