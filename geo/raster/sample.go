package raster

import (
	"fmt"
	"math"
	"slices"
	"time"

	"courson/geo/frame"
)

// Meta is what is known of a picture beyond its file: without it two pictures
// cannot be compared.
type Meta struct {
	Date        time.Time // when it was taken
	Sensor      string
	ResolutionM float64 // that the sensor saw, m; pixels may be finer
	Scale       string  // name of the scale that its values stand on; pictures of one name may share a legend
}

// SameScale tells whether values of two pictures may be compared as they are.
// Where not, only ranks or classes within a block may be: the strength of an
// index differs between sensors, suns and dates.
func SameScale(a, b Meta) bool { return a.Scale != "" && a.Scale == b.Scale }

// Cell is the ground of one vine: where it stands in the block's frame, the
// bearing of its row there (degrees clockwise from north), and row and vine
// spacing, m.
type Cell struct {
	At         frame.XY
	AzimuthDeg float64
	RowM       float64
	VineM      float64
}

// Settings of Sample.
type Settings struct {
	// HalfStripM is how far the strip of vines reaches to either side of the
	// row, m, so that the alley stays out of the value. 0, and anything wider than
	// half the row spacing, means half the row spacing: a cell never reaches
	// across a neighbour's.
	HalfStripM float64
	// LeastShare of the strip must have a value for the vine to have one, 0 to
	// 1; 0 means a half.
	LeastShare float64
	// ShiftM is added to the places of the image, metres east and north, where
	// it is known to lie beside the ground or stands on another datum.
	ShiftM frame.XY
	Meta   Meta
}

// Sample is the value of one vine.
type Sample struct {
	Value   float64 // mean over the pixels, weighted by shared area; NaN: none
	Pixels  int     // pixels with a value that the strip touches
	Weight  float64 // their shares in the strip added up: pixels' worth of ground
	NoData  float64 // share of the strip that has no value, ground outside the image included, 0 to 1
	Foreign float64 // share of the value that comes from ground beside the strip, as pixels reach over its edge, 0 to 1
}

// Samples are the values of all cells, in their order.
type Samples struct {
	List             []Sample
	PixelM           [2]float64 // sides of a pixel on the ground, m
	Meta             Meta       // as given; ResolutionM is the longer side of a pixel where it was not
	NoValue          int        // cells without a value
	Outside          int        // of them, those that lie wholly outside the image
	WiderThanRow     int        // cells whose row spacing is less than a pixel
	WiderThanStrip   int        // cells whose strip is narrower than a pixel, but not their row
	MeanForeignShare float64    // mean of Foreign over cells with a value
}

// Warnings say in words what a person must know before using the values.
func (s *Samples) Warnings() (out []string) {
	n := len(s.List)
	say := func(count int, f string, args ...any) {
		if count > 0 {
			out = append(out, fmt.Sprintf("%d of %d vines: ", count, n)+fmt.Sprintf(f, args...))
		}
	}
	wide := max(s.PixelM[0], s.PixelM[1])
	say(s.WiderThanRow, "a pixel (%.2f m) is wider than the row spacing, so the value mixes vines, alley and the rows beside; it tells areas apart, not vines or rows", wide)
	say(s.WiderThanStrip, "a pixel (%.2f m) is wider than the strip of vines, so part of the alley is in the value", wide)
	say(s.NoValue-s.Outside, "too few pixels with a value")
	say(s.Outside, "outside the image")
	return out
}

// Sample gives the value of every cell. Places are in the frame f. Cells are
// read in the order of the image, so each part of it is unpacked once or twice
// however the rows run.
func (rd *Reader) Sample(s Source, f frame.Frame, cells []Cell, set Settings) (*Samples, error) {
	t, err := rd.r.locator()
	if err != nil {
		return nil, err
	}
	if err := s.check(rd.r); err != nil {
		return nil, err
	}
	out := &Samples{List: make([]Sample, len(cells)), Meta: set.Meta}
	if out.PixelM[0], out.PixelM[1], err = rd.r.PixelM(); err != nil {
		return nil, err
	}
	wide := max(out.PixelM[0], out.PixelM[1])
	if out.Meta.ResolutionM == 0 {
		out.Meta.ResolutionM = wide
	}
	quads, err := place(t, f, cells, set, wide)
	if err != nil {
		return nil, err
	}
	least := set.LeastShare
	if !(least > 0) {
		least = 0.5
	}
	w := worker{rd: rd, s: s}
	for _, i := range rd.inOrder(quads) {
		smp, outside, err := w.sample(&quads[i])
		if err != nil {
			return nil, err
		}
		if 1-smp.NoData < least || smp.Pixels == 0 {
			smp.Value = math.NaN()
		}
		out.take(i, smp, outside, cells[i], set, wide)
	}
	if n := len(cells) - out.NoValue; n > 0 {
		out.MeanForeignShare /= float64(n)
	}
	return out, nil
}

