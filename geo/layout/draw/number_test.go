package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/layout/draw"
)

// northward gives rows 2 m apart from west to east, each drawn to the north, but for
// those named.
func northward(n int, southward ...int) []layout.Row {
	rows := make([]layout.Row, n)
	for i := range rows {
		x := 2 * float64(i)
		rows[i] = layout.Row{Frame: here, Parts: []frame.Line{{{X: x, Y: 0}, {X: x, Y: 50}}}}
	}
	for _, i := range southward {
		rows[i] = rows[i].Reversed()
	}
	return rows
}

func TestNumber(t *testing.T) {
	end := func(word string) *layout.End {
		e := side(t, word)
		return &e
	}
	for _, c := range []struct {
		name   string
		rows   []layout.Row
		n      draw.Numbering
		order  []int
		turned []bool
	}{
		{"nothing said", northward(3, 1), draw.Numbering{}, []int{0, 1, 2}, []bool{false, false, false}},
		{"from the east", northward(3), draw.Numbering{Rows: end("E")}, []int{2, 1, 0}, []bool{false, false, false}},
		{"vines from the north", northward(3, 1), draw.Numbering{Vines: end("N")}, []int{0, 1, 2}, []bool{true, false, true}},
		{"vines the way of the first", northward(3, 1), draw.Numbering{Vines: end("first")}, []int{0, 1, 2}, []bool{false, true, false}},
		{"a snake from the south-west", northward(4), draw.Numbering{Rows: end("W"), Vines: end("S"), Snake: true}, []int{0, 1, 2, 3}, []bool{false, true, false, true}},
		{"a snake from the south-east", northward(3), draw.Numbering{Rows: end("E"), Vines: end("S"), Snake: true}, []int{2, 1, 0}, []bool{false, true, false}},
		{"said twice is said once", northward(4, 1, 3), draw.Numbering{Rows: end("W"), Vines: end("S"), Snake: true}, []int{0, 1, 2, 3}, []bool{false, false, false, false}},
		{"no rows", nil, draw.Numbering{Rows: end("W")}, []int{}, []bool{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := draw.Number(c.rows, c.n)
			require.NoError(t, err)
			assert.Equal(t, c.order, got.Order)
			assert.Equal(t, c.turned, got.Turned)
		})
	}
	_, err := draw.Number(northward(3), draw.Numbering{Snake: true})
	assert.ErrorIs(t, err, draw.ErrOrder)
	_, err = draw.Number(northward(3), draw.Numbering{Vines: end("E")})
	assert.ErrorIs(t, err, layout.ErrEndUnclear)
	_, err = draw.Number(northward(3), draw.Numbering{Rows: end("N")})
	assert.ErrorIs(t, err, layout.ErrSideUnclear)
}
