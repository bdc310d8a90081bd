package work

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/layout/draw"
	"courson/geo/vine"
	"courson/store"
)

// ExtraDrawn is the property of rows that were made and not surveyed: by whom and on
// which day.
const ExtraDrawn = "courson_drawn"

// mostDrawnVines is the most vines that rows made at once may have; chosen by us.
const mostDrawnVines = 200_000

// RowsOrder says which rows a block shall have.
type RowsOrder struct {
	// Line is one of the rows, longitude and latitude in degrees, drawn over any length
	// of it; without it BearingDeg counts: degrees clockwise from north.
	Line         []orb.Point `json:"line"`
	BearingDeg   float64     `json:"bearing_deg"`
	RowSpacingM  float64     `json:"row_spacing_m"`
	HeadlandM    float64     `json:"headland_m"` // free before the block's edge where rows end
	SideM        *float64    `json:"side_m"`     // free before an edge along the rows; null: half a row spacing
	Count        int         `json:"count"`      // 0: all that fit
	Side         string      `json:"side"`       // of the block at which a count begins; from a line: towards which it goes on
	VineSpacingM float64     `json:"vine_spacing_m"`
	StartM       float64     `json:"start_m"` // from the row's end to vine 1
	EndM         float64     `json:"end_m"`   // free at the far end
	RowsFrom     string      `json:"rows_from"`
	VinesFrom    string      `json:"vines_from"`
	Snake        bool        `json:"snake"`
	First        int         `json:"first"` // label of the first row; 0: 1
}

// RowsMade is rows before or after they are kept.
type RowsMade struct {
	Block      vine.ID   `json:"block"`
	Code       string    `json:"code"`
	Known      bool      `json:"known"` // the block has these very rows already
	Rows       []RowMade `json:"rows"`
	Vines      int       `json:"vines"`
	RowM       float64   `json:"row_m"`
	AreaM2     float64   `json:"area_m2"`    // of the block
	PlantedM2  float64   `json:"planted_m2"` // row metres × row spacing
	VinesPerHa float64   `json:"vines_per_ha"`
	Short      int       `json:"short"`  // rows left out: too short for two vines
	Missed     int       `json:"missed"` // rows of the count that the block has no ground for

	spacing store.Block // what the block's record says of its planting afterwards
}

// RowMade is one of the rows made.
type RowMade struct {
	ID      vine.ID             `json:"id"` // 0 before it is kept
	Label   string              `json:"label"`
	LengthM float64             `json:"length_m"`
	Vines   int                 `json:"vines"`
	Line    orb.MultiLineString `json:"line"`
	First   orb.Point           `json:"first"` // where vine 1 stands

	laid layout.Laid
}

// LayRows works out the rows of an order. Errors wrap ErrDrawn.
func LayRows(b store.Block, o RowsOrder) (*RowsMade, error) {
	if len(b.Outline) == 0 {
		return nil, drawnError("block", "block %s has no outline to make rows in: draw or import it first", b.Code)
	}
	f, err := frame.ForGeometry(b.Outline)
	if err != nil {
		return nil, err
	}
	ground := f.MultiPolygon(b.Outline)
	order, err := o.order(f)
	if err != nil {
		return nil, err
	}
	m, err := draw.Rows(f, ground, order)
	if err != nil {
		return nil, o.refused(err)
	}
	if n := m.Vines(); n > mostDrawnVines {
		return nil, drawnError("vine_spacing_m", "%d vines: at most %d at once", n, mostDrawnVines)
	}
	out := &RowsMade{Block: b.ID, Code: b.Code, Short: m.Short, Missed: m.Missed}
	for _, pg := range ground {
		out.AreaM2 += pg.Area()
	}
	if err := out.number(m.Rows, o, order.Planting); err != nil {
		return nil, err
	}
	out.PlantedM2 = out.RowM * o.RowSpacingM
	out.VinesPerHa = layout.VinesPerHectare(o.RowSpacingM, o.VineSpacingM)
	b.RowSpacingM, b.VineSpacingM, b.NumberingEnd = o.RowSpacingM, o.VineSpacingM, ""
	if end, _ := layout.ParseEnd(o.VinesFrom); !o.Snake && end != layout.AsDrawn {
		b.NumberingEnd = end.String()
	}
	out.spacing = b
	return out, nil
}

