package stand

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// foundStand is a row of three vines at one metre, the first weighed at 0.5 kg.
func foundStand(t *testing.T) *Stand {
	g := &Ground{Block: 1, Code: "A", RowSpacingM: 2, VineSpacingM: 1, Rows: []Row{{ID: 1, Label: "1", Count: 3}},
		ID: []vine.ID{1, 2, 3}, Row: make([]int32, 3), Number: []int32{1, 2, 3}, Chainage: []float32{0, 1, 2},
		X: make([]float32, 3), Y: []float32{0, 1, 2}, WX: []uint32{5, 5, 5}, WY: []uint32{9, 8, 7}, Occupied: []float32{1, 1, 1}, Planted: make([]int16, 3)}
	require.NoError(t, g.Finish())
	s := NewStand(g, 2027, 7)
	for i, grams := range []float64{500, -1, -1} {
		st := vine.State{Condition: vine.Bearing}
		if grams >= 0 {
			st.Measures = map[vine.Quantity]vine.Reading{vine.PruningWeight: {Value: grams}}
		}
		s.Set(i, st, 7)
	}
	return s
}

func findings() *Found {
	return &Found{Stamp: "a1", Class: []uint8{3, 2, 4}, Basis: []uint8{1, 3, 3}, Doubt: []uint8{1, 2, 4}, Change: []uint8{0, 1, 5},
		Patch: []Patchy{PatchPlain, PatchWeak, PatchLikely}}
}

func TestWithFound(t *testing.T) {
	s := foundStand(t)
	f, err := s.WithFound(findings())
	require.NoError(t, err)
	assert.Equal(t, []uint8{3, 0, 0}, s.Vigour, "the old stand stays")
	assert.Equal(t, []uint8{3, 2, 4}, f.Vigour)
	assert.Greater(t, f.Bytes(), s.Bytes())

	back, err := f.WithFound(nil)
	require.NoError(t, err)
	assert.Equal(t, s.Vigour, back.Vigour)
	assert.Empty(t, back.Stamp())

	short := findings()
	short.Patch = short.Patch[:2]
	_, err = s.WithFound(short)
	assert.ErrorIs(t, err, ErrGround)
}

func TestWithFound_NewRecordGoesBeforeFindings(t *testing.T) {
	f, err := foundStand(t).WithFound(findings())
	require.NoError(t, err)
	weighed := vine.State{Condition: vine.Bearing, Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: {Value: 1200}}}
	next := f.With(8, []Change{{Vine: 1, State: weighed, Changed: 8}, {Vine: 2, State: vine.State{Condition: vine.Dead}, Changed: 8}})
	assert.Equal(t, []uint8{3, 5, 0}, next.Vigour, "a new weight counts at once, a dead vine has none")
	assert.Equal(t, uint8(0), next.DoubtOf(2))
	assert.Equal(t, PatchNone, next.PatchOf(2))
	pruned := f.With(8, []Change{{Vine: 1, State: vine.State{Condition: vine.Bearing, Notes: 1}, Changed: 8}})
	assert.Equal(t, uint8(2), pruned.Vigour[1], "a note leaves the estimate alone")
}

func TestTotalsOf_WithFound(t *testing.T) {
	s := foundStand(t)
	assert.Nil(t, TotalsOf(s).Patches, "nothing is worked out yet")
	f, err := s.WithFound(findings())
	require.NoError(t, err)
	sums := TotalsOf(f)
	assert.Equal(t, [5]int{PatchPlain: 1, PatchWeak: 1, PatchLikely: 1}, *sums.Patches)
	assert.Equal(t, [6]int{0: 1, 1: 1, 5: 1}, *sums.Change)
	assert.Equal(t, [5]int{1: 1, 2: 1, 4: 1}, *sums.Doubt)

	dead := TotalsOf(f.With(8, []Change{{Vine: 1, State: vine.State{Condition: vine.Dead}, Changed: 8}}))
	assert.Equal(t, [5]int{PatchPlain: 1, PatchLikely: 1}, *dead.Patches, "of living vines only")
}

func TestBinary_CarriesFindings(t *testing.T) {
	f, err := foundStand(t).WithFound(findings())
	require.NoError(t, err)
	got, err := ReadBinary(AppendBinary(nil, f))
	require.NoError(t, err)
	assert.Equal(t, f.Found, got.Found)
	plain, err := ReadBinary(AppendBinary(nil, foundStand(t)))
	require.NoError(t, err)
	assert.Nil(t, plain.Found)
}
