package work

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/format/geojson"
	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
)

// WeighingJob says how many vines of a block are to be weighed and which.
type WeighingJob struct {
	Season   int
	Number   int     // how many vines; 0: as many as the error needs
	RelError float64 // wanted relative error of the block's mean; 0: 0.1
	Again    bool    // keep the vines that were weighed last time
	Seed     uint64  // another seed, another sample
}

// Weighing is which vines of a block to weigh in a season, in walking order.
type Weighing struct {
	Block  vine.ID `json:"block"`
	Code   string  `json:"code"`
	Season int     `json:"season"`
	Again  int     `json:"again"` // season whose weighed vines are kept; 0 none
	*vigour.SamplePlan
	Reached float64 `json:"within"` // relative error of the mean that these vines leave; 0: all are weighed
	Stops   []Stop  `json:"vines"`
}

// Stop is one vine to weigh.
type Stop struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	Row     string  `json:"row"`
	Number  int     `json:"number"`
	Tag     string  `json:"tag"`
	Lon     float64 `json:"lon"`
	Lat     float64 `json:"lat"`
	Range   int     `json:"range"` // of vigour, 1 the weakest; 0 not known
	Why     string  `json:"why"`
}

// PlanWeighing chooses the vines of a block to weigh, as vigour.Plan does: its
// errors are wrapped. The range of vigour is that of the newest season, up to the
// job's, in which ten vines or more are known.
func PlanWeighing(ctx context.Context, st reader, g *stand.Ground, job WeighingJob) (*Weighing, error) {
	s, err := LoadStand(ctx, st, g, job.Season)
	if err != nil {
		return nil, err
	}
	known, err := st.Seasons(ctx)
	if err != nil {
		return nil, fmt.Errorf("recorded seasons: %w", err)
	}
	earlier := EarlierSeasons(known, job.Season, 0)
	w := &Weighing{Block: g.Block, Code: g.Code, Season: job.Season}
	in := vigour.PlanInput{Stand: s, Options: vigour.PlanOptions{Number: job.Number, RelError: job.RelError, Seed: job.Seed}}
	if in.Earlier, err = newestMap(ctx, st, s, earlier); err != nil {
		return nil, err
	}
	if job.Again {
		if in.Last, w.Again, err = weighedLast(ctx, st, g, earlier); err != nil {
			return nil, err
		}
	}
	if w.SamplePlan, err = vigour.Plan(in); err != nil {
		return nil, fmt.Errorf("weighing in block %s, season %d: %w", g.Code, job.Season, err)
	}
	w.Reached = w.Within()
	if job.Again && w.Again == 0 {
		w.Notes = append(w.Notes, "No vine was weighed in the seasons before: all are chosen anew.")
	}
	if w.Notes == nil {
		w.Notes = []string{}
	}
	return w, w.walk(ctx, st, g)
}

// fewestOfMap is how many vines must be known for a map to tell a range.
const fewestOfMap = 10

// newestMap gives the vigour of the newest season in which enough vines are
// known, nil where there is none.
func newestMap(ctx context.Context, st reader, s *stand.Stand, earlier []int) (*vigour.Result, error) {
	for k := -1; k < len(earlier); k++ {
		if k >= 0 {
			var err error
			if s, err = LoadStand(ctx, st, s.Ground, earlier[k]); err != nil {
				return nil, err
			}
		}
		in, err := VigourInput(ctx, st, s)
		if err != nil {
			return nil, err
		}
		r, err := vigour.Estimate(in)
		if err != nil {
			return nil, fmt.Errorf("vigour of block %s, season %d: %w", s.Ground.Code, s.Season, err)
		}
		if r.Counts[vigour.Measured]+r.Counts[vigour.Calibrated] >= fewestOfMap {
			return r, nil
		}
	}
	return nil, nil
}

// weighedLast gives the vines of a block that were weighed in the last season
// before in which any was, and that season.
func weighedLast(ctx context.Context, st reader, g *stand.Ground, earlier []int) (list []vine.ID, season int, err error) {
	for _, season := range earlier {
		s, err := LoadStand(ctx, st, g, season)
		if err != nil {
			return nil, 0, err
		}
		for i, weight := range s.WeightG {
			if weight >= 0 {
				list = append(list, g.ID[i])
			}
		}
		if len(list) > 0 {
			return list, season, nil
		}
	}
	return nil, 0, nil
}

