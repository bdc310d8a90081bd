package server

import (
	"context"
	"errors"
	"fmt"

	"courson/geo/vine"
	"courson/server/access"
	"courson/server/work"
	"courson/store"
)

// mostLookups is how many vines a crew's event may name without naming the row.
const mostLookups = 200

// eventRule says which events a caller may send: a crew only those about rows
// that it has open work in, and of vines that it was handed to weigh or to look
// at. One rule serves one batch.
type eventRule struct {
	s     *Server
	who   access.Who
	rows  map[vine.ID]bool // row → has open work
	vines map[vine.ID]store.Vine
	weigh map[access.VineAt]bool // on its lists; nil: not looked up yet
	look  map[access.VineAt]bool // the same
}

func (s *Server) eventRule(ctx context.Context) *eventRule {
	return &eventRule{s: s, who: askerOf(ctx).Who, rows: map[vine.ID]bool{}, vines: map[vine.ID]store.Vine{}}
}

// admit puts in who made the event, where it does not say, and refuses with a
// reason what the caller may not send.
func (c *eventRule) admit(ctx context.Context, e *vine.Event) (reason string, err error) {
	if e.By == "" {
		e.By = c.who.Name
	}
	if c.who.Role != access.RoleCrew {
		return "", nil
	}
	ok, err := c.covered(ctx, e.Target)
	if err != nil || ok {
		return "", err
	}
	if ok, err = c.toWeigh(ctx, e); err != nil || ok {
		return "", err
	}
	if ok, err = c.toLook(ctx, e); err != nil || ok {
		return "", err
	}
	if ok, err = c.stored(ctx, e); err != nil || ok {
		return "", err // sent again after the order was closed: it is known
	}
	return fmt.Sprintf("the crew %s has no open order for this", c.who.Crew), nil
}

// covered tells whether the crew has open work in all that a target names.
func (c *eventRule) covered(ctx context.Context, t vine.Target) (bool, error) {
	if t.Row != 0 {
		if ok, err := c.row(ctx, t.Row); err != nil || ok {
			return ok, err
		}
	}
	if len(t.Vines) == 0 || len(t.Vines) > mostLookups {
		return false, nil
	}
	for _, id := range t.Vines { // a vine may stand in another row now than the phone knows
		v, err := c.vine(ctx, id)
		if err != nil || v.Row == 0 {
			return false, err
		}
		if ok, err := c.row(ctx, v.Row); err != nil || !ok {
			return false, err
		}
	}
	return true, nil
}

// vine gives a vine as it stands now; without a row where there is none.
func (c *eventRule) vine(ctx context.Context, id vine.ID) (store.Vine, error) {
	v, known := c.vines[id]
	if !known {
		var err error
		if v, err = c.s.cfg.Store.Vine(ctx, id); err != nil && !errors.Is(err, store.ErrNotFound) {
			return v, err
		}
		c.vines[id] = v
	}
	return v, nil
}

// toWeigh tells whether an event belongs to weighing, and to vines all of which
// stand on lists that the crew was handed.
func (c *eventRule) toWeigh(ctx context.Context, e *vine.Event) (bool, error) {
	if w, ok := e.Body.(vine.Work); len(e.Target.Vines) == 0 || e.Kind == vine.KindPruned || ok && w.Operation != work.WeighingWork {
		return false, nil
	}
	return c.handed(ctx, &c.weigh, c.s.gate.HandedToWeigh, e.Target)
}

// toLook tells whether an event says what stands at places all of which are on
// lists that the crew was handed.
func (c *eventRule) toLook(ctx context.Context, e *vine.Event) (bool, error) {
	if len(e.Target.Vines) == 0 || e.Kind != vine.KindCondition && e.Kind != vine.KindNote && e.Kind != vine.KindVoid {
		return false, nil
	}
	return c.handed(ctx, &c.look, c.s.gate.HandedToLook, e.Target)
}

// handed tells whether all vines of a target are on lists, which are looked up once.
func (c *eventRule) handed(ctx context.Context, known *map[access.VineAt]bool, lists func(context.Context, string) (map[access.VineAt]bool, error), t vine.Target) (bool, error) {
	if *known == nil {
		list, err := lists(ctx, c.who.Crew)
		if err != nil {
			return false, err
		}
		*known = list
	}
	for _, id := range t.Vines {
		if (*known)[access.VineAt{Block: t.Block, Vine: id}] {
			continue
		}
		v, err := c.vine(ctx, id)
		if err != nil || !(*known)[access.VineAt{Block: v.Block, Vine: id}] {
			return false, err
		}
	}
	return true, nil
}

func (c *eventRule) row(ctx context.Context, row vine.ID) (bool, error) {
	if ok, known := c.rows[row]; known {
		return ok, nil
	}
	ok, err := c.s.gate.Covers(ctx, c.who.Crew, row)
	if err == nil {
		c.rows[row] = ok
	}
	return ok, err
}

// stored tells whether the event was stored before.
func (c *eventRule) stored(ctx context.Context, e *vine.Event) (bool, error) {
	list, err := c.s.cfg.Store.Events(ctx, store.EventQuery{Season: e.Season, Device: e.Device})
	if err != nil {
		return false, err
	}
	for _, old := range list {
		if old.ID == e.ID {
			return true, nil
		}
	}
	return false, nil
}
