package replant

import (
	"fmt"
	"math"
	"slices"
)

// Way is one of the ways to go on with a block.
type Way uint8

// The ways.
const (
	Leave      Way = iota // gaps stay until the block is pulled
	Interplant            // gaps are filled over some years
	PullBlock             // the block is pulled now and planted anew
	ways       = iota
)

var wayWords = [...]string{"leave", "interplant", "pull the block"}

// String gives the word for people.
func (w Way) String() string {
	return word(wayWords[:], int(w), "way")
}

// BlockCase is the block that is compared.
type BlockCase struct {
	Season    int     // year 0 of the comparison
	AreaHa    float64 // planted
	Positions int
	Gaps      int
	// Young are living plants in leaf 1, 2, … (entry 0 is leaf 1); all others count
	// as in full crop.
	Young []int
	// Remaining is how many more seasons the block stands where it is left or
	// filled; then it is pulled and planted anew, as in PullBlock, so that all ways
	// are compared over the same Horizon.
	Remaining int
	Over      int  // years over which Interplant fills today's gaps, 1 and up
	KeepUp    bool // Interplant also fills what is lost anew, each year
	Horizon   int  // years compared; default in DefaultHorizon
	// An appellation's permitted yield, hl of wine per ha, and the share of gaps above
	// which it is cut (PermittedYield); 0: none. Grapes above it are not sold.
	PermittedHlHa  float64
	PermittedLimit float64
}

// DefaultHorizon is about the life of a block (common practice).
const DefaultHorizon = 30

// Year is one year of a way, all money per ha, before discount but for Present and
// Total.
type Year struct {
	Year      int     `json:"year"` // 0 and up
	Season    int     `json:"season"`
	Living    float64 `json:"living"`   // share of positions with a living plant
	Gaps      float64 `json:"gaps"`     // share without; 0 while the ground rests
	YieldKgHa float64 `json:"yield_kg"` // grown
	SoldKgHa  float64 `json:"sold_kg"`  // within the permitted yield
	// Permitted yield of the year, cut where the gaps are above the limit, hl/ha; 0
	// where none is known.
	PermittedHlHa float64 `json:"permitted_hl_ha"`
	Sales         float64 `json:"sales"`     // sold × price
	Picking       float64 `json:"picking"`   // sold × cost of picking
	Tending       float64 `json:"tending"`   // or the cost of resting ground
	Replants      float64 `json:"replants"`  // plants set among old vines, per ha
	Replacing     float64 `json:"replacing"` // their cost
	Block         float64 `json:"block"`     // pulling and planting the whole block
	Cash          float64 `json:"cash"`      // sales less all costs
	Factor        float64 `json:"factor"`    // 1 / (1 + rate)^year
	Present       float64 `json:"present"`   // cash × factor
	Total         float64 `json:"total"`     // sum of Present up to here
}

// Plan is a way with its sum.
type Plan struct {
	Way     Way     `json:"way"`
	PerHa   float64 `json:"npv_per_ha"` // net present value
	NPV     float64 `json:"npv"`        // of the block
	Replant int     `json:"replants"`   // plants set among old vines, rounded up
	Years   []Year  `json:"years"`
}

// Comparison is the three ways side by side.
type Comparison struct {
	Plans       [ways]Plan    `json:"plans"` // by Way
	Sensitivity []Sensitivity `json:"sensitivity"`
	Advice      []string      `json:"advice"`
}

// Compare works out the net present value of each way: the sum over the years of
// cash / (1 + rate)^year, year 0 undiscounted (any standard text on investment).
// Yields are expected values: a gap gives c of a vine's crop from its second
// season, nothing in its first; a young replant gives its own crop or, where that
// is less, c, as its neighbours stay extended until it bears. Nothing is counted
// after the horizon, and a block planted later then stands younger: that is left
// out of the sum. The errors wrap ErrInput or ErrSettings.
func Compare(b BlockCase, m Money) (*Comparison, error) {
	if b.Horizon == 0 {
		b.Horizon = DefaultHorizon
	}
	if err := b.check(); err != nil {
		return nil, err
	}
	if err := m.Check(); err != nil {
		return nil, err
	}
	c := &Comparison{}
	for w := range Way(ways) {
		c.Plans[w] = b.plan(w, &m)
	}
	c.Sensitivity = b.sensitivity(m, c.best())
	c.Advice = b.advice(c, &m)
	return c, nil
}

