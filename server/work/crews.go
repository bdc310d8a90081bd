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

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// ErrOrder tells that a crew or an order says something that cannot be meant.
var ErrOrder = errors.New("a crew or order that cannot be used")

// The kinds of paper that keep crews and orders; a crew's key is its name, an
// order's its id.
const (
	PaperCrew  store.PaperKind = "crew"
	PaperOrder store.PaperKind = "order"
)

// Crew is people who work together.
type Crew struct {
	Name        string  `json:"name"`
	People      int     `json:"people"`
	HoursPerDay float64 `json:"hours_per_day"`
	Skilled     bool    `json:"skilled"`
	Language    string  `json:"language"` // of its phones: en, es, fr, pt; "" the phone's own
}

// Check refuses nonsense.
func (c Crew) Check() error {
	switch {
	case strings.TrimSpace(c.Name) == "" || len(c.Name) > 80:
		return fmt.Errorf("%w: name %q: 1 to 80 characters", ErrOrder, c.Name)
	case c.People < 1 || c.People > 500:
		return fmt.Errorf("%w: people: found %d, wanted 1 to 500", ErrOrder, c.People)
	case !(c.HoursPerDay > 0 && c.HoursPerDay <= 16):
		return fmt.Errorf("%w: hours_per_day: found %g, wanted above 0 and at most 16", ErrOrder, c.HoursPerDay)
	case !slices.Contains([]string{"", "en", "es", "fr", "pt"}, c.Language):
		return fmt.Errorf("%w: language %q: en, es, fr or pt", ErrOrder, c.Language)
	}
	return nil
}

// Crews gives all crews by name.
func Crews(ctx context.Context, st reader) ([]Crew, error) {
	return papersOf[Crew](ctx, st, store.PaperQuery{Kind: PaperCrew})
}

func papersOf[T any](ctx context.Context, st reader, q store.PaperQuery) ([]T, error) {
	papers, err := st.Papers(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", q.Kind, err)
	}
	out := make([]T, len(papers))
	for i, p := range papers {
		if err := json.Unmarshal(p.Value, &out[i]); err != nil {
			return nil, fmt.Errorf("%s %s: %w", q.Kind, p.Key, err)
		}
	}
	return out, nil
}

// SaveCrew keeps a crew; RemoveCrew takes it away.
func SaveCrew(tx store.Tx, c Crew, by string, now time.Time) error {
	if err := c.Check(); err != nil {
		return err
	}
	return savePaper(tx, store.Paper{Kind: PaperCrew, Key: c.Name, By: by, Made: now}, c)
}

// RemoveCrew takes a crew away; its orders stay.
func RemoveCrew(tx store.Tx, name, by string, now time.Time) error {
	return tx.SavePaper(store.Paper{Kind: PaperCrew, Key: name, By: by, Made: now, Value: []byte("{}")})
}

func savePaper(tx store.Tx, p store.Paper, value any) (err error) {
	if p.Value, err = json.Marshal(value); err != nil {
		return err
	}
	return tx.SavePaper(p)
}

// Order is work of one operation in one block for one crew and day.
type Order struct {
	ID        string     `json:"id"`
	Season    int        `json:"season"`
	Operation string     `json:"operation"`
	Block     vine.ID    `json:"block"`
	Code      string     `json:"code"`
	Crew      string     `json:"crew"`
	Day       string     `json:"day"` // 2027-01-12; "" not set
	Note      string     `json:"note"`
	Rows      []OrderRow `json:"rows"` // in walking order
	Sick      bool       `json:"sick"` // sick vines, kept for last
	State     string     `json:"state"`
	By        string     `json:"by"`
	Made      time.Time  `json:"made"`
}

// The states of an order.
const (
	OrderOpen      = "open"
	OrderWithdrawn = "withdrawn"
)

// OrderRow is a row, or a run of it, in an order.
type OrderRow struct {
	Row   vine.ID `json:"row"`
	Label string  `json:"label"`
	From  int     `json:"from"`
	To    int     `json:"to"`
	Start string  `json:"start"` // "near": the walk begins at the end where vine 1 stands; "far"
	Side  string  `json:"side"`
}

