package demoestate

import "math"

// soil gives how deep the ground is at a place, 0 shallow to 1 deep: a smooth
// field of three sizes of patch about the block's mean.
type soil struct{ seed uint64 }

// depth at east, north metres from the estate's centre, about the given mean.
func (s soil) depth(east, north, mean float64) float64 {
	d := mean + 0.34*s.noise(east/85, north/85, 1) + 0.16*s.noise(east/34, north/34, 2) + 0.05*s.noise(east/9, north/9, 3)
	return min(1, max(0, d))
}

// noise is smooth value noise between -1 and 1 on a unit lattice.
func (s soil) noise(x, y float64, octave uint64) float64 {
	x0, y0 := math.Floor(x), math.Floor(y)
	fx, fy := ease(x-x0), ease(y-y0)
	at := func(dx, dy float64) float64 { return s.lattice(int64(x0+dx), int64(y0+dy), octave) }
	top := at(0, 0)*(1-fx) + at(1, 0)*fx
	bottom := at(0, 1)*(1-fx) + at(1, 1)*fx
	return top*(1-fy) + bottom*fy
}

func ease(t float64) float64 { return t * t * (3 - 2*t) }

// lattice is a fixed random number between -1 and 1 for a lattice point.
func (s soil) lattice(x, y int64, octave uint64) float64 {
	h := s.seed ^ uint64(x)*0x9e3779b97f4a7c15 ^ uint64(y)*0xc2b2ae3d27d4eb4f ^ octave*0x165667b19e3779f9
	h ^= h >> 31
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 27
	h *= 0x94d049bb133111eb
	h ^= h >> 31
	return float64(h>>11)/float64(1<<52) - 1
}
