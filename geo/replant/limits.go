package replant

import (
	"fmt"
	"math"
)

// Limits are shares that a block is held against; 0 means none.
type Limits struct {
	// NormalYearly is the share of vines lost in a year up to which replacement is
	// routine: 0.03 (two careful estates: 0.02 and 0.018).
	NormalYearly float64 `json:"normal_yearly"`
	// TooManyYearly is a yearly loss called unmanageable: 0.05.
	TooManyYearly float64 `json:"too_many_yearly"`
	// TooMany is the share of gaps above which patching is held to be no longer
	// worth it: 0.08 (the page does not say whether per year or in all; here: all).
	TooMany float64 `json:"too_many"`
	// Leafroll: single vines are rogued up to this share infected, above it the
	// block is replaced: 0.25 (Cabernet franc, New York; South African fact sheets
	// say about 0.20).
	Leafroll float64 `json:"leafroll"`
	// RedBlotch: rogued below this share, the block replaced from it up: 0.30 (four
	// regions of the USA).
	RedBlotch float64 `json:"red_blotch"`
	// Appellation is the share of missing vines above which the permitted yield is
	// cut: 0.20 (now often so; 0.25 when introduced in 2005). See the text in force.
	Appellation float64 `json:"appellation"`
	// PermittedHlHa is the appellation's permitted yield, hl/ha; 0 not known.
	PermittedHlHa float64 `json:"permitted_hl_ha"`
}

// DefaultLimits gives the defaults.
func DefaultLimits() Limits {
	return Limits{NormalYearly: 0.03, TooManyYearly: 0.05, TooMany: 0.08, Leafroll: 0.25, RedBlotch: 0.30, Appellation: 0.20}
}

// Check refuses shares that are none; the error wraps ErrSettings.
func (l Limits) Check() error {
	for _, c := range []struct {
		field string
		v     float64
	}{
		{"normal_yearly", l.NormalYearly}, {"too_many_yearly", l.TooManyYearly}, {"too_many", l.TooMany},
		{"leafroll", l.Leafroll}, {"red_blotch", l.RedBlotch}, {"appellation", l.Appellation},
	} {
		if !(c.v >= 0 && c.v <= 1) {
			return wrong(ErrSettings, c.field, c.v, "a share from 0 to 1")
		}
	}
	if !(l.PermittedHlHa >= 0) || math.IsInf(l.PermittedHlHa, 0) {
		return wrong(ErrSettings, "permitted_hl_ha", l.PermittedHlHa, "0 or above")
	}
	return nil
}

// Counts are what a block's limits are checked on. Positions are missing plus
// present: the empty ground of headlands is never counted as missing (d'Amécourt
// Y., Parcelles et pieds manquants).
type Counts struct {
	Day       Day
	Positions int
	Gaps      int // positions with no living vine
	LostYear  int // vines lost within the last year
	Leafroll  int // vines known to be infected
	RedBlotch int
}

// LimitNote is one limit and where the block stands.
type LimitNote struct {
	Key    string  `json:"key"` // the field of Limits
	Count  int     `json:"count"`
	Of     int     `json:"of"`
	Share  float64 `json:"share"`
	Limit  float64 `json:"limit"`
	Beyond bool    `json:"beyond"`
	// ToGo is how many more vines may go before the limit is passed; below 0: by
	// how many the block is beyond it.
	ToGo   int    `json:"to_go"`
	Day    Day    `json:"day"`
	Text   string `json:"text"` // with the formula in numbers
	Source string `json:"source"`
}