// settle fills in labels and refuses what the block does not have.
func (o *Order) settle(g *stand.Ground) error {
	if o.Operation == "" || len(o.Operation) > 60 {
		return fmt.Errorf("%w: operation %q: 1 to 60 characters", ErrOrder, o.Operation)
	}
	if o.Day != "" {
		if _, err := time.Parse(time.DateOnly, o.Day); err != nil {
			return fmt.Errorf("%w: day %q: write it like 2027-01-12", ErrOrder, o.Day)
		}
	}
	if o.State == "" {
		o.State = OrderOpen
	}
	if o.State != OrderOpen && o.State != OrderWithdrawn {
		return fmt.Errorf("%w: state %q: open or withdrawn", ErrOrder, o.State)
	}
	if len(o.Rows) == 0 || len(o.Crew) > 80 || len(o.Note) > 4000 {
		return fmt.Errorf("%w: %d rows, a crew of %d and a note of %d characters: at least one row, at most 80 and 4000", ErrOrder, len(o.Rows), len(o.Crew), len(o.Note))
	}
	o.Code = g.Code
	for k := range o.Rows {
		if err := o.Rows[k].settle(g); err != nil {
			return err
		}
	}
	return nil
}

func (r *OrderRow) settle(g *stand.Ground) error {
	k := slices.IndexFunc(g.Rows, func(row stand.Row) bool { return row.ID == r.Row })
	if k < 0 {
		return fmt.Errorf("%w: there is no row %d in block %s", ErrOrder, r.Row, g.Code)
	}
	row := g.Rows[k]
	r.Label = row.Label
	if row.Count == 0 {
		return fmt.Errorf("%w: row %s has no vines", ErrOrder, row.Label)
	}
	if r.From == 0 && r.To == 0 {
		r.From, r.To = int(g.Number[row.First]), int(g.Number[row.First+row.Count-1])
	}
	if r.From < 1 || r.To < r.From {
		return fmt.Errorf("%w: row %s from vine %d to %d", ErrOrder, row.Label, r.From, r.To)
	}
	if r.Start == "" {
		r.Start = "near"
	}
	if r.Start != "near" && r.Start != "far" || len(r.Side) > 40 {
		return fmt.Errorf("%w: row %s starts at %q: near (where vine 1 stands) or far", ErrOrder, row.Label, r.Start)
	}
	return nil
}

// vines calls do for the vines of the row in order of number.
func (r OrderRow) vines(g *stand.Ground, do func(i int)) {
	k := slices.IndexFunc(g.Rows, func(row stand.Row) bool { return row.ID == r.Row })
	if k < 0 {
		return
	}
	for i := g.Rows[k].First; i < g.Rows[k].First+g.Rows[k].Count; i++ {
		if n := int(g.Number[i]); n >= r.From && n <= r.To {
			do(i)
		}
	}
}

// OrderQuery selects orders; zero fields select nothing out.
type OrderQuery struct {
	Season    int
	Crew      string
	Day       string
	Withdrawn bool // also those that were withdrawn
}

// Orders gives orders by day, crew and block code.
func Orders(ctx context.Context, st reader, q OrderQuery) ([]Order, error) {
	all, err := papersOf[Order](ctx, st, store.PaperQuery{Kind: PaperOrder, Season: q.Season})
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(o Order) bool {
		return q.Crew != "" && o.Crew != q.Crew || q.Day != "" && o.Day != q.Day || o.State == OrderWithdrawn && !q.Withdrawn
	})
	slices.SortStableFunc(all, func(a, b Order) int {
		return strings.Compare(a.Day+"\x00"+a.Crew+"\x00"+a.Code, b.Day+"\x00"+b.Crew+"\x00"+b.Code)
	})
	return all, nil
}

// SaveOrder keeps a new version of an order; one without id is new and is given
// one.
func SaveOrder(tx store.Tx, g *stand.Ground, o *Order, by string, now time.Time) error {
	if err := o.settle(g); err != nil {
		return err
	}
	if o.ID == "" {
		id, err := uuid.NewV7()
		if err != nil {
			return err
		}
		o.ID = id.String()
	}
	o.By, o.Made = by, now
	return savePaper(tx, store.Paper{Kind: PaperOrder, Key: o.ID, Season: o.Season, Block: o.Block, By: by, Made: now}, o)
}

// ReadOrder reads an order as it is kept.
func ReadOrder(p store.Paper) (o Order, err error) {
	if err = json.Unmarshal(p.Value, &o); err != nil {
		err = fmt.Errorf("order %s: %w", p.Key, err)
	}
	return o, err
}
