package findings

import (
	"context"

	"courson/geo/vine"
	"courson/server/work"
)

// jobFor gathers what a block's findings are worked out from.
func (d *Desk) jobFor(ctx context.Context, k Key) (work.FindJob, error) {
	now, cultivar, err := d.Measured(ctx, k)
	if err != nil {
		return work.FindJob{}, err
	}
	search, err := d.search(ctx, k.Block)
	if err != nil {
		return work.FindJob{}, err
	}
	job := work.FindJob{Now: now, Cultivar: cultivar, Search: search, Stop: func() bool { d.giveWay(); return ctx.Err() != nil },
		Progress: func(share float64) { d.progress(k, share) }}
	seasons, err := d.stands.Seasons(ctx)
	if err != nil {
		return job, err
	}
	if job.Since, err = work.ComparedWith(ctx, d.store, k.Season); err != nil {
		return job, err
	}
	for _, s := range work.EarlierSeasons(seasons, k.Season, job.Since) {
		before, _, err := d.Measured(ctx, Key{k.Block, s})
		if err != nil {
			return job, err
		}
		if before.Stand.Ground == now.Stand.Ground {
			job.Earlier = append(job.Earlier, before)
		}
	}
	return job, nil
}

// search is how patches are looked for in a block.
func (d *Desk) search(ctx context.Context, block vine.ID) (work.PatchStandards, error) {
	h, err := d.stands.Head(ctx, block)
	if err != nil {
		return work.PatchStandards{}, err
	}
	settled, err := d.stands.Standards(ctx, h.Block)
	return settled.Patches, err
}

// Measured gives a block in a season with all that was measured, and what
// grows there: the cultivar, with the rootstock.
func (d *Desk) Measured(ctx context.Context, k Key) (work.Measured, string, error) {
	v, err := d.stands.Stand(ctx, k.Block, k.Season)
	if err != nil {
		return work.Measured{}, "", err
	}
	in, err := work.VigourInput(ctx, d.store, v.Stand)
	if err != nil {
		return work.Measured{}, "", err
	}
	settled, err := d.stands.Standards(ctx, v.Block)
	if err != nil {
		return work.Measured{}, "", err
	}
	m := work.Measured{Stand: v.Stand, Columns: in.Columns, Covariate: settled.Vigour.Covariate}
	m.Before = func() (*work.Measured, error) { return d.before(ctx, k, m) }
	return m, work.Cultivar(v.Block), nil
}

// before gives the newest season before, nil where there is none on the same
// ground.
func (d *Desk) before(ctx context.Context, k Key, now work.Measured) (*work.Measured, error) {
	seasons, err := d.stands.Seasons(ctx)
	if err != nil {
		return nil, err
	}
	earlier := work.EarlierSeasons(seasons, k.Season, 0)
	if len(earlier) == 0 {
		return nil, nil
	}
	b, _, err := d.Measured(ctx, Key{k.Block, earlier[0]})
	if err != nil || b.Stand.Ground != now.Stand.Ground {
		return nil, err
	}
	return &b, nil
}

func (d *Desk) progress(k Key, share float64) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.jobOf(k).status.Progress = share
}
