package work

import (
	"context"
	"fmt"

	"courson/geo/crew"
	"courson/geo/vine"
)

// WeighJob is a proposal as somebody has changed it: orders that are not kept yet,
// of one operation and by the rule that their vines were chosen by.
type WeighJob struct {
	Season    int     `json:"season"`
	Operation string  `json:"operation"`
	Rule      string  `json:"rule"`
	Orders    []Order `json:"orders"`
}

// RowWork is what there is to do in one row of an order.
type RowWork struct {
	Row   vine.ID `json:"row"`
	Vines int     `json:"vines"`
	Hours float64 `json:"hours"` // of one person
}

// OrderWork is what there is to do in an order.
type OrderWork struct {
	Vines int       `json:"vines"`
	Hours float64   `json:"hours"`
	Rows  []RowWork `json:"rows"` // as in the order
}

// Weighed is what a proposal comes to.
type Weighed struct {
	Orders []OrderWork `json:"orders"`
	Crews  []CrewShare `json:"crews"` // in the order in which they first come
}

// WeighOrders adds up a proposal as Share does: the same vines by the same rule at
// the same minutes, of those that are not done yet. blocks must hold every block
// of the orders. A row that is in two orders counts in both.
func WeighOrders(ctx context.Context, st reader, blocks []ShareBlock, job WeighJob) (*Weighed, error) {
	rule, err := ruleOf(job.Rule)
	if err != nil {
		return nil, err
	}
	of := map[vine.ID]chosenWork{}
	for _, b := range blocks {
		w, orders, err := chosen(ctx, st, b, job.Operation, rule)
		if err != nil {
			return nil, err
		}
		of[b.Block.ID] = chosenWork{w, orders}
	}
	out := &Weighed{Orders: []OrderWork{}, Crews: []CrewShare{}}
	at, seen := map[string]int{}, map[rowOf]bool{}
	for k, o := range job.Orders {
		has, ok := of[o.Block]
		if !ok {
			return nil, fmt.Errorf("%w: order %d is of block %d, which is not known", ErrOrder, k+1, o.Block)
		}
		got, err := has.weigh(o)
		if err != nil {
			return nil, fmt.Errorf("order %d: %w", k+1, err)
		}
		out.Orders = append(out.Orders, got)
		if _, ok := at[o.Crew]; !ok {
			at[o.Crew] = len(out.Crews)
			out.Crews = append(out.Crews, CrewShare{Name: o.Crew})
		}
		c := &out.Crews[at[o.Crew]]
		c.Vines, c.Hours = c.Vines+got.Vines, c.Hours+got.Hours
		for _, r := range o.Rows {
			if key := (rowOf{o.Crew, r.Row}); !seen[key] {
				seen[key] = true
				c.Rows++
			}
		}
	}
	return out, nil
}

// rowOf is a row of a crew: its sick vines, in an order of their own, make no
// second one.
type rowOf struct {
	crew string
	row  vine.ID
}

// chosenWork is what a rule has chosen in a block.
type chosenWork struct {
	work   *crew.Work
	orders []crew.Order
}

func (b chosenWork) weigh(o Order) (OrderWork, error) {
	out := OrderWork{Rows: []RowWork{}}
	for _, r := range o.Rows {
		if err := r.settle(b.work.Stand.Ground); err != nil {
			return out, err
		}
		row := RowWork{Row: r.Row}
		for _, c := range b.orders {
			if c.Sick != o.Sick {
				continue
			}
			left, _, err := b.work.Left(within(c, r))
			if err != nil {
				return out, err
			}
			row.Vines, row.Hours = row.Vines+left.Vines(), row.Hours+left.Minutes()/60
		}
		out.Rows = append(out.Rows, row)
		out.Vines, out.Hours = out.Vines+row.Vines, out.Hours+row.Hours
	}
	return out, nil
}

// within cuts an order to a run of one row.
func within(o crew.Order, r OrderRow) crew.Order {
	pieces := o.Pieces
	o.Pieces = nil
	for _, p := range pieces {
		if p.Row == r.Row && p.To >= r.From && p.From <= r.To {
			p.From, p.To = max(p.From, r.From), min(p.To, r.To)
			o.Pieces = append(o.Pieces, p)
		}
	}
	return o
}
