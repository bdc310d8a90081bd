package work

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/layout/draw"
	"courson/store"
)

// mostCorners is the most corners that a drawn block may have; chosen by us.
const mostCorners = 500

// mostCode is the longest code of a block, bytes; chosen by us: it is read aloud.
const mostCode = 30

// BlockDrawing is a block as somebody draws it.
type BlockDrawing struct {
	Code    string `json:"code"`
	Name    string `json:"name"`
	Variety string `json:"variety"`
	Planted int    `json:"planted"` // season of the first leaf; 0 not known
	// Corners in order, longitude and latitude in degrees, the first not repeated.
	Corners []orb.Point `json:"corners"`
}

// BlockJudged is what can be said of an outline before it is kept.
type BlockJudged struct {
	AreaM2 float64        `json:"area_m2"` // 0 where sides cross
	RimM   float64        `json:"rim_m"`   // length of all sides
	Faults []OutlineFault `json:"faults"`
	Fit    bool           `json:"fit"` // it may be kept: no fault but slight ones
}

// OutlineFault is one thing that is wrong with an outline.
type OutlineFault struct {
	Kind   draw.FaultKind `json:"kind"`
	Slight bool           `json:"slight"`
	Text   string         `json:"text"`
	At     *orb.Point     `json:"at"` // null: no one place
	Sides  []int          `json:"sides"`
	Block  string         `json:"block"`
	AreaM2 float64        `json:"area_m2"`
}

// JudgeBlock judges a drawn outline against the blocks that are there.
func JudgeBlock(ctx context.Context, st store.Ground, d BlockDrawing) (BlockJudged, error) {
	blocks, err := st.Blocks(ctx)
	if err != nil {
		return BlockJudged{}, err
	}
	return d.judge(blocks)
}

func (d BlockDrawing) judge(blocks []store.Block) (BlockJudged, error) {
	if len(d.Corners) > mostCorners {
		return BlockJudged{}, drawnError("corners", "%d corners: at most %d", len(d.Corners), mostCorners)
	}
	for i, p := range d.Corners {
		if err := frame.CheckLonLat(p); err != nil || math.Abs(p[0]) > 180 {
			return BlockJudged{}, drawnError("corners", "corner %d: %g, %g is no longitude and latitude in degrees", i+1, p[0], p[1])
		}
	}
	out := BlockJudged{Faults: []OutlineFault{}}
	f, err := frame.ForGeometry(orb.MultiPoint(d.Corners))
	if err != nil { // no corner yet
		f = frame.Frame{}
	}
	ring := frame.Ring(f.Line(orb.LineString(d.Corners)))
	var faults []draw.Fault
	out.AreaM2, faults = draw.Outline(ring, neighbours(f, blocks))
	if len(ring) > 1 {
		out.RimM = append(frame.Line(slices.Clip(ring)), ring[0]).Length()
	}
	out.Fit = true
	for _, fault := range faults {
		o := OutlineFault{Kind: fault.Kind, Slight: fault.Slight, Text: faultText(fault), Sides: []int{}, Block: fault.Code, AreaM2: fault.AreaM2}
		if fault.Kind != draw.TooFew {
			at := f.LonLat(fault.At)
			o.At = &at
		}
		if fault.Kind == draw.Crossing {
			o.Sides = []int{fault.SideA + 1, fault.SideB + 1}
		}
		out.Faults, out.Fit = append(out.Faults, o), out.Fit && fault.Slight
	}
	return out, nil
}

// neighbours gives the ground of blocks near the frame's origin.
func neighbours(f frame.Frame, blocks []store.Block) []draw.Neighbour {
	const nearM = 20_000
	var out []draw.Neighbour
	for _, b := range blocks {
		if len(b.Outline) == 0 || frame.WGS84.Distance(f.Origin(), b.Outline.Bound().Center()) > nearM {
			continue
		}
		out = append(out, draw.Neighbour{Code: b.Code, Ground: f.MultiPolygon(b.Outline)})
	}
	return out
}

func faultText(f draw.Fault) string {
	switch f.Kind {
	case draw.TooFew:
		return "an area has at least three corners"
	case draw.Crossing:
		return fmt.Sprintf("side %d and side %d cross or touch: set the corners in order around the block", f.SideA+1, f.SideB+1)
	case draw.TooSmall:
		return fmt.Sprintf("%.1f m² is too small for a block: at least %.0f m²", f.AreaM2, draw.LeastAreaM2)
	case draw.TooLarge:
		return fmt.Sprintf("%.0f ha is too large for a block: at most %.0f ha; is a corner on the wrong side of the map?", f.AreaM2/frame.Hectare, draw.MostAreaM2/frame.Hectare)
	}
	if f.Slight {
		return fmt.Sprintf("%.0f m² of it lie on block %s, along the border", f.AreaM2, f.Code)
	}
	return fmt.Sprintf("%.0f m² of it lie on block %s: draw along its border", f.AreaM2, f.Code)
}

// DrawBlock keeps a drawn block. The same block drawn twice is one: then known is
// true and nothing is written. Errors wrap ErrDrawn; store.ErrConflict where another
// block has the code.
func DrawBlock(ctx context.Context, tx store.Tx, d BlockDrawing, by string, now time.Time) (b store.Block, known bool, err error) {
	d.Code, d.Name, d.Variety = strings.TrimSpace(d.Code), strings.TrimSpace(d.Name), strings.TrimSpace(d.Variety)
	if d.Code == "" || len(d.Code) > mostCode || strings.Contains(d.Code, "/") {
		return b, false, drawnError("code", "code %q: 1 to %d bytes without a slash, such as H4", d.Code, mostCode)
	}
	blocks, err := tx.Blocks(ctx)
	if err != nil {
		return b, false, err
	}
	outline := d.outline()
	for _, have := range blocks {
		switch {
		case !strings.EqualFold(have.Code, d.Code):
		case have.Outline.Equal(outline) && have.Name == d.Name:
			return have, true, nil
		default:
			return b, false, fmt.Errorf("there is a block %s already: give this one another code: %w", have.Code, store.ErrConflict)
		}
	}
	judged, err := d.judge(blocks)
	if err != nil {
		return b, false, err
	}
	for _, f := range judged.Faults {
		if !f.Slight {
			return b, false, drawnError("corners", "%s", f.Text)
		}
	}
	list := []store.Block{{Code: d.Code, Name: d.Name, Variety: d.Variety, Planted: d.Planted, Outline: outline}}
	if err := tx.SaveBlocks(list); err != nil {
		return b, false, err
	}
	return list[0], false, keepChange(ctx, tx, &GroundChange{What: GroundBlock, Block: list[0].ID, Code: d.Code}, d, by, now)
}

// outline is the area as it is kept: closed and wound as RFC 7946 wants.
func (d BlockDrawing) outline() orb.MultiPolygon {
	ring := slices.Compact(slices.Clone(orb.Ring(d.Corners)))
	if n := len(ring); n > 0 && ring[0] != ring[n-1] {
		ring = append(ring, ring[0])
	}
	if ring.Orientation() == orb.CW {
		ring.Reverse()
	}
	return orb.MultiPolygon{{ring}}
}
