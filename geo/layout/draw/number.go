package draw

import (
	"errors"
	"fmt"

	"courson/geo/frame"
	"courson/geo/layout"
)

func isShort(err error) bool { return errors.Is(err, layout.ErrShort) }

// Numbering says from where rows and vines are counted.
type Numbering struct {
	// Rows is the side of the block at which the first row lies; nil keeps the order.
	Rows *layout.End
	// Vines is the end at which vine 1 stands; nil keeps every row's own end.
	Vines *layout.End
	// Snake lets every other row be counted from its other end.
	Snake bool
}

// Numbered says how rows are numbered: Order holds the indices of the rows, the
// first one's first; Turned tells for each row, by its index, whether it is to be
// counted from the end at which it ends now.
type Numbered struct {
	Order  []int
	Turned []bool
}

// Number numbers rows of one block. Each runs from its numbering end as it is now.
// Where vines are counted from AsDrawn, all rows run the way of the first.
//
// Refused are sides along the rows and ends across them (layout.ErrSideUnclear,
// layout.ErrEndUnclear), and a snake without an end to begin at (ErrOrder).
func Number(rows []layout.Row, n Numbering) (Numbered, error) {
	out := Numbered{Order: make([]int, len(rows)), Turned: make([]bool, len(rows))}
	for i := range rows {
		out.Order[i] = i
	}
	if len(rows) == 0 {
		return out, nil
	}
	if n.Rows != nil {
		order, err := layout.Order(rows, *n.Rows)
		if err != nil {
			return Numbered{}, err
		}
		out.Order = order
	}
	if n.Vines == nil {
		if n.Snake {
			return Numbered{}, fmt.Errorf("%w: to count every other row from its other end, say at which end the first begins", ErrOrder)
		}
		return out, nil
	}
	for place, i := range out.Order {
		turned, err := turn(rows[i], rows[out.Order[0]], *n.Vines)
		if err != nil {
			return Numbered{}, err
		}
		out.Turned[i] = turned != (n.Snake && place%2 == 1)
	}
	return out, nil
}

// turn tells whether a row must be turned to begin at an end.
func turn(r, first layout.Row, end layout.End) (bool, error) {
	a, b := r.Ends()
	if end == layout.AsDrawn {
		c, d := first.Ends()
		return (b.X-a.X)*(d.X-c.X)+(b.Y-a.Y)*(d.Y-c.Y) < 0, nil
	}
	to, err := r.From(end)
	if err != nil {
		return false, err
	}
	now, _ := to.Ends()
	return frame.Dist(now, a) > frame.Dist(now, b), nil
}
