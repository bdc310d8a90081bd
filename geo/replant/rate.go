package replant

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// RowCount is one row of a sample: its planting positions and how many of them
// have no living vine.
type RowCount struct {
	Row       int // index of the row
	Positions int
	Gaps      int
}

// Rate is a share of gaps with its interval.
type Rate struct {
	Gaps      int     `json:"gaps"`
	Positions int     `json:"positions"`
	Share     float64 `json:"share"`
	SE        float64 `json:"se"`
	Low       float64 `json:"low"`
	High      float64 `json:"high"`
	Level     float64 `json:"level"`
	Rows      int     `json:"rows"` // sampled; 0 for a full count
	// AfterAllowance is Share less the observer's allowance.
	AfterAllowance float64 `json:"after_allowance"`
	Text           string  `json:"text"`
}

// DefaultAllowance is the share by which observers count too many: 0.10
// (Determining the number of replacement vines, Oenopedia: E = D - 0.10 D).
const DefaultAllowance = 0.10

// SampleRate gives the share of gaps of a block from rows drawn at random from
// allRows. The share is gaps over positions of the sampled rows, D = 100 A / (B C)
// where all rows are alike (Determining the number of replacement vines,
// Oenopedia); allowance is the observer's share, E = D - allowance × D.
//
// Gaps come in runs and sick corners, so the row is the unit, not the vine: the
// standard error is that of a ratio over clusters,
// sqrt((1 - f) / n × Σ(a - p m)² / (n - 1)) / mean m, f = n / allRows (Cochran W.,
// Sampling Techniques, 3rd ed., 1977, chapters 2.11 and 9, from memory), the
// interval ± t with n - 1 degrees of freedom, cut to 0 to 1. Rows drawn by habit
// and not at random (every tenth, those by the road) are no sample: the interval
// then says too little. The error wraps ErrInput: at least 2 rows are needed.
func SampleRate(rows []RowCount, allRows int, allowance, level float64) (Rate, error) {
	if err := checkRows(rows, allRows, allowance); err != nil {
		return Rate{}, err
	}
	if _, err := quantile(level); err != nil {
		return Rate{}, err
	}
	r := Rate{Level: level, Rows: len(rows)}
	for _, c := range rows {
		r.Gaps += c.Gaps
		r.Positions += c.Positions
	}
	if r.Positions == 0 {
		return Rate{}, wrong(ErrInput, "positions in the sample", 0, "1 or more")
	}
	n := float64(len(rows))
	r.Share = share(r.Gaps, r.Positions)
	sum := 0.0
	for _, c := range rows {
		d := float64(c.Gaps) - r.Share*float64(c.Positions)
		sum += d * d
	}
	mean := float64(r.Positions) / n
	r.SE = math.Sqrt((1-n/float64(allRows))/n*sum/(n-1)) / mean
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile((1 + level) / 2)
	r.Low, r.High = max(0, r.Share-t*r.SE), min(1, r.Share+t*r.SE)
	r.AfterAllowance = r.Share * (1 - allowance)
	r.Text = fmt.Sprintf("Sample: %d gaps on %d positions in %d of %d rows: %.2f %% (%.0f %% interval %.2f to %.2f %%); with the observer's allowance of %.0f %%: %.2f %%.",
		r.Gaps, r.Positions, r.Rows, allRows, 100*r.Share, 100*level, 100*r.Low, 100*r.High, 100*allowance, 100*r.AfterAllowance)
	if r.SE == 0 && len(rows) < allRows {
		r.Text += " All rows gave the same share: the interval has no width, which a sample this small cannot vouch for."
	}
	return r, nil
}

func checkRows(rows []RowCount, allRows int, allowance float64) error {
	if len(rows) < 2 || len(rows) > allRows {
		return wrong(ErrInput, "rows in the sample", len(rows), spanText(2, allRows))
	}
	if !(allowance >= 0 && allowance < 1) {
		return wrong(ErrInput, "allowance", allowance, "a share from 0 to below 1")
	}
	seen := make(map[int]bool, len(rows))
	for _, c := range rows {
		if c.Positions < 0 || c.Gaps < 0 || c.Gaps > c.Positions || seen[c.Row] {
			return wrong(ErrInput, fmt.Sprintf("row %d", c.Row), fmt.Sprintf("%d gaps on %d positions", c.Gaps, c.Positions), "each row once, gaps not above positions")
		}
		seen[c.Row] = true
	}
	return nil
}

// CountRate gives the share of gaps of a full count, with Wilson's interval
// (Wilson E.B., J. Am. Stat. Assoc. 22:209-212, 1927). A full count has no
// sampling error: the interval says how far a block with the same chance of loss
// could differ by luck, if losses fell singly. The error wraps ErrInput.
func CountRate(gaps, positions int, level float64) (Rate, error) {
	z, err := quantile(level)
	if err != nil {
		return Rate{}, err
	}
	if positions < 1 || gaps < 0 || gaps > positions {
		return Rate{}, wrong(ErrInput, "full count", fmt.Sprintf("%d gaps on %d positions", gaps, positions), "gaps from 0 to positions, positions from 1")
	}
	n, p := float64(positions), share(gaps, positions)
	r := Rate{Gaps: gaps, Positions: positions, Share: p, Level: level, SE: math.Sqrt(p * (1 - p) / n), AfterAllowance: p}
	mid, half := p+z*z/(2*n), z*math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	r.Low, r.High = max(0, (mid-half)/(1+z*z/n)), min(1, (mid+half)/(1+z*z/n))
	if gaps == 0 {
		r.Low = 0
	}
	if gaps == positions {
		r.High = 1
	}
	r.Text = fmt.Sprintf("Full count: %d gaps on %d positions: %.2f %% (%.0f %% interval %.2f to %.2f %%).", gaps, positions, 100*p, 100*level, 100*r.Low, 100*r.High)
	return r, nil
}

// SideBySide tells whether a sample and a full count of the same block agree.
func SideBySide(sample, full Rate) string {
	text := sample.Text + " " + full.Text
	switch {
	case full.Share < sample.Low:
		return text + " The full count lies below the sample's interval: the rows drawn were not typical, or the observer counted too many."
	case full.Share > sample.High:
		return text + " The full count lies above the sample's interval: the rows drawn were not typical, or vines went since."
	}
	return text + " They agree."
}
