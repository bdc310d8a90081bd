package work

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/layout"
	"courson/geo/layout/draw"
	"courson/geo/vine"
	"courson/store"
)

// NumberOrder says how the rows and vines of a block are to be numbered. What is
// left out stays.
type NumberOrder struct {
	Code      string `json:"code"`       // of the block
	RowsFrom  string `json:"rows_from"`  // compass word of the side where the first row lies
	First     int    `json:"first"`      // label of the first row; 0: 1 where rows are counted anew
	VinesFrom string `json:"vines_from"` // compass word of the end where vine 1 stands, "first": as in the first row
	Snake     bool   `json:"snake"`      // every other row from its other end
}

// Numbers is how a block is numbered before and after.
type Numbers struct {
	Block   vine.ID       `json:"block"`
	Code    string        `json:"code"`
	WasCode string        `json:"was_code"`
	Rows    []NumberedRow `json:"rows"`
	Vines   int           `json:"vines"`   // whose address changes
	Orders  int           `json:"orders"`  // open orders that are written anew
	Changed bool          `json:"changed"` // something changes at all

	block store.Block
	rows  []store.Row // in their new order, as they are to be
	ids   map[vine.ID]*NumberedRow
}

// NumberedRow is one row of them, in the new order.
type NumberedRow struct {
	ID     vine.ID             `json:"id"`
	Label  string              `json:"label"`
	Was    string              `json:"was"`
	Turned bool                `json:"turned"` // counted from its other end now
	Vines  int                 `json:"vines"`
	Line   orb.MultiLineString `json:"line"` // from the end where vine 1 stands now

	last int // highest number of a vine
}

// NumbersWas is what taking a numbering back needs.
type NumbersWas struct {
	Code   string             `json:"code"`
	Ends   string             `json:"ends"` // numbering end of the block
	Labels map[vine.ID]string `json:"labels"`
	Ords   map[vine.ID]int    `json:"ords"`
	Turned []vine.ID          `json:"turned"`
}

// TryNumbers works out a numbering and writes nothing. Errors wrap ErrDrawn, and
// store.ErrConflict where another block has the code.
func TryNumbers(ctx context.Context, st reader, block vine.ID, o NumberOrder) (*Numbers, error) {
	b, err := findBlock(ctx, st, block)
	if err != nil {
		return nil, err
	}
	n := &Numbers{Block: block, Code: strings.TrimSpace(o.Code), WasCode: b.Code, block: b}
	if n.Code == "" {
		n.Code = b.Code
	}
	if err := n.checkCode(ctx, st); err != nil {
		return nil, err
	}
	rows, err := st.Rows(ctx, block)
	if err != nil {
		return nil, err
	}
	done, err := numbered(b, rows, o)
	if err != nil {
		return nil, err
	}
	n.settle(rows, done, o)
	for v, err := range st.Vines(ctx, block) {
		if err != nil {
			return nil, err
		}
		r := n.ids[v.Row]
		r.Vines++
		r.last = max(r.last, v.Number)
	}
	return n, n.sum(ctx, st)
}

func (n *Numbers) checkCode(ctx context.Context, st reader) error {
	if len(n.Code) > mostCode || strings.Contains(n.Code, "/") {
		return drawnError("code", "code %q: 1 to %d bytes without a slash, such as H4", n.Code, mostCode)
	}
	blocks, err := st.Blocks(ctx)
	for _, b := range blocks {
		if b.ID != n.Block && strings.EqualFold(b.Code, n.Code) {
			return fmt.Errorf("there is a block %s already: give this one another code: %w", b.Code, store.ErrConflict)
		}
	}
	return err
}

// numbered asks the geometry for the order and the ends of stored rows.
func numbered(b store.Block, rows []store.Row, o NumberOrder) (draw.Numbered, error) {
	n, err := numbering(o.RowsFrom, o.VinesFrom, o.Snake)
	if err != nil {
		return draw.Numbered{}, err
	}
	if o.First < 0 || o.First > 100_000 {
		return draw.Numbered{}, drawnError("first", "first row %d: from 1 to 100000", o.First)
	}
	lines := make([]layout.Row, len(rows))
	f := blockFrame(b, rows, orb.Point{})
	for i, r := range rows {
		if lines[i], err = layout.NewRow(f, r.Line, layout.AsDrawn); err != nil {
			if n.Rows == nil && n.Vines == nil {
				continue // its line is not asked for
			}
			return draw.Numbered{}, drawnError("", "row %s/%s: %v", b.Code, r.Label, err)
		}
	}
	if n.Rows == nil && n.Vines == nil && !o.Snake {
		lines = lines[:0]
	}
	done, err := draw.Number(lines, n)
	if err != nil {
		return done, numberRefused(err)
	}
	for i := len(done.Order); i < len(rows); i++ {
		done.Order, done.Turned = append(done.Order, i), append(done.Turned, false)
	}
	return done, nil
}

