package work

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"

	"courson/geo/vine"
	"courson/store"
)

// PaperGround is the kind of paper that keeps what people did to the ground of a
// block on the page or the command line. Its key is the block's id; every version is
// one change.
const PaperGround store.PaperKind = "ground"

// The kinds of change.
const (
	GroundBlock   = "block drawn"
	GroundRows    = "rows made"
	GroundNumbers = "numbered anew"
	GroundSplit   = "block split"
	GroundJoined  = "blocks joined"
	GroundUndone  = "taken back"
)

// ErrDrawn marks ground that cannot be drawn so: what is wrong and what to do. It is
// a DrawnError, which names the field.
var ErrDrawn = errors.New("ground cannot be drawn so")

// ErrInUse marks a change that something else rests on, or that meets something that
// was changed meanwhile.
var ErrInUse = errors.New("something rests on it")

// inUseError is ErrInUse with what rests on what.
type inUseError string

func (e inUseError) Error() string { return string(e) }

// Is makes it an ErrInUse.
func (inUseError) Is(target error) bool { return target == ErrInUse }

func inUse(format string, args ...any) error { return inUseError(fmt.Sprintf(format, args...)) }

// DrawnError is ErrDrawn at one field of an order.
type DrawnError struct{ Field, Text string }

func (e *DrawnError) Error() string { return e.Text }

// Is makes it an ErrDrawn.
func (e *DrawnError) Is(target error) bool { return target == ErrDrawn }

func drawnError(field, format string, args ...any) error {
	return &DrawnError{Field: field, Text: fmt.Sprintf(format, args...)}
}

// GroundChange is one change of the ground of a block.
type GroundChange struct {
	ID    string    `json:"id"`
	What  string    `json:"what"`
	Block vine.ID   `json:"block"`
	Code  string    `json:"code"` // of the block then
	Rows  int       `json:"rows"` // touched
	Vines int       `json:"vines"`
	Made  time.Time `json:"made"`
	By    string    `json:"by"`
	// Order is what was asked for, as it came.
	Order json.RawMessage `json:"order,omitempty"`
	// Ground is the block's ground revision after the change: while it stands, nothing
	// of the ground was changed since.
	Ground int64 `json:"ground"`
	// Made rows, and what numbers were before: what taking back needs.
	MadeRows []vine.ID   `json:"made_rows,omitempty"`
	Before   *NumbersWas `json:"before,omitempty"`
	// Other is the block that a split made or a join took in. Of names the change of the
	// other block by which this one was made.
	Other     vine.ID   `json:"other,omitempty"`
	OtherCode string    `json:"other_code,omitempty"`
	Of        string    `json:"of,omitempty"`
	Split     *SplitWas `json:"split,omitempty"`
	Join      *JoinWas  `json:"join,omitempty"`
	// Undoes is the change that was taken back.
	Undoes string `json:"undoes,omitempty"`
}

// ForPeople is the change without what only taking it back needs.
func (c GroundChange) ForPeople() GroundChange {
	c.Split, c.Join, c.Before, c.MadeRows = nil, nil, nil, nil
	return c
}

// GroundChanges gives the changes of a block, the newest first.
func GroundChanges(ctx context.Context, st store.Plans, block vine.ID) ([]GroundChange, error) {
	papers, err := st.Papers(ctx, store.PaperQuery{Kind: PaperGround, Key: fmt.Sprint(block), Versions: true})
	if err != nil {
		return nil, fmt.Errorf("changes of the ground: %w", err)
	}
	out := make([]GroundChange, 0, len(papers))
	for _, p := range papers {
		var c GroundChange
		if err := json.Unmarshal(p.Value, &c); err != nil {
			return nil, fmt.Errorf("changes of the ground %s: %w", p.Key, err)
		}
		out = append(out, c)
	}
	return out, nil
}

// keepChange writes a change down, after what it tells of was written.
func keepChange(ctx context.Context, tx store.Tx, c *GroundChange, order any, by string, now time.Time) (err error) {
	if by = strings.TrimSpace(by); by == "" {
		return drawnError("by", "say who does this")
	}
	if order != nil {
		if c.Order, err = json.Marshal(order); err != nil {
			return err
		}
	}
	id, err := uuid.NewV7()
	if err != nil {
		return err
	}
	b, err := findBlock(ctx, tx, c.Block)
	if err != nil {
		return err
	}
	c.ID, c.Made, c.By, c.Ground = id.String(), now.UTC(), by, b.GroundRev
	return savePaper(tx, store.Paper{Kind: PaperGround, Key: fmt.Sprint(c.Block), Block: c.Block, By: by, Made: now}, c)
}

// inForce gives the newest change that was not taken back, -1 where there is none.
func inForce(changes []GroundChange) int {
	gone := map[string]bool{}
	for _, c := range changes {
		gone[c.Undoes] = true
	}
	return slices.IndexFunc(changes, func(c GroundChange) bool { return c.What != GroundUndone && !gone[c.ID] })
}

// GroundState is what the ground of a block has and what was done to it.
type GroundState struct {
	Block   vine.ID            `json:"block"`
	Code    string             `json:"code"`
	Outline []orb.LineString   `json:"outline"` // outer rings, closed; empty: none
	Rows    int                `json:"rows"`
	Drawn   int                `json:"drawn"`    // rows of them that were made, not surveyed
	Changes []GroundChange     `json:"changes"`  // the newest first
	Undo    string             `json:"undo"`     // id of the change that can be taken back, "" none
	UndoWhy string             `json:"undo_why"` // why there is none
	Planted map[string]float64 `json:"planted"`  // row_spacing_m, vine_spacing_m as the block's record has them
}

// GroundView gives the ground of a block for the page.
func GroundView(ctx context.Context, st reader, block vine.ID) (*GroundState, error) {
	b, err := findBlock(ctx, st, block)
	if err != nil {
		return nil, err
	}
	out := &GroundState{Block: block, Code: b.Code, Outline: []orb.LineString{}, Planted: map[string]float64{"row_spacing_m": b.RowSpacingM, "vine_spacing_m": b.VineSpacingM}}
	for _, pg := range b.Outline {
		out.Outline = append(out.Outline, orb.LineString(pg[0]))
	}
	rows, err := st.Rows(ctx, block)
	if err != nil {
		return nil, err
	}
	out.Rows = len(rows)
	for _, r := range rows {
		if _, ok := r.Extra[ExtraDrawn]; ok {
			out.Drawn++
		}
	}
	if out.Changes, err = GroundChanges(ctx, st, block); err != nil {
		return nil, err
	}
	out.Undo, out.UndoWhy, err = undoOf(ctx, st, b, out.Changes)
	for i := range out.Changes {
		out.Changes[i] = out.Changes[i].ForPeople()
	}
	return out, err
}
