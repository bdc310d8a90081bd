package work

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/rate"
	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/store"
)

// ErrRates marks an order for zones or rates that cannot be carried out; the text
// says why.
var ErrRates = errors.New("zones and rates")

// RateOrder says from what a block is cut into zones, how, and what rate each
// gets.
type RateOrder struct {
	Columns []RateColumn  `json:"columns"` // none: vigour of the season
	Zones   ZoneOrder     `json:"zones"`
	Rates   *RateRequest  `json:"rates"` // null: zones alone
	Machine RateTerminal  `json:"terminal"`
	Grid    TerminalCells `json:"grid"`
}

// RateColumn is one value per vine.
type RateColumn struct {
	Of     string  `json:"of"`     // "vigour" or "canopy_index"
	Season int     `json:"season"` // 0: that of the order
	Weight float64 `json:"weight"` // 0: 1
}

// ZoneOrder is rate.Options as people write them; what is 0 or empty takes the
// default.
type ZoneOrder struct {
	Method    string  `json:"method"` // "k-means", "natural breaks", "fuzzy c-means"
	Zones     int     `json:"zones"`
	Seed      uint64  `json:"seed"`
	Starts    int     `json:"starts"`
	Fuzziness float64 `json:"fuzziness"`
	LeastM2   float64 `json:"least_m2"`
	WidthM    float64 `json:"width_m"`
	PassRows  int     `json:"rows_per_pass"`
	WholeRows bool    `json:"whole_rows"`
	ReactionM float64 `json:"reaction_m"`
	Rounds    int     `json:"rounds"`
}

// RateRequest is rate.Request as people write it.
type RateRequest struct {
	Material string         `json:"material"` // key of the list; "own": Own
	Own      *OwnMaterial   `json:"own"`
	Aim      string         `json:"aim"`  // "even out", "use the difference"
	Rule     string         `json:"rule"` // "by zone", "by factor", "linear", "need"
	Unit     string         `json:"unit"`
	ByZone   []float64      `json:"by_zone"`
	Base     float64        `json:"base"`
	Factor   []float64      `json:"factor"`
	Slope    float64        `json:"slope"`
	Target   float64        `json:"target"`
	PerUnit  float64        `json:"per_unit"`
	Column   int            `json:"column"`
	Floor    float64        `json:"floor"`
	Cap      float64        `json:"cap"`
	Budget   float64        `json:"budget"`
	Saving   string         `json:"saving"` // "scaled" (default), "levelled"
	Uniform  float64        `json:"uniform"`
	Price    float64        `json:"price"`
	Nitrogen NitrogenWanted `json:"nitrogen"`
}

// OwnMaterial is a material that is not on the list.
type OwnMaterial struct {
	Name       string  `json:"name"`
	Kind       string  `json:"kind"`
	Unit       string  `json:"unit"`
	Least      float64 `json:"least"`
	Most       float64 `json:"most"`
	NKgPerT    float64 `json:"n_kg_per_t"`
	NShare     float64 `json:"n_share"`
	Weak       int     `json:"weak"`
	Product    string  `json:"label_product"` // plant protection: as the label says
	LabelLeast float64 `json:"label_least"`
	LabelMost  float64 `json:"label_most"`
}

// NitrogenWanted is rate.NitrogenLimit as people write it.
type NitrogenWanted struct {
	YieldTPerHa []float64 `json:"yield_t_per_ha"`
	PerTonne    float64   `json:"kg_per_tonne"`
	PerYear     float64   `json:"kg_per_year"`
	Given       float64   `json:"kg_given"`
	// NKgPerT is what an analysis of the material says, kg N per tonne.
	NKgPerT float64 `json:"n_kg_per_t"`
}

// RateTerminal is what the machine and its terminal can do; 0: the default.
type RateTerminal struct {
	WidthM  float64 `json:"width_m"`
	LeastM2 float64 `json:"least_m2"`
	Points  int     `json:"points"`
	NameLen int     `json:"name_length"`
}

// TerminalCells is the grid of a file with cells.
type TerminalCells struct {
	SideM float64 `json:"side_m"` // 0: 5
}

// Rated is a block cut into zones, with its rates.
type Rated struct {
	Estate  string
	Block   store.Block
	Stand   *stand.Stand
	Columns []rate.Column
	Zones   *rate.Zones
	Advice  *rate.Advice
	Stable  *rate.Stable // nil: one column
	Rates   *rate.Rates  // nil: zones alone
	Areas   []orb.MultiPolygon
	Order   RateOrder
}

// RateJob says of which block.
type RateJob struct {
	Estate string // its name, for the head of task data
	Block  store.Block
	Season int
	Order  RateOrder
	// In gives what was measured in a season, on the same ground for all.
	In func(ctx context.Context, season int) (Measured, error)
}

// ParseRateOrder reads an order; keys that are not known are refused. Errors wrap
// ErrRates.
func ParseRateOrder(value []byte) (RateOrder, error) {
	var o RateOrder
	if len(value) == 0 {
		return o, nil
	}
	err := strictly(value, &o, ErrRates)
	return o, err
}

// MakeRates cuts a block into zones and gives each its rate. Errors wrap ErrRates
// where the order is at fault or the values do not allow it.
func MakeRates(ctx context.Context, job RateJob) (*Rated, error) {
	z, err := MakeZones(ctx, job)
	if err != nil {
		return nil, err
	}
	return z.WithRates(job.Order)
}