// order brings an order into the block's frame.
func (o RowsOrder) order(f frame.Frame) (draw.Order, error) {
	out := draw.Order{BearingDeg: o.BearingDeg, RowM: o.RowSpacingM, HeadlandM: o.HeadlandM, SideM: -1, Count: o.Count,
		Planting: layout.Spacing{VineM: o.VineSpacingM, StartM: o.StartM, EndM: o.EndM}}
	if o.SideM != nil {
		if !(*o.SideM >= 0) {
			return out, drawnError("side_m", "side_m %g: metres from 0", *o.SideM)
		}
		out.SideM = *o.SideM
	}
	if len(o.Line) == 1 || len(o.Line) > mostCorners {
		return out, drawnError("line", "a line of %d points: 2 to %d", len(o.Line), mostCorners)
	}
	for i, p := range o.Line {
		if frame.CheckLonLat(p) != nil {
			return out, drawnError("line", "point %d: %g, %g is no longitude and latitude in degrees", i+1, p[0], p[1])
		}
		xy := f.XY(p)
		if !(math.Hypot(xy.X, xy.Y) < 20_000) {
			return out, drawnError("line", "point %d lies more than 20 km from the block", i+1)
		}
		out.Line = append(out.Line, xy)
	}
	var err error
	if out.Side, err = layout.ParseEnd(o.Side); err != nil {
		return out, drawnError("side", "%v", err)
	}
	return out, nil
}

// refused names the field that an error of the geometry is about.
func (o RowsOrder) refused(err error) error {
	field := "bearing_deg"
	switch {
	case len(o.Line) > 0 && (errors.Is(err, layout.ErrZeroLength) || errors.Is(err, draw.ErrOrder)):
		field = "line"
	case errors.Is(err, layout.ErrSideUnclear):
		field = "side"
	case errors.Is(err, layout.ErrEndUnclear):
		field = "vines_from"
	case errors.Is(err, layout.ErrSpacing) && !(o.RowSpacingM > 0), errors.Is(err, layout.ErrTooMany) && o.Count > layout.MostRows:
		field = "row_spacing_m"
	case errors.Is(err, layout.ErrSpacing), errors.Is(err, layout.ErrTooMany):
		field = "vine_spacing_m"
	case errors.Is(err, layout.ErrOffset), errors.Is(err, draw.ErrNothing):
		field = "headland_m"
	}
	return drawnError(field, "%v", err)
}

// numbering reads from where rows and vines are counted; empty words say nothing.
func numbering(rowsFrom, vinesFrom string, snake bool) (n draw.Numbering, err error) {
	for _, w := range []struct {
		field, word string
		to          **layout.End
	}{{"rows_from", rowsFrom, &n.Rows}, {"vines_from", vinesFrom, &n.Vines}} {
		if w.word == "" {
			continue
		}
		end, err := layout.ParseEnd(w.word)
		if err != nil {
			return n, drawnError(w.field, "%v", err)
		}
		*w.to = &end
	}
	n.Snake = snake
	return n, nil
}

// number puts rows into their order, turns them to their numbering ends and lays
// them out from there.
func (m *RowsMade) number(rows []layout.Laid, o RowsOrder, planting layout.Spacing) error {
	if o.VinesFrom == "" {
		o.VinesFrom = "first"
	}
	n, err := numbering(o.RowsFrom, o.VinesFrom, o.Snake)
	if err != nil {
		return err
	}
	lines := make([]layout.Row, len(rows))
	for i, r := range rows {
		lines[i] = r.Row
	}
	done, err := draw.Number(lines, n)
	if err != nil {
		return numberRefused(err)
	}
	planting.BreakM = planting.StartM
	first := max(o.First, 1)
	for place, i := range done.Order {
		laid := rows[i]
		if done.Turned[i] {
			if laid, err = lines[i].Reversed().Places(planting); err != nil {
				return drawnError("vine_spacing_m", "%v", err)
			}
		}
		r := RowMade{Label: strconv.Itoa(first + place), LengthM: laid.Row.LengthM(), Vines: len(laid.Places),
			Line: laid.Row.Lines(), First: laid.Places[0].Point, laid: laid}
		m.Rows, m.Vines, m.RowM = append(m.Rows, r), m.Vines+r.Vines, m.RowM+r.LengthM
	}
	return nil
}

