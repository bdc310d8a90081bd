package rate

import "math"

// How sure the zone of a vine is: see Zones.SureBy.
const (
	byStandardError = "standard error"
	byMembership    = "membership"
)

// sureBy tells which way holds: standard errors where a column has any, unless
// classes are fuzzy.
func (m *maker) sureBy() string {
	if m.o.Method == FuzzyMethod {
		return byMembership
	}
	for _, k := range m.f.cols {
		if m.f.in[k].SE != nil {
			return byStandardError
		}
	}
	return byMembership
}

// sure fills the column.
func (m *maker) sure(by string) []float32 {
	out := make([]float32, len(m.zone))
	row, se := make([]float64, m.f.d), make([]float64, m.f.d)
	borders := m.blendBorders()
	for i, z := range m.zone {
		out[i] = -1
		if z == 0 || m.class[i] == 0 {
			continue
		}
		m.f.at(i, row)
		switch {
		case by == byMembership:
			out[i] = float32(m.membership(row, int(z)-1))
		case !m.f.se(i, se):
		case borders != nil:
			out[i] = float32(within(m.f.blend(row), m.f.blendSE(row, se), borders, int(z)-1))
		default:
			out[i] = float32(m.probability(row, se, int(z)-1))
		}
	}
	return out
}

// membership is the fuzzy share of a point in class z, by the values known.
func (m *maker) membership(row []float64, z int) float64 {
	own := squaredKnown(row, m.centres[z])
	var sum float64
	for _, c := range m.centres {
		d := squaredKnown(row, c)
		if d == own {
			sum++
			continue
		}
		if d == 0 {
			return 0
		}
		sum += math.Pow(own/d, 1/(m.o.Fuzziness-1))
	}
	return 1 / sum
}

// probability that the true values lie nearest to centre z, errors being normal:
// one less the chances that another centre is nearer. In one column only the
// centres next to it can be, and the figure is exact; in several chances overlap,
// and it is the least that the probability can be.
func (m *maker) probability(row, se []float64, z int) float64 {
	p := 1.0
	for k, c := range m.centres {
		if k == z || m.f.d == 1 && k != z-1 && k != z+1 {
			continue
		}
		own := m.centres[z]
		var margin, variance float64
		for j, v := range row {
			if v != v {
				continue
			}
			margin += ((v-c[j])*(v-c[j]) - (v-own[j])*(v-own[j])) / 2
			variance += se[j] * se[j] * (c[j] - own[j]) * (c[j] - own[j])
		}
		p -= 1 - normalAbove(margin, math.Sqrt(variance))
	}
	return max(0, min(1, p))
}

// within is the probability that a normal value lies in class z between borders.
func within(v, se float64, borders []float64, z int) float64 {
	p := 1.0
	if z > 0 {
		p -= 1 - normalAbove(v-borders[z-1], se)
	}
	if z < len(borders) {
		p -= 1 - normalAbove(borders[z]-v, se)
	}
	return max(0, min(1, p))
}

// normalAbove is the probability that a normal value of that mean lies above 0.
func normalAbove(mean, sd float64) float64 {
	if sd > 0 {
		return math.Erfc(-mean/sd/math.Sqrt2) / 2
	}
	switch {
	case mean > 0:
		return 1
	case mean < 0:
		return 0
	}
	return 0.5
}

// blendSE is the standard error of blend, errors of columns taken as independent.
func (f *features) blendSE(row, se []float64) float64 {
	var sum, weight float64
	for j, k := range f.cols {
		if w := f.scale[k].Weight; row[j] == row[j] {
			sum, weight = sum+w*se[j]*se[j], weight+w
		}
	}
	if weight == 0 {
		return 0
	}
	return math.Sqrt(sum) / weight
}