// settle writes rows as they are to be.
func (n *Numbers) settle(rows []store.Row, done draw.Numbered, o NumberOrder) {
	n.ids = make(map[vine.ID]*NumberedRow, len(rows))
	n.Rows = make([]NumberedRow, 0, len(rows))
	anew := o.RowsFrom != "" || o.First > 0
	for place, i := range done.Order {
		r := rows[i]
		was := r.Label
		if anew {
			r.Label, r.Ord = strconv.Itoa(max(o.First, 1)+place), place+1
		}
		if done.Turned[i] {
			r.Line = turnedLine(r.Line)
		}
		n.rows = append(n.rows, r)
		n.Rows = append(n.Rows, NumberedRow{ID: r.ID, Label: r.Label, Was: was, Turned: done.Turned[i], Line: r.Line})
		n.ids[r.ID] = &n.Rows[len(n.Rows)-1]
	}
	if o.VinesFrom != "" {
		n.block.NumberingEnd = ""
		if end, _ := layout.ParseEnd(o.VinesFrom); !o.Snake && end != layout.AsDrawn {
			n.block.NumberingEnd = end.String()
		}
	}
	n.block.Code = n.Code
}

// turnedLine is a row's line drawn from its other end.
func turnedLine(l orb.MultiLineString) orb.MultiLineString {
	out := l.Clone()
	slices.Reverse(out)
	for _, part := range out {
		part.Reverse()
	}
	return out
}

// sum counts what changes.
func (n *Numbers) sum(ctx context.Context, st reader) error {
	renamed := n.Code != n.WasCode
	for _, r := range n.Rows {
		if renamed || r.Label != r.Was || r.Turned {
			n.Changed = true
			n.Vines += r.Vines
		}
	}
	n.Changed = n.Changed || renamed
	orders, err := n.ordersTouched(ctx, st)
	n.Orders = len(orders)
	return err
}

// ordersTouched gives the open orders that name rows or vines by numbers that
// change, as they are to be.
func (n *Numbers) ordersTouched(ctx context.Context, st reader) ([]Order, error) {
	orders, err := Orders(ctx, st, OrderQuery{})
	if err != nil || !n.Changed {
		return nil, err
	}
	var out []Order
	for _, o := range orders {
		if o.Block != n.Block {
			continue
		}
		o.Code, o.Rows = n.Code, slices.Clone(o.Rows)
		for k, r := range o.Rows {
			now := n.ids[r.Row]
			if now == nil {
				continue
			}
			if o.Rows[k].Label = now.Label; now.Turned {
				o.Rows[k].From, o.Rows[k].To = now.last+1-r.To, now.last+1-r.From
				o.Rows[k].Start = map[string]string{"near": "far", "far": "near"}[r.Start]
			}
		}
		out = append(out, o)
	}
	return out, nil
}

// Renumber numbers a block anew: ids, events and places stay; old addresses are found
// among the old labels. A numbering that changes nothing writes nothing. Errors as of
// TryNumbers.
func Renumber(ctx context.Context, tx store.Tx, block vine.ID, o NumberOrder, by string, now time.Time) (*Numbers, error) {
	n, err := TryNumbers(ctx, tx, block, o)
	if err != nil || !n.Changed {
		return n, err
	}
	before, err := n.write(ctx, tx, now)
	if err != nil {
		return nil, err
	}
	change := GroundChange{What: GroundNumbers, Block: block, Code: n.Code, Rows: len(n.Rows), Vines: n.Vines, Before: before}
	return n, keepChange(ctx, tx, &change, o, by, now)
}

// write keeps the numbering and tells what was before.
func (n *Numbers) write(ctx context.Context, tx store.Tx, now time.Time) (*NumbersWas, error) {
	old, err := tx.Rows(ctx, n.Block)
	if err != nil {
		return nil, err
	}
	b, err := findBlock(ctx, tx, n.Block)
	if err != nil {
		return nil, err
	}
	was := &NumbersWas{Code: b.Code, Ends: b.NumberingEnd, Labels: map[vine.ID]string{}, Ords: map[vine.ID]int{}}
	for _, r := range old {
		was.Labels[r.ID], was.Ords[r.ID] = r.Label, r.Ord
	}
	orders, err := n.ordersTouched(ctx, tx)
	if err != nil {
		return nil, err
	}
	var turned []store.Vine
	for v, err := range tx.Vines(ctx, n.Block) {
		if err != nil {
			return nil, err
		}
		if r := n.ids[v.Row]; r.Turned {
			turned = append(turned, v)
		}
	}
	rows := make(map[vine.ID]store.Row, len(n.rows))
	for i, r := range n.rows {
		rows[r.ID] = r
		if n.Rows[i].Turned {
			was.Turned = append(was.Turned, r.ID)
		}
	}
	for k := range turned {
		turnVine(&turned[k], rows[turned[k].Row], n.ids[turned[k].Row].last)
	}
	if err := tx.SaveBlocks([]store.Block{n.block}); err != nil {
		return nil, err
	}
	if err := tx.SaveRows(n.rows); err != nil {
		return nil, err
	}
	if err := tx.SaveVines(turned); err != nil {
		return nil, err
	}
	for _, o := range orders {
		if err := savePaper(tx, store.Paper{Kind: PaperOrder, Key: o.ID, Season: o.Season, Block: o.Block, By: o.By, Made: now}, o); err != nil {
			return nil, err
		}
	}
	return was, nil
}

// turnVine counts a vine from the other end of its row.
func turnVine(v *store.Vine, r store.Row, last int) {
	v.Number, v.ChainageM, v.Part = last+1-v.Number, max(0, r.LengthM-v.ChainageM), max(0, len(r.Line)-1-v.Part)
}
