package work

import (
	"encoding/json"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// lookOrders parts open orders: one that names rows of both blocks becomes two.
func (g *regroup) lookOrders() (n int, err error) {
	orders, err := Orders(g.ctx, g.st, OrderQuery{})
	if err != nil {
		return 0, err
	}
	for _, o := range orders {
		if o.Block != g.from.ID {
			continue
		}
		stay, goes := g.partRows(o.Rows)
		if len(goes) == 0 {
			continue
		}
		n++
		if len(stay) > 0 {
			rest := o
			rest.Rows = stay
			if err := g.paper(PaperOrder, o.ID, o.Season, o.Block, o.By, rest); err != nil {
				return 0, err
			}
			if o.ID, err = newKey(); err != nil {
				return 0, err
			}
		}
		o.Block, o.Code, o.Rows = g.to.ID, g.to.Code, goes
		if err := g.paper(PaperOrder, o.ID, o.Season, o.Block, o.By, o); err != nil {
			return 0, err
		}
	}
	return n, nil
}

func newKey() (string, error) {
	id, err := uuid.NewV7()
	return id.String(), err
}

func (g *regroup) paper(kind store.PaperKind, key string, season int, block vine.ID, by string, value any) error {
	text, err := json.Marshal(value)
	g.papers = append(g.papers, store.Paper{Kind: kind, Key: key, Season: season, Block: block, By: by, Made: g.now, Value: text})
	return err
}

// partRows parts the rows of an order; a run over a cut becomes two.
func (g *regroup) partRows(rows []OrderRow) (stay, goes []OrderRow) {
	for _, r := range rows {
		to := g.rows[r.Row]
		if to == nil {
			stay = append(stay, r)
			continue
		}
		if rest, ok := r.within(to.stay); ok && !to.all {
			stay = append(stay, rest)
		}
		moved, ok := r.within(to.goes)
		if to.all {
			moved, ok = r, true
		}
		if ok {
			moved.Row, moved.Label = to.as, to.label
			goes = append(goes, moved)
		}
	}
	return stay, goes
}

// within gives the part of the run between two numbers.
func (r OrderRow) within(s numbers) (OrderRow, bool) {
	r.From, r.To = max(r.From, s[0]), min(r.To, s[1])
	return r, s[0] > 0 && r.From <= r.To
}

// lookLists parts lists of vines that the phones carry.
func (g *regroup) lookLists() (n int, err error) {
	weighing, err := WeighingLists(g.ctx, g.st, HandedQuery{Block: g.from.ID})
	if err != nil {
		return 0, err
	}
	for _, l := range weighing {
		if n, err = g.partList(n, PaperWeighing, l.Handed, func(h Handed) any { l.Handed = h; return l }); err != nil {
			return 0, err
		}
	}
	reviews, err := ReviewLists(g.ctx, g.st, HandedQuery{Block: g.from.ID})
	if err != nil {
		return 0, err
	}
	for _, l := range reviews {
		if n, err = g.partList(n, PaperReview, l.Handed, func(h Handed) any { return ReviewList{h} }); err != nil {
			return 0, err
		}
	}
	return n, nil
}

func (g *regroup) partList(n int, kind store.PaperKind, h Handed, list func(Handed) any) (int, error) {
	stay, goes := part(h.Vines, func(v vine.ID) bool { return g.goes[v] })
	if len(goes) == 0 {
		return n, nil
	}
	if len(stay) > 0 {
		rest := h
		rest.Vines = stay
		if err := g.paper(kind, h.ID, h.Season, h.Block, h.By, list(rest)); err != nil {
			return 0, err
		}
		var err error
		if h.ID, err = newKey(); err != nil {
			return 0, err
		}
	}
	h.Block, h.Code, h.Vines = g.to.ID, g.to.Code, goes
	return n + 1, g.paper(kind, h.ID, h.Season, h.Block, h.By, list(h))
}
