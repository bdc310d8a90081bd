package krige

import "math"

// grid finds the nearest points: cells of equal size with the points of each
// cell one after the other.
type grid struct {
	points         []Point
	x0, y0, cell   float64
	columns, lines int
	start          []int32 // of each cell in order; one more than cells
	order          []int32 // points by cell, rising within a cell
}

// perCell is about how many points a cell holds; 2 to 4 were fastest.
const perCell = 3

func newGrid(points []Point) *grid {
	g := &grid{points: points, x0: math.Inf(1), y0: math.Inf(1), cell: 1}
	x1, y1 := math.Inf(-1), math.Inf(-1)
	for _, p := range points {
		g.x0, x1 = min(g.x0, p.X), max(x1, p.X)
		g.y0, y1 = min(g.y0, p.Y), max(y1, p.Y)
	}
	w, h := x1-g.x0, y1-g.y0
	cells := max(1, float64(len(points))/perCell)
	if side := math.Sqrt(w * h / cells); side > 0 {
		g.cell = max(side, max(w, h)/4096)
	} else if longest := max(w, h); longest > 0 {
		g.cell = longest / math.Min(cells, 4096)
	}
	g.columns, g.lines = int(w/g.cell)+1, int(h/g.cell)+1
	g.fill()
	return g
}

func (g *grid) fill() {
	g.start = make([]int32, g.columns*g.lines+1)
	for _, p := range g.points {
		g.start[g.at(p)+1]++
	}
	for i := 1; i < len(g.start); i++ {
		g.start[i] += g.start[i-1]
	}
	next := append([]int32(nil), g.start[:len(g.start)-1]...)
	g.order = make([]int32, len(g.points))
	for i, p := range g.points {
		c := g.at(p)
		g.order[next[c]] = int32(i)
		next[c]++
	}
}

// at gives the cell of a point of the grid.
func (g *grid) at(p Point) int {
	column := min(g.columns-1, int((p.X-g.x0)/g.cell))
	line := min(g.lines-1, int((p.Y-g.y0)/g.cell))
	return line*g.columns + column
}

// find gives the number of the point that lies exactly at a place, -1 for none.
func (g *grid) find(x, y float64) int32 {
	column, line := (x-g.x0)/g.cell, (y-g.y0)/g.cell
	if !(column >= 0 && line >= 0 && column < float64(g.columns+1) && line < float64(g.lines+1)) {
		return -1
	}
	c := g.at(Point{X: x, Y: y})
	for _, i := range g.order[g.start[c]:g.start[c+1]] {
		if p := g.points[i]; p.X == x && p.Y == y {
			return i
		}
	}
	return -1
}

// found is a neighbour: its squared distance and number.
type found struct {
	d2 float64
	i  int32
}

// less orders neighbours by distance, equal ones by number, so that ties never
// depend on the way of searching.
func less(a, b found) bool { return a.d2 < b.d2 || a.d2 == b.d2 && a.i < b.i }

// search collects the nearest points around a place. It keeps its memory.
type search struct {
	g      *grid
	most   int     // neighbours wanted at most
	radius float64 // 0: any distance
	step   float64 // distances are rounded to so much before they are compared; 0: not
	skip   int32   // a point to be passed over; -1 none
	heap   []found // the most nearest so far, farthest first
}

// near gives the neighbours of a place, nearest first.
func (s *search) near(x, y float64) []found {
	s.heap = s.heap[:0]
	g := s.g
	column := clamp((x-g.x0)/g.cell, g.columns-1)
	line := clamp((y-g.y0)/g.cell, g.lines-1)
	for ring := 0; !s.done(x, y, column, line, ring); ring++ {
		s.ring(column, line, ring, x, y)
	}
	return s.sorted()
}

// ring looks at the cells that lie so many cells from the middle one.
func (s *search) ring(column, line, ring int, x, y float64) {
	g := s.g
	across := func(l int) {
		for c := max(0, column-ring); l >= 0 && l < g.lines && c <= min(g.columns-1, column+ring); c++ {
			s.cell(l*g.columns+c, x, y)
		}
	}
	down := func(c int) {
		for l := max(0, line-ring+1); c >= 0 && c < g.columns && l <= min(g.lines-1, line+ring-1); l++ {
			s.cell(l*g.columns+c, x, y)
		}
	}
	across(line - ring)
	if ring > 0 {
		across(line + ring)
		down(column - ring)
		down(column + ring)
	}
}

// done tells whether nothing in the ring or beyond can come nearer than what
// was found, or within the radius, or whether there is no such cell.
func (s *search) done(x, y float64, column, line, ring int) bool {
	if ring == 0 {
		return false
	}
	g := s.g
	// Least distance from the place to any cell of this ring or beyond, by side.
	least := math.Inf(1)
	side := func(there bool, d float64) {
		if there {
			least = min(least, max(0, d))
		}
	}
	side(column-ring >= 0, x-(g.x0+float64(column-ring+1)*g.cell))
	side(column+ring < g.columns, g.x0+float64(column+ring)*g.cell-x)
	side(line-ring >= 0, y-(g.y0+float64(line-ring+1)*g.cell))
	side(line+ring < g.lines, g.y0+float64(line+ring)*g.cell-y)
	if math.IsInf(least, 1) {
		return true
	}
	least = max(0, least-s.step)
	if s.radius > 0 && least > s.radius {
		return true
	}
	return len(s.heap) == s.most && least*least > s.heap[0].d2
}

func (s *search) cell(c int, x, y float64) {
	for _, i := range s.g.order[s.g.start[c]:s.g.start[c+1]] {
		if i == s.skip {
			continue
		}
		p := &s.g.points[i]
		f := found{(p.X-x)*(p.X-x) + (p.Y-y)*(p.Y-y), i}
		if s.step > 0 {
			d := math.Round(math.Sqrt(f.d2)/s.step) * s.step
			f.d2 = d * d
		}
		if s.radius > 0 && f.d2 > s.radius*s.radius*(1+1e-12) {
			continue
		}
		if len(s.heap) < s.most {
			s.heap = append(s.heap, f)
			s.up(len(s.heap) - 1)
		} else if less(f, s.heap[0]) {
			s.heap[0] = f
			s.down(len(s.heap))
		}
	}
}

// sorted takes the heap apart into rising order.
func (s *search) sorted() []found {
	for n := len(s.heap) - 1; n > 0; n-- {
		s.heap[0], s.heap[n] = s.heap[n], s.heap[0]
		s.down(n)
	}
	return s.heap
}

func (s *search) up(i int) {
	for i > 0 {
		parent := (i - 1) / 2
		if !less(s.heap[parent], s.heap[i]) {
			return
		}
		s.heap[i], s.heap[parent] = s.heap[parent], s.heap[i]
		i = parent
	}
}

// down lets the first of n entries sink to its place.
func (s *search) down(n int) {
	for i := 0; ; {
		far, l, r := i, 2*i+1, 2*i+2
		if l < n && less(s.heap[far], s.heap[l]) {
			far = l
		}
		if r < n && less(s.heap[far], s.heap[r]) {
			far = r
		}
		if far == i {
			return
		}
		s.heap[i], s.heap[far] = s.heap[far], s.heap[i]
		i = far
	}
}

// clamp brings a cell's place to 0 … last.
func clamp(v float64, last int) int { return int(max(0, min(float64(last), math.Floor(v)))) }