func numberRefused(err error) error {
	field := "rows_from"
	switch {
	case errors.Is(err, draw.ErrOrder):
		field = "snake"
	case errors.Is(err, layout.ErrEndUnclear):
		field = "vines_from"
	}
	return drawnError(field, "%v", err)
}

// Points gives the places of all vines, row by row, in degrees.
func (m *RowsMade) Points() [][]orb.Point {
	out := make([][]orb.Point, len(m.Rows))
	for i, r := range m.Rows {
		out[i] = r.laid.Points()
	}
	return out
}

// TryRows works out the rows of an order and holds them against what the block has.
// Errors wrap ErrDrawn, and ErrInUse where the block has rows that these may not
// replace.
func TryRows(ctx context.Context, st reader, block vine.ID, o RowsOrder) (*RowsMade, error) {
	b, err := findBlock(ctx, st, block)
	if err != nil {
		return nil, err
	}
	m, err := LayRows(b, o)
	if err != nil {
		return nil, err
	}
	return m, m.meet(ctx, st)
}

// meet holds rows against those that the block has.
func (m *RowsMade) meet(ctx context.Context, st reader) error {
	rows, err := st.Rows(ctx, m.Block)
	if err != nil || len(rows) == 0 {
		return err
	}
	if m.Known = sameRows(m.Rows, rows); m.Known {
		return nil
	}
	return inUse("block %s has %d rows already: rows are made in a block without any; take back rows that were made before, or import surveyed rows over them", m.Code, len(rows))
}

// sameRows tells whether a block has the rows already, as a request that is sent
// again finds it.
func sameRows(made []RowMade, have []store.Row) bool {
	if len(made) != len(have) {
		return false
	}
	for i, r := range have {
		if r.Label != made[i].Label || !sameLine(r.Line, made[i].Line) {
			return false
		}
	}
	return true
}

// MakeRows keeps the rows of an order with their vines. Rows that the block has
// already are not made again. Errors as of TryRows.
func MakeRows(ctx context.Context, tx store.Tx, block vine.ID, o RowsOrder, by string, now time.Time) (*RowsMade, error) {
	m, err := TryRows(ctx, tx, block, o)
	if err != nil || m.Known {
		return m, err
	}
	list := []store.Block{m.spacing}
	if err := tx.SaveBlocks(list); err != nil {
		return nil, err
	}
	rows := make([]store.Row, len(m.Rows))
	for i, r := range m.Rows {
		rows[i] = store.Row{Block: block, Label: r.Label, Ord: i + 1, Line: r.Line, LengthM: r.LengthM,
			Extra: map[string]any{ExtraDrawn: fmt.Sprintf("%s %s", now.UTC().Format(time.DateOnly), by)}}
	}
	if err := tx.SaveRows(rows); err != nil {
		return nil, err
	}
	change := GroundChange{What: GroundRows, Block: block, Code: m.Code, Rows: len(rows), Vines: m.Vines}
	for i := range rows {
		m.Rows[i].ID = rows[i].ID
		change.MadeRows = append(change.MadeRows, rows[i].ID)
		if err := tx.SaveVines(m.Rows[i].vines(block)); err != nil {
			return nil, err
		}
	}
	return m, keepChange(ctx, tx, &change, o, by, now)
}

// vines gives the vines of a row to be kept.
func (r RowMade) vines(block vine.ID) []store.Vine {
	out := make([]store.Vine, len(r.laid.Places))
	for i, p := range r.laid.Places {
		out[i] = store.Vine{Block: block, Row: r.ID, Number: p.Number, Point: p.Point, ChainageM: p.ChainageM, Part: p.Part}
	}
	return out
}
