package work

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/raster"
	"courson/geo/stand"
	"courson/store"
)

// ErrImage marks an image that cannot be used as it is; the text says why, or
// what a person must settle first.
var ErrImage = errors.New("image")

var errNoImageCRS = errors.New("its coordinate system is not known")

// ImageJob says which image of which day is taken over to the vines.
type ImageJob struct {
	Name   string
	Image  io.ReaderAt
	Size   int64
	CRS    string        // "EPSG:n" of an image that does not name its own
	Source raster.Source // band, or index of two
	Sure   bool          // the numbers are as they should be: nothing is asked
	Column string        // of the table that comes of it; "" canopy_index
	Set    raster.Settings
	Blocks []store.Block // none: all
}

// Imaged is what an image says of the vines.
type Imaged struct {
	Table   []byte    // a table of measures: courson_id, date, and the value
	Vines   int       // with a value
	Blocks  int       // with at least one
	Area    orb.Bound // around the blocks under the image, with 30 m beside them
	Notices []string
	System  string      // its coordinate system
	Places  []orb.Point // of the first vines with a value, for a look
}

// ImageDoubt is what a person must settle before an image can be used.
type ImageDoubt struct {
	Band int
	raster.Question
}

// Error tells the question.
func (d *ImageDoubt) Error() string { return fmt.Sprintf("band %d: %s", d.Band, d.Text) }

// SampleImage takes the mean of an image over the strip of each vine. An image
// whose numbers leave something open is refused with an ImageDoubt unless the job
// is sure. Errors wrap ErrImage.
func SampleImage(ctx context.Context, st reader, job ImageJob) (*Imaged, error) {
	rd, err := job.open()
	if err != nil {
		return nil, err
	}
	if err := job.ask(rd); err != nil {
		return nil, err
	}
	crs, err := rd.Raster().CRS()
	if err != nil {
		return nil, job.fault(fmt.Errorf("%w: %w", errNoImageCRS, err))
	}
	out := &Imaged{Notices: slices.Clone(rd.Raster().Notices), System: crs.Name, Area: orb.Bound{Min: orb.Point{180, 90}, Max: orb.Point{-180, -90}}}
	var table bytes.Buffer
	w := csv.NewWriter(&table)
	column := job.Column
	if column == "" {
		column = "canopy_index"
	}
	_ = w.Write([]string{"courson_id", "date", column}) // into memory
	for _, b := range job.Blocks {
		if err := job.block(ctx, st, rd, b, w, out); err != nil {
			return nil, err
		}
	}
	w.Flush()
	out.Table = table.Bytes()
	if out.Vines == 0 {
		return nil, job.fault(fmt.Errorf("no vine has a value; the image may lie elsewhere, or in another coordinate system"))
	}
	return out, nil
}

// open reads what the image says of itself, in the coordinate system that was
// stated for it.
func (j *ImageJob) open() (*raster.Reader, error) {
	r, err := raster.Open(j.Image, j.Size)
	if err != nil {
		return nil, j.fault(err)
	}
	if j.CRS != "" {
		crs, err := frame.ParseCRS(j.CRS)
		if err != nil {
			return nil, j.fault(err)
		}
		if r, err = r.WithCRS(crs); err != nil {
			return nil, j.fault(err)
		}
	}
	return r.NewReader(64 << 20), nil
}

func (j *ImageJob) fault(err error) error { return fmt.Errorf("%w %s: %w", ErrImage, j.Name, err) }

// ask refuses what a person must settle first.
func (j *ImageJob) ask(rd *raster.Reader) error {
	if j.Sure {
		return nil
	}
	for _, p := range j.picks() {
		s, err := rd.Survey(p)
		if err != nil {
			return j.fault(err)
		}
		for _, q := range rd.Questions(s, p, j.Source.Index == raster.Plain) {
			return j.fault(&ImageDoubt{max(1, p.Band), q})
		}
	}
	return nil
}

func (j *ImageJob) picks() []raster.Pick {
	if j.Source.Index == raster.Plain {
		return []raster.Pick{j.Source.Band}
	}
	return []raster.Pick{j.Source.Band, j.Source.Red}
}

func (j *ImageJob) block(ctx context.Context, st reader, rd *raster.Reader, b store.Block, w *csv.Writer, out *Imaged) error {
	g, _, err := GroundOf(ctx, st, b)
	if err != nil {
		return err
	}
	got, err := rd.Sample(j.Source, frame.New(orb.Point(g.Origin)), cellsOf(g), j.Set)
	if err != nil {
		return j.fault(err)
	}
	if got.Outside == len(got.List) {
		return nil
	}
	for _, text := range got.Warnings() {
		out.Notices = append(out.Notices, fmt.Sprintf("block %s: %s", b.Code, text))
	}
	out.Area = out.Area.Union(groundBox(g))
	day := j.Set.Meta.Date.Format(time.DateOnly)
	before := out.Vines
	for i, s := range got.List {
		if math.IsNaN(s.Value) {
			continue
		}
		out.Vines++
		if len(out.Places) < seenShapes {
			f := frame.New(orb.Point(g.Origin))
			out.Places = append(out.Places, f.Inverse(float64(g.X[i]), float64(g.Y[i])))
		}
		_ = w.Write([]string{strconv.FormatInt(int64(g.ID[i]), 10), day, strconv.FormatFloat(s.Value, 'f', 4, 64)})
	}
	if out.Vines > before {
		out.Blocks++
	}
	return nil
}

// cellsOf gives the ground of each vine: along its row, by its neighbours there.
func cellsOf(g *stand.Ground) []raster.Cell {
	out := make([]raster.Cell, g.Len())
	for i := range out {
		row := g.Rows[g.Row[i]]
		a, b := max(i-1, row.First), min(i+1, row.First+row.Count-1)
		dx, dy := float64(g.X[b])-float64(g.X[a]), float64(g.Y[b])-float64(g.Y[a])
		out[i] = raster.Cell{At: frame.XY{X: float64(g.X[i]), Y: float64(g.Y[i])}, AzimuthDeg: math.Atan2(dx, dy) * 180 / math.Pi, RowM: g.RowSpacingM, VineM: g.VineSpacingM}
	}
	return out
}

// besideM is how much of the ground beside a block is kept of an image, m.
const besideM = 30

// groundBox gives the box in degrees around a block's vines and some ground beside.
func groundBox(g *stand.Ground) orb.Bound {
	fr := frame.New(orb.Point(g.Origin))
	least, most := frame.XY{X: math.Inf(1), Y: math.Inf(1)}, frame.XY{X: math.Inf(-1), Y: math.Inf(-1)}
	for i := range g.Len() {
		x, y := float64(g.X[i]), float64(g.Y[i])
		least, most = frame.XY{X: min(least.X, x), Y: min(least.Y, y)}, frame.XY{X: max(most.X, x), Y: max(most.Y, y)}
	}
	out := fr.Inverse(least.X-besideM, least.Y-besideM).Bound()
	for _, at := range [...]frame.XY{{X: most.X + besideM, Y: most.Y + besideM}, {X: least.X - besideM, Y: most.Y + besideM}, {X: most.X + besideM, Y: least.Y - besideM}} {
		out = out.Extend(fr.Inverse(at.X, at.Y))
	}
	return out
}
