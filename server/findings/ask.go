package findings

import (
	"context"

	"courson/server/work"
)

// Of gives what was found of a block in a season last, nil where nothing was
// yet, and how far the work is.
func (d *Desk) Of(k Key) (*work.Findings, Status) {
	d.mu.Lock()
	defer d.mu.Unlock()
	j, ok := d.jobs[k]
	if !ok {
		return nil, Status{State: Waiting}
	}
	return j.findings, j.status
}

// Again puts blocks back to work at once, also where nothing changed.
func (d *Desk) Again(keys []Key) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, k := range keys {
		d.jobOf(k).findings = nil
		d.put(k, 0)
	}
}

// Cancel ends the work on blocks, whether it has begun or not. What was found
// before stays.
func (d *Desk) Cancel(keys []Key) {
	var told []Notice
	d.mu.Lock()
	for _, k := range keys {
		j := d.jobOf(k)
		if j.cancel != nil {
			j.cancel()
			continue
		}
		if _, queued := d.due[k]; !queued {
			continue
		}
		delete(d.due, k)
		for i, q := range d.queue {
			if q == k {
				d.queue = append(d.queue[:i:i], d.queue[i+1:]...)
				break
			}
		}
		j.status.State = Cancelled
		told = append(told, Notice{k, j.status})
	}
	d.mu.Unlock()
	for _, n := range told {
		d.tell(n)
	}
}

// noticesKept is how many notices a reader may be behind before it misses one.
const noticesKept = 1024

// Subscribe gives notices until ctx ends; then the channel is closed.
func (d *Desk) Subscribe(ctx context.Context) <-chan Notice {
	c := make(chan Notice, noticesKept)
	d.mu.Lock()
	d.readers[c] = struct{}{}
	d.mu.Unlock()
	context.AfterFunc(ctx, func() {
		d.mu.Lock()
		defer d.mu.Unlock()
		delete(d.readers, c)
		close(c)
	})
	return c
}

// tell passes a notice on; a reader that is far behind misses it.
func (d *Desk) tell(n Notice) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for c := range d.readers {
		select {
		case c <- n:
		default:
		}
	}
}

// Compare gives how blocks changed between two seasons, whatever was compared
// before. The error wraps patch.ErrFewValues where nothing can be paired.
func (d *Desk) Compare(ctx context.Context, keys []Key, since int) (*work.Change, error) {
	var pairs []work.Pair
	for _, k := range keys {
		now, cultivar, err := d.Measured(ctx, k)
		if err != nil {
			return nil, err
		}
		before, _, err := d.Measured(ctx, Key{k.Block, since})
		if err != nil {
			return nil, err
		}
		if now.Stand.Ground == before.Stand.Ground {
			pairs = append(pairs, work.Pair{Now: now, Before: before, Cultivar: cultivar})
		}
	}
	return work.Compare(pairs)
}
