package replant

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Sensitivity is what one assumption, changed by itself, does to the sums.
type Sensitivity struct {
	Key   string     `json:"key"`
	Label string     `json:"label"`
	Unit  string     `json:"unit"`
	At    [3]float64 `json:"at"` // low, value, high
	// NPV per ha of each way at low, value and high.
	NPV [ways][3]float64 `json:"npv_per_ha"`
	// Turns is the value of the assumption nearest to the present one at which
	// another way overtakes the one that is ahead now, and which.
	Turns bool    `json:"turns"`
	Even  float64 `json:"break_even"`
	To    Way     `json:"to"`
	Text  string  `json:"text"`
}

// sensitivity changes one assumption at a time.
func (b *BlockCase) sensitivity(m Money, order [ways]Way) []Sensitivity {
	var out []Sensitivity
	for _, f := range m.Fields() {
		if f.Key == keyPerHl && b.PermittedHlHa == 0 {
			continue
		}
		s := Sensitivity{Key: f.Key, Label: f.Label, Unit: f.Unit, At: [3]float64{f.Low, f.Value, f.High}}
		for w := range Way(ways) {
			for j, v := range s.At {
				s.NPV[w][j] = b.npvWith(&m, f, v, w)
			}
		}
		b.breakEven(&m, f, order[0], &s)
		out = append(out, s)
	}
	return out
}

// npvWith gives a way's net present value per ha with field f, which points into
// m, set to v; m is as before after it.
func (b *BlockCase) npvWith(m *Money, f Field, v float64, w Way) float64 {
	old := f.Value
	f.Assumption.Value = v
	npv, _ := b.run(w, m, nil)
	f.Assumption.Value = old
	return npv
}

const evenSteps = 24 // on each side of the present value

// breakEven looks from the present value up and down for the nearest value at
// which another way is ahead.
func (b *BlockCase) breakEven(m *Money, f Field, ahead Way, s *Sensitivity) {
	low, high := f.least, min(f.most, 5*max(f.Value, f.High))
	best := math.Inf(1)
	for _, end := range []float64{low, high} {
		v, to, ok := b.turn(m, f, end, ahead)
		if d := math.Abs(v - f.Value); ok && d < best {
			best, s.Turns, s.Even, s.To = d, true, v, to
		}
	}
	if s.Turns {
		s.Text = fmt.Sprintf("%s: at %s %s instead of %s, %s is level with %s.", f.Label, plain(s.Even), f.Unit, plain(f.Value), s.To, ahead)
	} else {
		s.Text = fmt.Sprintf("%s: %s stays ahead for any value from %s to %s %s.", f.Label, ahead, plain(low), plain(high), f.Unit)
	}
}

// plain writes a number to four figures without a power of ten.
func plain(v float64) string {
	if v == 0 {
		return "0"
	}
	digits := max(0, 3-int(math.Floor(math.Log10(math.Abs(v)))))
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// turn steps from the present value to an end and closes in on the first change.
func (b *BlockCase) turn(m *Money, f Field, end float64, ahead Way) (even float64, to Way, ok bool) {
	lead := func(v float64) (least float64, by Way) {
		mine := b.npvWith(m, f, v, ahead)
		least = math.Inf(1)
		for w := range Way(ways) {
			if w == ahead {
				continue
			}
			if d := mine - b.npvWith(m, f, v, w); d < least {
				least, by = d, w
			}
		}
		return least, by
	}
	steps := evenSteps
	if f.whole {
		steps = int(math.Abs(end - f.Value))
	}
	before := f.Value
	for j := 1; j <= steps; j++ {
		v := f.Value + (end-f.Value)*float64(j)/float64(steps)
		d, by := lead(v)
		if d >= 0 {
			before = v
			continue
		}
		if f.whole {
			return v, by, true
		}
		for range 50 {
			mid := (before + v) / 2
			if d, w := lead(mid); d < 0 {
				v, by = mid, w
			} else {
				before = mid
			}
		}
		return v, by, true
	}
	return 0, 0, false
}
