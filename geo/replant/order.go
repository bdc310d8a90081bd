package replant

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Sort names what a nursery sells: cultivar, clone and rootstock together.
type Sort struct {
	Cultivar  string `json:"cultivar"`
	Clone     string `json:"clone"`
	Rootstock string `json:"rootstock"`
}

// Need is places to fill with one sort.
type Need struct {
	Sort
	Block     string `json:"block"`
	Positions int    `json:"positions"`
	Whole     bool   `json:"whole"` // a whole block planted anew, not places among old vines
}

// OrderSettings say how many plants and what goes with them.
type OrderSettings struct {
	// Survival of replants into bearing: 0.83 (GiESCO 2023 conference abstract: 83
	// batches, 44 blocks); one's own record by batch is better.
	Survival float64 `json:"survival"`
	// BlockSurvival of a new block: 0.96 (2 to 5 % spare, from memory).
	BlockSurvival float64 `json:"block_survival"`
	// Spare is a further share on top, for a nursery row of one's own. Default 0
	// (growers add from 25 plants of each clone to half as many again).
	Spare float64 `json:"spare"`
	// For each hole. Defaults 1, 1 and 1 (common practice: a stake, a guard against
	// rabbits and weedkiller, a dripper where the block is watered).
	Stakes   float64 `json:"stakes_per_plant"`
	Guards   float64 `json:"guards_per_plant"`
	Drippers float64 `json:"drippers_per_plant"`
	// LeadMonths before planting for an exact sort: 14 to 18; default 18, the safe
	// end (a California grapevine nursery's questions page). Potted: for potted
	// plants of a sort that the nursery keeps: some months; default 6 (from memory).
	LeadMonths       int `json:"lead_months"`
	PottedLeadMonths int `json:"potted_lead_months"`
	// WarnDays before the order day a warning is given. Default 60 (chosen by us).
	WarnDays int `json:"warn_days"`
}

// DefaultOrderSettings gives the defaults.
func DefaultOrderSettings() OrderSettings {
	return OrderSettings{Survival: 0.83, BlockSurvival: 0.96, Stakes: 1, Guards: 1, Drippers: 1, LeadMonths: 18, PottedLeadMonths: 6, WarnDays: 60}
}

// Check refuses settings out of range; the error wraps ErrSettings.
func (s OrderSettings) Check() error {
	for _, v := range []float64{s.Survival, s.BlockSurvival} {
		if !(v > 0 && v <= 1) {
			return wrong(ErrSettings, "survival", v, "above 0, at most 1")
		}
	}
	for _, c := range []struct {
		field  string
		v, top float64
	}{
		{"spare", s.Spare, 10}, {"stakes_per_plant", s.Stakes, 100}, {"guards_per_plant", s.Guards, 100}, {"drippers_per_plant", s.Drippers, 100},
		{"lead_months", float64(s.LeadMonths), 60}, {"potted_lead_months", float64(s.PottedLeadMonths), 60}, {"warn_days", float64(s.WarnDays), 1000},
	} {
		if !(c.v >= 0 && c.v <= c.top) {
			return wrong(ErrSettings, c.field, c.v, fmt.Sprintf("0 to %g", c.top))
		}
	}
	return nil
}

// Stock is plants in hand of a sort.
type Stock struct {
	Sort
	Plants int `json:"plants"`
}

// When is the calendar of an order.
type When struct {
	Today   Day
	PlantOn Day // first day of planting
	Potted  bool
}

// OrderLine is what to order of one sort.
type OrderLine struct {
	Sort
	Positions int      `json:"positions"` // places to fill
	Plants    int      `json:"plants"`    // with the margins for losses and spare
	InHand    int      `json:"in_hand"`   // of them from stock
	Order     int      `json:"order"`     // to order
	Blocks    []string `json:"blocks"`
	Text      string   `json:"text"`
}

// Order is a nursery order with what goes with it.
type Order struct {
	Lines    []OrderLine `json:"lines"` // by cultivar, clone, rootstock
	Holes    int         `json:"holes"`
	Stakes   int         `json:"stakes"`
	Guards   int         `json:"guards"`
	Drippers int         `json:"drippers"`
	OrderBy  Day         `json:"order_by"`
	Late     bool        `json:"late"` // the day has passed
	Soon     bool        `json:"soon"` // it comes within the days of warning
	Notes    []string    `json:"notes"`
}

// PlantsToOrder gives need / survival, rounded up: 500 places at a survival of
// 0.83 take 603 plants.
func PlantsToOrder(need int, survival float64) int {
	const slip = 1e-9 // 90 / 0.9 is not to become 101
	return max(need, int(math.Ceil(float64(need)/survival-slip)))
}

