package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// refuseOrder turns what cannot be meant into an answer.
func refuseOrder(err error) error {
	if errors.Is(err, work.ErrOrder) {
		return refuse(http.StatusUnprocessableEntity, "", "%v", err)
	}
	return err
}

// getCrews answers /api/crews.
func (s *Server) getCrews(w http.ResponseWriter, r *http.Request) error {
	list, err := work.Crews(r.Context(), s.cfg.Store)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"crews": orEmpty(list)})
}

// putCrew answers PUT /api/crews/{name}.
func (s *Server) putCrew(w http.ResponseWriter, r *http.Request) error {
	var c work.Crew
	if err := readJSON(w, r, 1<<16, &c); err != nil {
		return err
	}
	name := r.PathValue("name")
	if c.Name == "" {
		c.Name = name
	}
	if c.Name != name {
		return refuse(http.StatusUnprocessableEntity, "name", "the crew is called %q in the address and %q in the request", name, c.Name)
	}
	err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error { return work.SaveCrew(tx, c, s.whoAsks(r), s.cfg.Now()) })
	if err != nil {
		return refuseOrder(err)
	}
	return s.sendJSON(w, r, c)
}

// deleteCrew answers DELETE /api/crews/{name}.
func (s *Server) deleteCrew(w http.ResponseWriter, r *http.Request) error {
	err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error {
		return work.RemoveCrew(tx, r.PathValue("name"), s.whoAsks(r), s.cfg.Now())
	})
	if err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// whoAsks names who makes a request, as far as it is known.
func (s *Server) whoAsks(r *http.Request) string { return askerOf(r.Context()).Name }

// workOrderJSON is an order with how far it has got.
type workOrderJSON struct {
	work.Order
	Vines int     `json:"vines"`
	Done  int     `json:"done"`
	Hours float64 `json:"hours"` // of the people of the crew together, for what is left
}

type ordersJSON struct {
	Orders []workOrderJSON `json:"orders"`
}

// getOrders answers /api/orders?season=&crew=&day=.
func (s *Server) getOrders(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	list, err := work.Orders(r.Context(), s.cfg.Store, work.OrderQuery{Season: season, Crew: q.Get("crew"), Day: q.Get("day"), Withdrawn: q.Get("withdrawn") == "1"})
	if err != nil {
		return err
	}
	return s.sendOrders(w, r, list, http.StatusOK)
}

func (s *Server) sendOrders(w http.ResponseWriter, r *http.Request, list []work.Order, status int) error {
	ans := ordersJSON{Orders: []workOrderJSON{}}
	for _, o := range list {
		j, err := s.orderOf(r.Context(), o)
		if err != nil {
			return err
		}
		ans.Orders = append(ans.Orders, j)
	}
	if status == http.StatusCreated {
		return s.sendCreated(w, r, ans)
	}
	return s.sendJSON(w, r, ans)
}

// orderOf counts what there is to do and what is done.
func (s *Server) orderOf(ctx context.Context, o work.Order) (workOrderJSON, error) {
	j := workOrderJSON{Order: o}
	v, err := s.stands.Stand(ctx, o.Block, o.Season)
	if errors.Is(err, store.ErrNotFound) {
		return j, nil // of a block that is no more
	}
	if err != nil {
		return j, err
	}
	progress, err := work.ProgressOf(ctx, s.cfg.Store, v.Stand, o.Operation)
	if err != nil {
		return j, err
	}
	settled, err := s.stands.Standards(ctx, v.Block)
	if err != nil {
		return j, err
	}
	t, err := work.Tally(v.Stand, progress, o, settled)
	j.Vines, j.Done, j.Hours = t.Vines, t.Done, t.Hours
	return j, err
}

// ordersIn is the body of POST /api/orders.
type ordersIn struct {
	By     string       `json:"by"`
	Orders []work.Order `json:"orders"`
}

// mostOrders is how many orders one request may make.
const mostOrders = 2000

// postOrders answers POST /api/orders: all of them or none.
func (s *Server) postOrders(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in ordersIn
	if err := readJSON(w, r, 8<<20, &in); err != nil {
		return err
	}
	if len(in.Orders) == 0 || len(in.Orders) > mostOrders {
		return refuse(http.StatusUnprocessableEntity, "orders", "%d orders: 1 to %d", len(in.Orders), mostOrders)
	}
	grounds := make([]*stand.Ground, len(in.Orders))
	for i, o := range in.Orders {
		g, err := s.orderGround(ctx, o)
		if err != nil {
			return err
		}
		grounds[i], in.Orders[i].ID = g, ""
	}
	err := s.cfg.Store.Update(ctx, func(tx store.Tx) error {
		for i := range in.Orders {
			if err := work.SaveOrder(tx, grounds[i], &in.Orders[i], in.By, s.cfg.Now()); err != nil {
				return fmt.Errorf("order %d: %w", i+1, err)
			}
		}
		return nil
	})
	if err != nil {
		return refuseOrder(err)
	}
	s.stands.Touched()
	return s.sendOrders(w, r, in.Orders, http.StatusCreated)
}

func (s *Server) orderGround(ctx context.Context, o work.Order) (*stand.Ground, error) {
	if _, err := s.seasonOf(ctx, strconv.Itoa(o.Season)); err != nil {
		return nil, err
	}
	v, err := s.stands.Stand(ctx, o.Block, o.Season)
	if err != nil {
		return nil, err
	}
	return v.Stand.Ground, nil
}