func (s *Samples) take(i int, smp Sample, outside bool, c Cell, set Settings, wide float64) {
	s.List[i] = smp
	switch {
	case wide > c.RowM:
		s.WiderThanRow++
	case wide > 2*set.half(c):
		s.WiderThanStrip++
	}
	if !math.IsNaN(smp.Value) {
		s.MeanForeignShare += smp.Foreign
		return
	}
	s.NoValue++
	if outside {
		s.Outside++
	}
}

// half is half the width of a cell's strip, m.
func (set Settings) half(c Cell) float64 {
	if set.HalfStripM > 0 {
		return min(set.HalfStripM, c.RowM/2)
	}
	return c.RowM / 2
}

// quad is a cell in the image, and a piece of the same strip that reaches
// beyond it along the row as far as any pixel of the cell does.
type quad struct{ cell, strip [4]spot }

// place brings all cells to the image. It refuses a cell without a size.
func place(t locator, f frame.Frame, cells []Cell, set Settings, wide float64) ([]quad, error) {
	out := make([]quad, len(cells))
	for i, c := range cells {
		if !(c.RowM > 0 && c.VineM > 0) || math.IsInf(c.RowM+c.VineM, 0) || math.IsNaN(c.At.X+c.At.Y+c.AzimuthDeg) {
			return nil, &Fault{What: fmt.Sprintf("cell %d has no size or place", i), Found: fmt.Sprintf("%+v", c), Wanted: "row and vine spacing above 0, and a place"}
		}
		sin, cos := math.Sincos(c.AzimuthDeg * math.Pi / 180)
		half := set.half(c)
		at := func(along, right float64) spot {
			return t.lonLat(f.Inverse(c.At.X+along*sin+right*cos-set.ShiftM.X, c.At.Y+along*cos-right*sin-set.ShiftM.Y))
		}
		a := c.VineM / 2
		q := [4]spot{at(-a, -half), at(-a, half), at(a, half), at(a, -half)}
		// Over a few metres the map is straight: the longer strip is the same
		// sides drawn out.
		k := 2 * wide / c.VineM
		on := func(p, q spot) spot { return spot{q.x + k*(q.x-p.x), q.y + k*(q.y-p.y)} }
		out[i] = quad{q, [4]spot{on(q[3], q[0]), on(q[2], q[1]), on(q[1], q[2]), on(q[0], q[3])}}
	}
	return out, nil
}

// inOrder gives the cells in the order of the chunks that they begin in.
func (rd *Reader) inOrder(quads []quad) []int {
	m := rd.r.image
	key := make([]int64, len(quads))
	order := make([]int, len(quads))
	for i := range quads {
		order[i] = i
		if w, ok := bounds(m.width, m.height, quads[i].cell[:]); ok {
			key[i] = int64(w.Line/m.chunkH)*int64(m.across) + int64(w.Column/m.chunkW)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return int(key[a] - key[b]) })
	return order
}

// worker keeps the buffers of sampling.
type worker struct {
	rd          *Reader
	s           Source
	cell, strip cover
	v           []float64
}

// sample gives the value of one cell, and whether it lies wholly outside.
func (w *worker) sample(q *quad) (Sample, bool, error) {
	pixels := area(q.cell[:])
	win, ok := bounds(w.rd.r.Width, w.rd.r.Height, q.cell[:])
	if !ok {
		return Sample{Value: math.NaN(), NoData: 1}, true, nil
	}
	if win.Columns > mostPixels/win.Lines {
		return Sample{}, false, &Fault{What: "a cell covers too many pixels", Found: fmt.Sprintf("%d x %d", win.Columns, win.Lines), Wanted: "the row and vine spacing in metres, or an image with larger pixels", Cause: ErrTooLarge}
	}
	n := win.Columns * win.Lines
	if cap(w.v) < n {
		w.v = make([]float64, n)
	}
	w.v = w.v[:n]
	if err := w.rd.ReadSource(w.s, win, w.v); err != nil {
		return Sample{}, false, err
	}
	sign := math.Copysign(1, pixels)
	w.cell.begin(win)
	w.cell.ring(q.cell[:], sign)
	w.strip.begin(win)
	w.strip.ring(q.strip[:], sign)
	var sum zoneSum
	var own float64
	for line := range win.Lines {
		in := w.strip.shares(line)
		for k, share := range w.cell.shares(line) {
			v := w.v[line*win.Columns+k]
			sum.add(v, share)
			if !math.IsNaN(v) {
				own += share * in[k]
			}
		}
	}
	out := Sample{Value: math.NaN(), Pixels: sum.n, Weight: sum.w, NoData: 1}
	if sum.n > 0 {
		out.Value = sum.shift + sum.wv/sum.w
		out.NoData = min(max(1-sum.w/math.Abs(pixels), 0), 1)
		out.Foreign = min(max(1-own/sum.w, 0), 1)
	}
	return out, sum.w+sum.none == 0, nil
}