// OrderPlants writes the order. Needs of one sort are put together, the margin
// taken on each need, stock in hand taken off; unused stock is told. Holes are
// places now; replants for later losses get theirs when those are known. The
// errors wrap ErrInput or ErrSettings.
func OrderPlants(needs []Need, stock []Stock, s OrderSettings, when When) (*Order, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	lines := map[Sort]*OrderLine{}
	o := &Order{}
	for i, n := range needs {
		if n.Positions < 0 || n.Positions > 100_000_000 || n.Cultivar == "" {
			return nil, wrong(ErrInput, fmt.Sprintf("need %d", i+1), fmt.Sprintf("%d of %q", n.Positions, n.Cultivar), "a cultivar and 0 or more places")
		}
		l := lines[n.Sort]
		if l == nil {
			l = &OrderLine{Sort: n.Sort}
			lines[n.Sort] = l
		}
		survival := s.Survival
		if n.Whole {
			survival = s.BlockSurvival
		}
		plants := PlantsToOrder(n.Positions, survival)
		l.Positions += n.Positions
		l.Plants += plants + int(math.Ceil(s.Spare*float64(n.Positions)-1e-9))
		if n.Block != "" && !slices.Contains(l.Blocks, n.Block) {
			l.Blocks = append(l.Blocks, n.Block)
		}
		o.Holes += n.Positions
	}
	if err := o.takeStock(lines, stock); err != nil {
		return nil, err
	}
	for _, l := range lines {
		l.Order = l.Plants - l.InHand
		l.Text = fmt.Sprintf("%s: %s; with losses and spare %s; %d in hand; order %d.", l.Sort, count(l.Positions, "place"), count(l.Plants, "plant"), l.InHand, l.Order)
		o.Lines = append(o.Lines, *l)
	}
	slices.SortFunc(o.Lines, func(a, b OrderLine) int { return a.Sort.compare(b.Sort) })
	pieces := func(per float64) int { return int(math.Ceil(per*float64(o.Holes) - 1e-9)) }
	o.Stakes, o.Guards, o.Drippers = pieces(s.Stakes), pieces(s.Guards), pieces(s.Drippers)
	o.date(s, when)
	return o, nil
}

func (o *Order) takeStock(lines map[Sort]*OrderLine, stock []Stock) error {
	for i, st := range stock {
		if st.Plants < 0 {
			return wrong(ErrInput, fmt.Sprintf("stock %d", i+1), st.Plants, "0 or more plants")
		}
		used := 0
		if l := lines[st.Sort]; l != nil {
			used = min(st.Plants, l.Plants-l.InHand)
			l.InHand += used
		}
		if left := st.Plants - used; left > 0 {
			o.Notes = append(o.Notes, fmt.Sprintf("%s of %s in hand are not needed.", count(left, "plant"), st.Sort))
		}
	}
	return nil
}

func (o *Order) date(s OrderSettings, when When) {
	if when.PlantOn == 0 {
		o.Notes = append(o.Notes, "No planting day is set, so no day to order by.")
		return
	}
	months := s.LeadMonths
	if when.Potted {
		months = s.PottedLeadMonths
	}
	o.OrderBy = when.PlantOn.AddMonths(-months)
	text := fmt.Sprintf("To plant on %s, order by %s (%d months).", when.PlantOn, o.OrderBy, months)
	if when.Today != 0 {
		left := int(o.OrderBy - when.Today)
		o.Late, o.Soon = left < 0, left >= 0 && left <= s.WarnDays
		switch {
		case o.Late:
			text += fmt.Sprintf(" That was %s ago: ask for potted plants, another clone, or plant a year later.", count(-left, "day"))
		case o.Soon:
			text += fmt.Sprintf(" %s left.", count(left, "day"))
		}
	}
	o.Notes = append(o.Notes, text, "Ask for certified material with its plant passport or certificate where the law asks for it; local plant-health rules apply.")
}

// String writes "Merlot, clone 181, on 3309C"; what is not said is left out.
func (s Sort) String() string {
	text := s.Cultivar
	if s.Clone != "" {
		text += ", clone " + s.Clone
	}
	if s.Rootstock != "" {
		text += ", on " + s.Rootstock
	}
	return text
}

func (s Sort) compare(o Sort) int {
	return cmp.Or(cmp.Compare(s.Cultivar, o.Cultivar), cmp.Compare(s.Clone, o.Clone), cmp.Compare(s.Rootstock, o.Rootstock))
}