// putOrder answers PUT /api/orders/{id}: a new version of an order.
func (s *Server) putOrder(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var o work.Order
	if err := readJSON(w, r, 1<<20, &o); err != nil {
		return err
	}
	if _, err := s.orderAsked(r); err != nil {
		return err
	}
	o.ID = r.PathValue("id")
	g, err := s.orderGround(ctx, o)
	if err != nil {
		return err
	}
	if err := s.cfg.Store.Update(ctx, func(tx store.Tx) error { return work.SaveOrder(tx, g, &o, o.By, s.cfg.Now()) }); err != nil {
		return refuseOrder(err)
	}
	s.stands.Touched()
	j, err := s.orderOf(ctx, o)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, j)
}

// deleteOrder answers DELETE /api/orders/{id}: withdraws it.
func (s *Server) deleteOrder(w http.ResponseWriter, r *http.Request) error {
	o, err := s.orderAsked(r)
	if err != nil {
		return err
	}
	o.State = work.OrderWithdrawn
	g, err := s.orderGround(r.Context(), o)
	if err != nil {
		return err
	}
	if err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error { return work.SaveOrder(tx, g, &o, s.whoAsks(r), s.cfg.Now()) }); err != nil {
		return refuseOrder(err)
	}
	s.stands.Touched()
	w.WriteHeader(http.StatusNoContent)
	return nil
}

func (s *Server) orderAsked(r *http.Request) (work.Order, error) {
	papers, err := s.cfg.Store.Papers(r.Context(), store.PaperQuery{Kind: work.PaperOrder, Key: r.PathValue("id")})
	if err != nil {
		return work.Order{}, err
	}
	if len(papers) == 0 {
		return work.Order{}, refuse(http.StatusNotFound, "id", "there is no order %q", r.PathValue("id"))
	}
	return work.ReadOrder(papers[0])
}

// fieldJSON is all that a phone needs for a week without signal.
type fieldJSON struct {
	Version   string               `json:"version"`
	Estate    fieldEstate          `json:"estate"`
	Crew      *work.Crew           `json:"crew"`
	Crews     []string             `json:"crews"`
	Made      any                  `json:"made"` // when the newest order was made; null without orders
	Orders    []work.FieldOrder    `json:"orders"`
	Weighings []work.FieldWeighing `json:"weighings"`
	Reviews   []work.FieldReview   `json:"reviews"`
	Texts     []string             `json:"texts"`
	Cautions  []string             `json:"cautions"`
}

type fieldEstate struct {
	Name       string `json:"name"`
	South      bool   `json:"south"`
	Zone       string `json:"zone"`
	USUnits    bool   `json:"us_units"`
	ScoreScale string `json:"score_scale"`
	Season     int    `json:"season"`
}

// getField answers /api/field?crew=. A crew hears of no other.
func (s *Server) getField(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return err
	}
	span, err := s.seasons(ctx)
	if err != nil {
		return err
	}
	crews, err := work.Crews(ctx, s.cfg.Store)
	if err != nil {
		return err
	}
	name, whose := r.URL.Query().Get("crew"), askerOf(ctx).Crew
	ans := fieldJSON{Version: s.cfg.Version, Estate: fieldEstate{e.Name, e.South, e.Zone, e.USUnits, e.ScoreScale, span.open}, Crews: []string{}}
	for _, c := range crews {
		if c.Name == name {
			ans.Crew = &c
		}
		if whose == "" || whose == c.Name {
			ans.Crews = append(ans.Crews, c.Name)
		}
	}
	orders, err := work.Orders(ctx, s.cfg.Store, work.OrderQuery{Season: span.open, Crew: name})
	if err != nil {
		return err
	}
	book := work.NewFieldBook()
	for _, o := range orders {
		if err := s.addToField(ctx, book, o); err != nil {
			return err
		}
		if made, ok := ans.Made.(string); !ok || o.Made.UTC().Format(timeForm) > made {
			ans.Made = o.Made.UTC().Format(timeForm)
		}
	}
	ans.Orders, ans.Texts, ans.Cautions = book.Orders, book.Texts, work.FieldCautions(book.Orders)
	if ans.Weighings, err = s.fieldWeighings(ctx, span.open, name); err != nil {
		return err
	}
	if ans.Reviews, err = s.fieldReviews(ctx, span.open, name); err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}

// timeForm is RFC 3339 with microseconds, so that texts sort as times do.
const timeForm = "2006-01-02T15:04:05.000000Z07:00"

func (s *Server) addToField(ctx context.Context, book *work.FieldBook, o work.Order) error {
	v, err := s.stands.Stand(ctx, o.Block, o.Season)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	progress, err := work.ProgressOf(ctx, s.cfg.Store, v.Stand, o.Operation)
	if err != nil {
		return err
	}
	settled, err := s.stands.Standards(ctx, v.Block)
	if err != nil {
		return err
	}
	var plan map[vine.ID]work.Planned
	var cut *work.Runs
	if o.Operation == vine.Pruning {
		if _, plan, err = work.ReadPlan(ctx, s.cfg.Store, o.Block, o.Season); err != nil {
			return err
		}
		if len(plan) > 0 {
			if cut, err = work.CutRuns(v.Stand, plan, work.DefaultRuns()); err != nil {
				cut = nil // marks are a help: without them every vine still has its line
			}
		}
	}
	book.Add(o, v.Block, v.Stand, progress, settled.Rows.VinesPerSection, plan, cut)
	return nil
}
