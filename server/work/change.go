package work

import (
	"errors"
	"fmt"

	"courson/geo/patch"
	"courson/geo/tile"
	"courson/geo/vine"
)

// Change is how a block, or an estate, changed since an earlier season.
type Change struct {
	Since    int // the earlier season
	Quantity Quantity
	patch.Changed
}

// Pair is a block in two seasons.
type Pair struct {
	Now, Before Measured
	Cultivar    string
}

// changeOf compares with the season asked for, else with the newest earlier one
// that can be compared.
func changeOf(job FindJob) (*Change, error) {
	for _, before := range job.Earlier {
		if job.Since != 0 && before.Stand.Season != job.Since {
			continue
		}
		c, err := Compare([]Pair{{job.Now, before, job.Cultivar}})
		if errors.Is(err, patch.ErrFewValues) {
			continue
		}
		return c, err
	}
	return nil, nil
}

// Compare pairs the vines of blocks in two seasons by the quantity that most of
// them have in both, else, where they share none, by rank within the block. The
// error wraps patch.ErrFewValues where no vine can be paired.
func Compare(pairs []Pair) (*Change, error) {
	if len(pairs) == 0 {
		return nil, fmt.Errorf("compare two seasons: %w: there is no block", patch.ErrFewValues)
	}
	q, found := sharedQuantity(pairs)
	out := &Change{Since: pairs[0].Before.Stand.Season, Quantity: q}
	in := patch.Seasons{}
	for _, p := range pairs {
		now, before := quantities(p.Now), quantities(p.Before)
		if len(now) == 0 || len(before) == 0 {
			continue
		}
		a, b := now[0], before[0] // unlike measures: ranks
		if found {
			a, b = named(now, q), named(before, q)
		}
		if a.seen == 0 || b.seen == 0 {
			continue
		}
		in.After, in.Before = a.what(), b.what()
		in.Blocks = append(in.Blocks, patch.BlockSeasons{Earlier: p.Before.Stand, Later: p.Now.Stand,
			Before: b.column, After: a.column, Cultivar: p.Cultivar})
	}
	if len(in.Blocks) == 0 {
		return nil, fmt.Errorf("compare two seasons: %w: nothing was measured in both", patch.ErrFewValues)
	}
	if found && q.Quantity == vine.PruningWeight {
		limit := pairs[0].Now.Stand.Rule.Limits[1]
		in.SoundFrom = &limit
	}
	if !found {
		out.Quantity = Quantity{Label: "rank in the block", Unit: "ranks of 100"}
	}
	var err error
	if out.Changed, err = patch.Change(in); err != nil {
		return nil, fmt.Errorf("compare two seasons: %w", err)
	}
	return out, nil
}

func (q measuredColumn) what() patch.What {
	return patch.What{Quantity: string(q.Quantity.Quantity), Unit: q.Unit, Scale: q.Scale}
}

// sharedQuantity is the quantity that most vines of all pairs share.
func sharedQuantity(pairs []Pair) (Quantity, bool) {
	count, names := map[string]int{}, map[string]Quantity{}
	var order []string
	for _, p := range pairs {
		if a, _, ok := commonQuantity(quantities(p.Now), quantities(p.Before)); ok {
			if _, seen := count[a.key()]; !seen {
				order = append(order, a.key())
			}
			count[a.key()] += a.seen
			names[a.key()] = a.Quantity
		}
	}
	best, ok := "", false
	for _, k := range order {
		if !ok || count[k] > count[best] {
			best, ok = k, true
		}
	}
	return names[best], ok
}

func named(columns []measuredColumn, q Quantity) measuredColumn {
	for _, c := range columns {
		if c.key() == q.key() {
			return c
		}
	}
	return measuredColumn{}
}

// classes fills in how each vine of the only block changed.
func (c *Change) classes(out []uint8) {
	b := &c.Blocks[0]
	column := b.Percent
	if c.Ranks {
		column = b.Difference
	}
	for i, seen := range column.Seen {
		if seen {
			out[i] = tile.ChangeClass(column.Value[i])
		}
	}
}
