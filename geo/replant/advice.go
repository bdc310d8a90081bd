package replant

import (
	"fmt"
	"math"
)

// advice puts the sums into words.
func (b *BlockCase) advice(c *Comparison, m *Money) (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	order := c.best()
	say("%.1f %% of %d positions are gaps. Over %d years at %.1f %% a year, per hectare:", 100*share(b.Gaps, b.Positions), b.Positions, b.Horizon, 100*m.Discount.Value)
	for _, w := range order {
		p := &c.Plans[w]
		text := fmt.Sprintf("%s: %s (%s for the block of %.2f ha)", w, amount(p.PerHa, m.Currency), amount(p.NPV, m.Currency), b.AreaHa)
		if w == Interplant {
			text += fmt.Sprintf(", %d replants", p.Replant)
		}
		say("%s.", text)
	}
	first, second := c.Plans[order[0]], c.Plans[order[1]]
	say("By these sums %s comes out ahead of %s by %s per ha.", first.Way, second.Way, amount(first.PerHa-second.PerHa, m.Currency))
	out = append(out, b.cuts(c)...)
	n := 0
	for i := range c.Sensitivity {
		if s := &c.Sensitivity[i]; s.Turns && s.Even >= s.At[0] && s.Even <= s.At[2] {
			say("That turns within what is held possible. %s", s.Text)
			n++
		}
	}
	if n == 0 {
		say("No assumption, changed by itself between its low and its high, turns that order.")
	}
	say("Nothing is counted after year %d, nor is quality, nor what virus in the old vines would do to replants. This is advice with its sum, not a verdict.", b.Horizon-1)
	return out
}

// cuts tells in how many years of each way gaps cut the permitted yield, and down
// to what.
func (b *BlockCase) cuts(c *Comparison) (out []string) {
	if b.PermittedHlHa == 0 || b.PermittedLimit == 0 {
		return nil
	}
	for _, p := range c.Plans {
		years, least := 0, b.PermittedHlHa
		for _, y := range p.Years {
			if y.PermittedHlHa < b.PermittedHlHa {
				years++
				least = min(least, y.PermittedHlHa)
			}
		}
		if years > 0 {
			out = append(out, fmt.Sprintf("%s: with more than %.0f %% of gaps the permitted yield of %.1f hl/ha is cut in %s, down to %.1f.", p.Way, 100*b.PermittedLimit, b.PermittedHlHa, count(years, "year"), least))
		}
	}
	return out
}

// amount writes money in whole units, with the sign before.
func amount(v float64, currency string) string {
	return fmt.Sprintf("%.0f %s", math.Round(v), currency)
}

// Worth is what replacing one position comes to.
type Worth struct {
	Cost float64 `json:"cost"`
	// Gain is the expected yearly gain discounted to now, by year: survival × what
	// its crop exceeds the neighbours' share c × kg of a full vine × (price less
	// picking).
	Gain []float64 `json:"gain"`
	Sum  float64   `json:"sum"` // of Gain less Cost
	// PaysBy is the year, from 0, in which the gain has paid the cost; -1 never
	// within the years given.
	PaysBy int    `json:"pays_by"`
	Text   string `json:"text"`
}

// PositionWorth works out what replacing one vine is worth over the block's
// remaining years. The errors wrap ErrInput or ErrSettings.
func PositionWorth(m Money, positionsPerHa float64, remaining int) (Worth, error) {
	if err := m.Check(); err != nil {
		return Worth{}, err
	}
	if !(positionsPerHa > 0) || remaining < 0 || remaining > 200 {
		return Worth{}, wrong(ErrInput, "positions per ha and remaining years", fmt.Sprintf("%v and %d", positionsPerHa, remaining), "above 0, and 0 to 200")
	}
	kg := m.Yield.Value / positionsPerHa
	net := kg * (m.Price.Value - m.Harvest.Value) * m.Survival.Value
	w := Worth{Cost: m.Replace.Value, Sum: -m.Replace.Value, Gain: make([]float64, remaining), PaysBy: -1}
	factor := 1.0
	for t := range w.Gain {
		more := max(0, cropShare(t+1, m.FirstCrop.Value, m.FullReplant.Value)-m.Compensation.Value)
		w.Gain[t] = net * more * factor
		w.Sum += w.Gain[t]
		if w.PaysBy < 0 && w.Sum >= 0 {
			w.PaysBy = t
		}
		factor /= 1 + m.Discount.Value
	}
	when := fmt.Sprintf("it does not pay back within %s", count(remaining, "year"))
	if w.PaysBy >= 0 {
		when = fmt.Sprintf("paid back in leaf %d", w.PaysBy+1)
	}
	w.Text = fmt.Sprintf("One replant costs %.2f %s and gains %.2f over %s: %.2f; %s.", w.Cost, m.Currency, w.Sum+w.Cost, count(remaining, "year"), w.Sum, when)
	return w, nil
}