// MakeZones cuts a block into zones; what the order says of rates is not looked at.
func MakeZones(ctx context.Context, job RateJob) (*Rated, error) {
	out := &Rated{Estate: job.Estate, Block: job.Block, Order: job.Order}
	if err := out.columns(ctx, job); err != nil {
		return nil, err
	}
	options, err := job.Order.Zones.options()
	if err != nil {
		return nil, err
	}
	if out.Zones, err = rate.Make(out.Stand, out.Columns, options); err != nil {
		return nil, ratesFault(err)
	}
	if out.Advice, err = rate.Number(out.Stand, out.Columns, options); err != nil {
		return nil, ratesFault(err)
	}
	if len(out.Columns) > 1 {
		if out.Stable, err = rate.Stability(out.Stand, out.Columns, out.Zones.Options.Zones); err != nil {
			return nil, ratesFault(err)
		}
	}
	out.outline()
	return out, nil
}

func (r *Rated) outline() {
	fr := frame.New(orb.Point(r.Stand.Ground.Origin))
	for _, o := range r.Zones.Outlines() {
		r.Areas = append(r.Areas, areaOf(fr, o))
	}
}

// WithRates gives the same zones with the rates of an order, as MakeRates does;
// what the order says of the zones is not looked at.
func (r *Rated) WithRates(o RateOrder) (*Rated, error) {
	out := *r
	if out.Order = o; o.Rates == nil {
		return &out, nil
	}
	q, err := o.Rates.request()
	if err != nil {
		return nil, err
	}
	if out.Rates, err = out.Zones.Rates(q); err != nil {
		return nil, out.ratesFault(err)
	}
	return &out, nil
}

func ratesFault(err error) error {
	return fmt.Errorf("%w: %w", ErrRates, err)
}

// ratesFault also says so where fewer zones are left than were asked for, and what
// would keep them.
func (r *Rated) ratesFault(err error) error {
	asked, left := r.Zones.Options.Zones, len(r.Zones.List)
	if left >= asked {
		return ratesFault(err)
	}
	are, keep := "are", ""
	if left == 1 {
		are = "is"
	}
	if m := r.Zones.Remedy; m != nil {
		keep = ". " + m.Text
	}
	return fmt.Errorf("%w: %w; of %d zones asked for %d %s left%s", ErrRates, err, asked, left, are, keep)
}

// columns gathers the values. All seasons must stand on the ground of the first.
func (r *Rated) columns(ctx context.Context, job RateJob) error {
	asked := job.Order.Columns
	if len(asked) == 0 {
		asked = []RateColumn{{Of: "vigour"}}
	}
	for _, c := range asked {
		if c.Season == 0 {
			c.Season = job.Season
		}
		m, err := job.In(ctx, c.Season)
		if err != nil {
			return err
		}
		if r.Stand == nil || c.Season == job.Season {
			r.Stand = m.Stand
		}
		if r.Stand.Ground != m.Stand.Ground {
			return fmt.Errorf("%w: block %s was drawn anew while it was read; ask again", ErrRates, job.Block.Code)
		}
		col, err := c.values(m, job.Block.Code)
		if err != nil {
			return err
		}
		r.Columns = append(r.Columns, col)
	}
	return nil
}

func (c RateColumn) values(m Measured, code string) (rate.Column, error) {
	switch c.Of {
	case "vigour":
		values, se, err := vigour.Surface(vigour.Input{Stand: m.Stand, Columns: m.Columns})
		if err != nil {
			return rate.Column{}, fmt.Errorf("%w: vigour of block %s, season %d: %w", ErrRates, code, c.Season, err)
		}
		return rate.Column{Name: fmt.Sprintf("vigour of %d", c.Season), Unit: "kg/m", Values: values, SE: se, Weight: c.Weight}, nil
	case "canopy_index":
		for _, col := range m.Columns {
			if col.Quantity == vine.CanopyIndex {
				return rate.Column{Name: fmt.Sprintf("canopy index of %d", c.Season), Values: col.Values, Known: col.Known, Weight: c.Weight}, nil
			}
		}
		return rate.Column{}, fmt.Errorf("%w: block %s has no canopy index in season %d; import one or leave the column out", ErrRates, code, c.Season)
	}
	return rate.Column{}, fmt.Errorf("%w: columns.of: found %q, wanted vigour or canopy_index", ErrRates, c.Of)
}

// word finds which of several words somebody wrote.
func word[T fmt.Stringer](field, written string, of ...T) (T, error) {
	k := slices.IndexFunc(of, func(v T) bool { return v.String() == written })
	if k < 0 {
		var none T
		wanted, _ := json.Marshal(wordsOf(of))
		return none, fmt.Errorf("%w: %s: found %q, wanted one of %s", ErrRates, field, written, wanted)
	}
	return of[k], nil
}

func wordsOf[T fmt.Stringer](of []T) (out []string) {
	for _, v := range of {
		out = append(out, v.String())
	}
	return out
}

func (z ZoneOrder) options() (rate.Options, error) {
	method := rate.KMeansMethod
	if z.Method != "" {
		var err error
		if method, err = word("zones.method", z.Method, rate.KMeansMethod, rate.NaturalMethod, rate.FuzzyMethod); err != nil {
			return rate.Options{}, err
		}
	}
	return rate.Options{Method: method, Zones: z.Zones, Seed: z.Seed, Starts: z.Starts, Fuzziness: z.Fuzziness, LeastM2: z.LeastM2,
		WidthM: z.WidthM, PassRows: z.PassRows, WholeRows: z.WholeRows, ReactionM: z.ReactionM, Rounds: z.Rounds}, nil
}

func areaOf(fr frame.Frame, o rate.Outline) orb.MultiPolygon {
	var mp orb.MultiPolygon
	for _, p := range o {
		var pg orb.Polygon
		for _, ring := range p {
			var r orb.Ring
			for _, at := range ring {
				r = append(r, fr.Inverse(at.X, at.Y))
			}
			pg = append(pg, r)
		}
		mp = append(mp, pg)
	}
	return mp
}