func (b *BlockCase) check() error {
	young := 0
	for k, n := range b.Young {
		if n < 0 {
			return wrong(ErrInput, fmt.Sprintf("young plants in leaf %d", k+1), n, "0 or more")
		}
		young += n
	}
	for _, c := range []struct {
		field       string
		v, low, top int
	}{
		{"positions", b.Positions, 1, math.MaxInt32}, {"gaps", b.Gaps, 0, b.Positions}, {"young plants", young, 0, b.Positions - b.Gaps},
		{"remaining years", b.Remaining, 0, 200}, {"years of interplanting", b.Over, 1, 50}, {"horizon", b.Horizon, 1, 200},
	} {
		if c.v < c.low || c.v > c.top {
			return wrong(ErrInput, c.field, c.v, spanText(c.low, c.top))
		}
	}
	if !(b.AreaHa > 0) || math.IsInf(b.AreaHa, 0) {
		return wrong(ErrInput, "area", b.AreaHa, "hectares above 0")
	}
	if !(b.PermittedHlHa >= 0) || !(b.PermittedLimit >= 0 && b.PermittedLimit <= 1) {
		return wrong(ErrInput, "permitted yield", fmt.Sprintf("%v hl/ha, limit %v", b.PermittedHlHa, b.PermittedLimit), "0 or above, limit 0 to 1")
	}
	return nil
}

// plan runs one way over the years.
func (b *BlockCase) plan(w Way, m *Money) Plan {
	p := Plan{Way: w, Years: make([]Year, b.Horizon)}
	var set float64
	p.PerHa, set = b.run(w, m, p.Years)
	p.NPV = p.PerHa * b.AreaHa
	p.Replant = int(math.Ceil(set*b.AreaHa - 1e-9))
	return p
}

// run gives the net present value and the replants of a way, per ha, and books the
// years where there is room for them.
func (b *BlockCase) run(w Way, m *Money, years []Year) (value, set float64) {
	perHa := float64(b.Positions) / b.AreaHa
	var room [16]cohort
	g := b.start(m, room[:0])
	pullAt := b.Remaining
	if w == PullBlock {
		pullAt = 0
	}
	rest := int(m.RestYears.Value)
	factor := 1.0
	for t := range b.Horizon {
		y := Year{Year: t, Season: b.Season + t, Factor: factor}
		switch {
		case t < pullAt:
			g.winter(t > 0)
			if w == Interplant {
				y.Replants = g.fill(b, t, m) * perHa
			}
		case t == pullAt:
			g = ground{resting: true}
			y.Block += m.Pull.Value
		}
		switch {
		case t == pullAt+rest:
			g = newBlock(m, room[:0])
			y.Block += m.Plant.Value
		case t > pullAt+rest:
			g.winter(true)
		}
		b.book(&y, &g, m)
		g.age()
		set += y.Replants
		value += y.Present
		y.Total = value
		if years != nil {
			years[t] = y
		}
		factor /= 1 + m.Discount.Value
	}
	return value, set
}

// book turns a year's growth into money.
func (b *BlockCase) book(y *Year, g *ground, m *Money) {
	y.Living, y.Gaps = g.living(), g.gaps+g.fresh
	if g.resting {
		y.Tending = m.Rest.Value
	} else {
		y.YieldKgHa = m.Yield.Value * g.crop(m)
		y.Tending = m.Tend.Value
	}
	y.SoldKgHa = y.YieldKgHa
	if b.PermittedHlHa > 0 {
		y.PermittedHlHa = PermittedYield(b.PermittedHlHa, y.Gaps, b.limit())
		y.SoldKgHa = min(y.SoldKgHa, y.PermittedHlHa*m.PerHl.Value)
	}
	y.Sales, y.Picking = y.SoldKgHa*m.Price.Value, y.SoldKgHa*m.Harvest.Value
	y.Replacing = y.Replants * m.Replace.Value
	y.Cash = y.Sales - y.Picking - y.Tending - y.Replacing - y.Block
	y.Present = y.Cash * y.Factor
}

// limit of the permitted yield; 0 means that gaps do not cut it.
func (b *BlockCase) limit() float64 {
	if b.PermittedLimit == 0 {
		return 1
	}
	return b.PermittedLimit
}

// best lists the ways by net present value, greatest first; of equals the lighter.
func (c *Comparison) best() [ways]Way {
	order := [ways]Way{Leave, Interplant, PullBlock}
	slices.SortStableFunc(order[:], func(a, b Way) int {
		switch x, y := c.Plans[a].PerHa, c.Plans[b].PerHa; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return order
}