// CheckLimits holds the counts of a block against its limits. The errors wrap
// ErrSettings or ErrInput.
func CheckLimits(c Counts, l Limits) ([]LimitNote, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	if err := c.check(); err != nil {
		return nil, err
	}
	var out []LimitNote
	for _, d := range []struct {
		key, what           string
		count               int
		limit               float64
		atLimit             bool // beyond from the limit itself
		within, past, where string
	}{
		{"normal_yearly", "lost within a year", c.LostYear, l.NormalYearly, false, "routine replacement", "more than routine replacement: look for the cause", srcNormal},
		{"too_many_yearly", "lost within a year", c.LostYear, l.TooManyYearly, false, "can be kept up with", "called unmanageable: losses outrun replacement", srcCost},
		{"too_many", "without a living vine", c.Gaps, l.TooMany, false, "patching is worth a look", "patching is held to be no longer worth it: compare it with pulling the block", srcNormal},
		{"leafroll", "with leafroll", c.Leafroll, l.Leafroll, false, "rogue and replace single vines", "replace the block", srcLeafroll},
		{"red_blotch", "with red blotch", c.RedBlotch, l.RedBlotch, true, "rogue and replace single vines", "replace the block", srcRedBlotch},
		{"appellation", "missing", c.Gaps, l.Appellation, false, "no cut of the permitted yield", "the permitted yield is cut", srcRule2005},
	} {
		if d.limit == 0 {
			continue
		}
		n := LimitNote{Key: d.key, Count: d.count, Of: c.Positions, Share: share(d.count, c.Positions), Limit: d.limit, Day: c.Day, Source: d.where}
		n.ToGo = mostWithin(d.limit, c.Positions, d.atLimit) - d.count
		n.Beyond = n.ToGo < 0
		says := d.within
		if n.Beyond {
			says = d.past
		}
		n.Text = fmt.Sprintf("%s: %d of %d positions %s, %d / %d = %.1f %%; limit %.1f %%: %s. %s", c.Day, d.count, c.Positions, d.what, d.count, c.Positions, 100*n.Share, 100*d.limit, says, toGo(n.ToGo))
		if d.key == "appellation" && l.PermittedHlHa > 0 {
			n.Text += " " + permittedText(l, n)
		}
		out = append(out, n)
	}
	return out, nil
}

func (c Counts) check() error {
	if c.Positions <= 0 {
		return wrong(ErrInput, "positions", c.Positions, "1 or more")
	}
	for _, k := range []struct {
		field string
		v     int
	}{{"gaps", c.Gaps}, {"lost in the year", c.LostYear}, {"leafroll", c.Leafroll}, {"red blotch", c.RedBlotch}} {
		if k.v < 0 || k.v > c.Positions {
			return wrong(ErrInput, k.field, k.v, spanText(0, c.Positions))
		}
	}
	return nil
}

// mostWithin is the greatest count that is not beyond the limit.
func mostWithin(limit float64, of int, atLimit bool) int {
	const slip = 1e-9 // 0.07 × 100 is a hair above 7
	if atLimit {
		return int(math.Ceil(limit*float64(of)-slip)) - 1
	}
	return int(math.Floor(limit*float64(of) + slip))
}

func toGo(n int) string {
	if n < 0 {
		return fmt.Sprintf("Beyond it by %s.", count(-n, "vine"))
	}
	return fmt.Sprintf("%s to go before it is passed.", count(n, "vine"))
}

func permittedText(l Limits, n LimitNote) string {
	cut := PermittedYield(l.PermittedHlHa, n.Share, l.Appellation)
	if !n.Beyond {
		return fmt.Sprintf("Permitted yield stays at %.1f hl/ha.", cut)
	}
	return fmt.Sprintf("Permitted yield: %.1f × (1 − %.3f) = %.1f hl/ha.", l.PermittedHlHa, n.Share, cut)
}

// PermittedYield gives the appellation's permitted yield in the unit of full:
// full × (1 - missing share) where that share is above the threshold, else full
// (La Vigne, article VI1322116052, on the rule of 2005).
func PermittedYield(full, missing, threshold float64) float64 {
	if missing > threshold {
		return full * (1 - missing)
	}
	return full
}

func share(n, of int) float64 {
	if of == 0 {
		return 0
	}
	return float64(n) / float64(of)
}

func spanText(low, top int) string { return fmt.Sprintf("%d to %d", low, top) }
