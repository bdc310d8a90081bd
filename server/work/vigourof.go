package work

import (
	"context"
	"fmt"
	"slices"

	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/store"
)

// What may help where vigour has to be estimated (VigourStandards.Covariate).
const (
	// CovariateSeason is the vigour of the season before, where at least half of
	// its living vines were seen.
	CovariateSeason = "season_before"
	// CovariateIndex is the canopy index of an image of the season. It is then not
	// calibrated to weight vine by vine: it only tells the trend.
	CovariateIndex = "canopy_index"
	// CovariateNone leaves it to the vines around.
	CovariateNone = "none"
)

// Vigour estimates the vigour of the block. What the standards let help is offered
// as a covariate where some of the vigour has to be estimated; regression-kriging
// takes it only where vines left out are then estimated better.
func (m Measured) Vigour(stop func() bool, progress func(share float64)) (*vigour.Result, error) {
	in := vigour.Input{Stand: m.Stand, Columns: m.Columns, Stop: stop, Progress: progress}
	switch m.Covariate {
	case CovariateNone:
		return vigour.Estimate(in)
	case CovariateIndex:
		in.Columns, in.Covariate = indexAside(m)
		return vigour.Estimate(in)
	}
	plain, err := vigour.Estimate(in)
	if err != nil || plain.Kriging.Estimated == 0 || m.Before == nil {
		return plain, err
	}
	if in.Covariate, err = m.seasonBefore(stop); err != nil || in.Covariate == nil {
		return plain, err
	}
	return vigour.Estimate(in)
}

// indexAside takes the canopy index out of the columns and gives it as a covariate,
// nil where there is none.
func indexAside(m Measured) (rest []vigour.Column, index *vigour.Covariate) {
	for _, c := range m.Columns {
		if c.Quantity != vine.CanopyIndex {
			rest = append(rest, c)
		} else if slices.Contains(c.Known, true) {
			index = &vigour.Covariate{Name: fmt.Sprintf("canopy index %s of %d", c.Scale, m.Stand.Season), Values: c.Values, Known: c.Known}
		}
	}
	return rest, index
}

// seasonBefore gives the vigour of the season before as it was seen on at least
// half of its living vines; nil where it was not.
func (m Measured) seasonBefore(stop func() bool) (*vigour.Covariate, error) {
	b, err := m.Before()
	if err != nil || b == nil {
		return nil, err
	}
	r, err := vigour.Estimate(vigour.Input{Stand: b.Stand, Columns: b.Columns, Stop: stop})
	if err != nil {
		return nil, err
	}
	c := &vigour.Covariate{Name: fmt.Sprintf("vigour of %d", b.Stand.Season), Values: r.KgPerM, Known: make([]bool, len(r.KgPerM))}
	seen, living := 0, 0
	for i, basis := range r.Basis {
		if b.Stand.Condition[i].Living() {
			living++
		}
		if c.Known[i] = basis == vigour.Measured || basis == vigour.Calibrated; c.Known[i] {
			seen++
		}
	}
	if 2*seen < living || seen == 0 {
		return nil, nil
	}
	return c, nil
}

// BeforeIn gives the newest season before one of which a block has records.
func BeforeIn(ctx context.Context, st reader, g *stand.Ground, season int) (*Measured, error) {
	known, err := st.Seasons(ctx)
	if err != nil {
		return nil, fmt.Errorf("seasons: %w", err)
	}
	earlier := EarlierSeasons(known, season, 0)
	if len(earlier) == 0 {
		return nil, nil
	}
	m, err := MeasuredOn(ctx, st, g, earlier[0])
	return &m, err
}

// CovariateOf gives what the standards of a block let help.
func CovariateOf(ctx context.Context, st reader, b store.Block) (string, error) {
	book, err := ReadRulebook(ctx, st)
	if err != nil {
		return "", err
	}
	settled, err := book.For(b)
	return settled.Vigour.Covariate, err
}
