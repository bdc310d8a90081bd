package server

import (
	"context"
	"net/http"
	"strconv"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// lostDayIn is the body of PUT /api/progress/lost-day.
type lostDayIn struct {
	Season int    `json:"season"`
	Day    string `json:"day"`
	Lost   *bool  `json:"lost"`  // false takes the mark back; orders stay where they are
	Days   int    `json:"days"`  // how many days of work orders move on; 0: they stay
	Later  bool   `json:"later"` // orders for later days too
	By     string `json:"by"`
}

// putLostDay answers PUT /api/progress/lost-day: nobody could work on a day, for
// rain or whatever else. What is open of that day moves on, of all operations, and
// the finish is foreseen without the day.
func (s *Server) putLostDay(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in lostDayIn
	if err := readJSON(w, r, 1<<12, &in); err != nil {
		return err
	}
	if _, err := s.seasonOf(ctx, strconv.Itoa(in.Season)); err != nil {
		return err
	}
	lost := in.Lost == nil || *in.Lost
	moved, grounds, err := s.movedOn(ctx, in, lost)
	if err != nil {
		return err
	}
	err = s.cfg.Store.Update(ctx, func(tx store.Tx) error {
		if lost {
			return work.SaveLost(tx, in.Season, in.Day, moved, grounds, in.By, s.cfg.Now())
		}
		return work.SaveLostDay(tx, in.Season, in.Day, false, in.By, s.cfg.Now())
	})
	if err != nil {
		return refuseOrder(err)
	}
	s.stands.Touched()
	days, err := work.LostDays(ctx, s.cfg.Store, in.Season)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"moved": len(moved), "lost": days})
}

// movedOn gives the orders that move for a lost day, with the ground of their
// blocks: those with something left.
func (s *Server) movedOn(ctx context.Context, in lostDayIn, lost bool) ([]work.Order, map[vine.ID]*stand.Ground, error) {
	if !lost || in.Days == 0 {
		return nil, nil, nil
	}
	days, err := work.LostDays(ctx, s.cfg.Store, in.Season)
	if err != nil {
		return nil, nil, err
	}
	all, err := work.Orders(ctx, s.cfg.Store, work.OrderQuery{Season: in.Season})
	if err != nil {
		return nil, nil, err
	}
	list, err := work.Postponed(all, in.Day, in.Days, in.Later, append(days, in.Day))
	if err != nil {
		return nil, nil, refuseOrder(err)
	}
	var moved []work.Order
	grounds := map[vine.ID]*stand.Ground{}
	for _, o := range list {
		j, err := s.orderOf(ctx, o)
		if err != nil {
			return nil, nil, err
		}
		if j.Done >= j.Vines {
			continue
		}
		if grounds[o.Block], err = s.orderGround(ctx, o); err != nil {
			return nil, nil, err
		}
		moved = append(moved, o)
	}
	return moved, grounds, nil
}
