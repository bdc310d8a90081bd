package work

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/crew"
	"courson/geo/vine"
)

// TestTally_GapsAndVines: an order for replanting counts the gaps of its rows, the
// others count their living vines; hours are for what is left.
func TestTally_GapsAndVines(t *testing.T) {
	g := field(t, 2, 10)
	s := winter(g, 2027, func(int) float64 { return 400 }).Stand
	s.Condition[3], s.Condition[4] = vine.Missing, vine.Dead
	progress := make([]vine.Progress, g.Len())
	progress[3], progress[0] = vine.Done, vine.Done
	order := Order{Rows: []OrderRow{{Row: g.Rows[0].ID, From: 1, To: 10}}}
	for operation, want := range map[string]OrderTally{
		crew.Replanting: {Vines: 2, Done: 1, Hours: 6.0 / 60}, // 6 min a gap, chosen by us
		vine.Pruning:    {Vines: 8, Done: 1},
	} {
		order.Operation = operation
		got, err := Tally(s, progress, order, Settled{Standards: DefaultStandards()})
		require.NoError(t, err)
		assert.Equal(t, []int{want.Vines, want.Done}, []int{got.Vines, got.Done}, operation)
		if want.Hours > 0 {
			assert.InDelta(t, want.Hours, got.Hours, 1e-9, operation)
		}
		assert.Positive(t, got.Hours, operation)
	}
}