// walk puts the chosen vines into the order in which to walk to them.
func (w *Weighing) walk(ctx context.Context, st reader, g *stand.Ground) error {
	pick := make(map[int]vigour.Pick, len(w.Vines))
	for k, i := range w.Vines {
		pick[i] = w.Picks[k]
	}
	w.Stops = make([]Stop, 0, len(w.Vines))
	for _, i := range walkingOrder(g, w.Vines) {
		v, err := st.Vine(ctx, g.ID[i])
		if err != nil {
			return fmt.Errorf("vine %s: %w", g.Address(i), err)
		}
		p := pick[i]
		if w.Layers < 2 {
			p.Range = 0 // one range tells nothing
		}
		w.Stops = append(w.Stops, Stop{ID: v.ID, Address: g.Address(i).String(), Row: g.Rows[g.Row[i]].Label, Number: int(g.Number[i]), Tag: v.Tag,
			Lon: v.Point[0], Lat: v.Point[1], Range: p.Range, Why: w.why(p)})
	}
	return nil
}

func (w *Weighing) why(p vigour.Pick) string {
	switch {
	case p.Kept:
		return fmt.Sprintf("weighed in %d", w.Again)
	case p.Beside:
		return "beside another, to tell how alike neighbours are"
	case w.Layers > 1 && p.Range > 0:
		return fmt.Sprintf("for range %d of vigour", p.Range)
	}
	return "spread over the block"
}

// walkRun is the vines of one row in the order in which they are walked past.
type walkRun struct {
	row   int32
	far   bool // the walk enters the row at its far end, where the last vine stands
	vines []int
}

// walkingRuns orders vines row after row, each row walked from the end that is
// nearer to where the row before was left, whichever way rows are numbered.
func walkingRuns(g *stand.Ground, vines []int) []walkRun {
	list := slices.Clone(vines)
	slices.Sort(list) // rows stand one after the other in the ground
	var out []walkRun
	left := -1 // vine at the end where the last row was left
	for from := 0; from < len(list); {
		r := g.Row[list[from]]
		to := from
		for to < len(list) && g.Row[list[to]] == r {
			to++
		}
		run := walkRun{row: int32(r), vines: list[from:to]}
		near, far := g.Rows[r].First, g.Rows[r].First+g.Rows[r].Count-1
		if left >= 0 && apart(g, left, far) < apart(g, left, near) {
			near, far = far, near
			run.far = true
			slices.Reverse(run.vines)
		}
		out = append(out, run)
		left, from = far, to
	}
	return out
}

// walkingOrder is the vines of all walking runs, one after the other.
func walkingOrder(g *stand.Ground, vines []int) []int {
	out := make([]int, 0, len(vines))
	for _, run := range walkingRuns(g, vines) {
		out = append(out, run.vines...)
	}
	return out
}

// apart is the square of the distance of two vines, m².
func apart(g *stand.Ground, a, b int) float64 {
	dx, dy := float64(g.X[a]-g.X[b]), float64(g.Y[a]-g.Y[b])
	return dx*dx + dy*dy
}

// WriteWeighing writes the vines of several blocks, to be weighed in this order.
// The table has empty columns for what is to be filled in, so that it can be
// imported when the vines were weighed.
func WriteWeighing(w io.Writer, form Form, usUnits bool, list []*Weighing) error {
	layer := weighingLayer(usUnits)
	var out sink = newCellSink(layer, newTableSink(w, layer))
	if form == GeoJSON {
		out = &featureSink{geojson.NewWriter(w)}
	}
	n := int64(0)
	for _, x := range list {
		for _, s := range x.Stops {
			n++
			out.begin(s.ID, "")
			out.int("walk", n)
			out.text("address", s.Address)
			out.text("block", x.Code)
			out.text("row", s.Row)
			out.int("vine", int64(s.Number))
			if s.Tag != "" {
				out.text("vine_id", s.Tag)
			}
			out.int("season", int64(x.Season))
			if s.Range > 0 {
				out.int("range", int64(s.Range))
			}
			out.text("why", s.Why)
			if err := out.end(orb.Point{s.Lon, s.Lat}); err != nil {
				return err
			}
		}
	}
	return out.close()
}

func weighingLayer(usUnits bool) *format.Layer {
	weight := unitsFor(usUnits).weight
	return &format.Layer{Name: "weighing", Shape: format.PointShape, Columns: []format.Column{idColumn(), whole("walk", "Place in walking order"), text("address", "block/row/vine"),
		text("block", "Code of the block"), text("row", "Label of the row"), whole("vine", "Number in the row"), text("vine_id", "Tag of the vine"),
		whole("season", "Season the weight counts for"), whole("range", "Range of vigour, 1 the weakest"), text("why", "Why this vine"),
		number("pruning_weight_"+weight, weight, "To be filled in"), number("cane_count", "", "To be filled in"), text("weighed_on", "To be filled in"), text("weighed_by", "To be filled in")}}
}
