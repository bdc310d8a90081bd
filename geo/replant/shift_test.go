package replant

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// scatter is n offsets around a point, sd in m.
func scatter(n int, along, aside, sd float64) []Offset {
	r := rand.New(rand.NewPCG(3, 4))
	out := make([]Offset, n)
	for i := range out {
		out[i] = Offset{along + sd*r.NormFloat64(), aside + sd*r.NormFloat64()}
	}
	return out
}

// A datum that is 1.5 to 1.8 m off (WGS 84 against a national datum of the 1990s)
// in rows 1.80 m apart, vines 1.10 m apart.
func TestCheckShift(t *testing.T) {
	base := ShiftInput{RowM: 1.8, VineM: 1.1, AzimuthDeg: 20}
	with := func(f func(*ShiftInput)) ShiftInput { in := base; f(&in); return in }
	for _, c := range []struct {
		name          string
		in            ShiftInput
		found         bool
		rows, vines   int
		along, aside  float64
		says, saysNot string
	}{
		{"good survey, places named", with(func(in *ShiftInput) { in.Stated = scatter(200, 0, 0, 0.02) }), false, 0, 0, 0, 0, "No shift", "offered"},
		{"one row to the right, places named", with(func(in *ShiftInput) { in.Stated = scatter(200, 0.1, 1.75, 0.02) }), true, 1, 0, 0.1, 1.75, "offered", ""},
		{"one vine back, places named", with(func(in *ShiftInput) { in.Stated = scatter(200, -1.1, 0, 0.02) }), true, 0, -1, -1.1, 0, "-1 vines", ""},
		{"one row, no places named", with(func(in *ShiftInput) {
			in.Nearest = scatter(200, 0, -0.05, 0.02)
			in.Right, in.Left = Border{21, 20, 0}, Border{21, 0, 21}
		}), true, 1, 0, 0, 1.75, "borders", ""},
		{"one vine towards the numbering end, no places named", with(func(in *ShiftInput) {
			in.Nearest = scatter(200, 0, 0, 0.02)
			in.Near, in.Far = Border{8, 8, 0}, Border{8, 0, 7}
		}), true, 0, -1, -1.1, 0, "borders", ""},
		{"a border row that is gone is no shift", with(func(in *ShiftInput) {
			in.Nearest = scatter(200, 0, 0, 0.02)
			in.Left = Border{21, 0, 21}
		}), false, 0, 0, 0, 0, "No shift", ""},
		{"another block's vines beyond the border are no shift", with(func(in *ShiftInput) {
			in.Nearest = scatter(200, 0, 0, 0.02)
			in.Right, in.Left, in.Near = Border{21, 21, 0}, Border{21, 0, 1}, Border{8, 8, 0}
		}), false, 0, 0, 0, 0, "No shift", ""},
		{"row ends that are gone are no shift", with(func(in *ShiftInput) {
			in.Nearest = scatter(200, 0, 0, 0.02)
			in.Right, in.Far = Border{21, 0, 21}, Border{8, 0, 8}
		}), false, 0, 0, 0, 0, "No shift", ""},
		// One place in five has a point: of 100 along a border 20 are to be expected.
		{"detections of a fifth of the places, one row", with(func(in *ShiftInput) {
			in.Nearest, in.Share = scatter(200, 0, -0.05, 0.02), 0.2
			in.Left, in.Right = Border{100, 0, 96}, Border{100, 18, 81}
		}), true, 1, 0, 0, 1.75, "offered", ""},
		{"detections of a fifth of the places, none beyond", with(func(in *ShiftInput) {
			in.Nearest, in.Share = scatter(200, 0, -0.05, 0.02), 0.2
			in.Left, in.Right = Border{100, 0, 96}, Border{100, 3, 81}
		}), false, 0, 0, 0, 0, "No shift", "offered"},
		{"detections too few to tell of a border", with(func(in *ShiftInput) {
			in.Nearest, in.Share = scatter(20, 0, 0, 0.02), 0.03
			in.Left, in.Right = Border{100, 0, 100}, Border{100, 3, 97}
		}), false, 0, 0, 0, 0, "No shift", "offered"},
		{"places named wrongly at random", with(func(in *ShiftInput) { in.Stated = append(scatter(60, 0, 1.8, 0.02), scatter(60, 0, -1.8, 0.02)...) }), false, 0, 0, 0, 0, "do not agree", "offered"},
		{"too few points", with(func(in *ShiftInput) { in.Stated = scatter(7, 0, 1.8, 0.02) }), false, 0, 0, 0, 0, "too few", "offered"},
		{"hand-held receiver, half a metre", with(func(in *ShiftInput) { in.Stated = scatter(400, 0, 1.8, 0.5) }), true, 1, 0, 0, 1.8, "offered", ""},
		{"the same receiver, no shift", with(func(in *ShiftInput) { in.Stated = scatter(400, 0, 0, 0.5) }), false, 0, 0, 0, 0, "No shift", "offered"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := CheckShift(c.in)
			require.NoError(t, err)
			require.Equal(t, c.found, got.Found, got.Text)
			if c.found {
				require.Equal(t, []int{c.rows, c.vines}, []int{got.Rows, got.Vines}, got.Text)
				require.InDelta(t, c.along, got.AlongM, 0.06)
				require.InDelta(t, c.aside, got.AsideM, 0.06)
				// Along runs 20° east of north, to the right is 110°.
				s, k := math.Sin(20*math.Pi/180), math.Cos(20*math.Pi/180)
				require.InDelta(t, got.AlongM*s+got.AsideM*k, got.EastM, 1e-9)
				require.InDelta(t, got.AlongM*k-got.AsideM*s, got.NorthM, 1e-9)
			}
			require.Contains(t, got.Text, c.says)
			if c.saysNot != "" {
				require.NotContains(t, got.Text, c.saysNot)
			}
		})
	}
	for _, in := range []ShiftInput{{VineM: 1}, {RowM: 1, VineM: math.Inf(1)}, {RowM: 1, VineM: 1, Stated: make([]Offset, 9), Nearest: nil}} {
		if len(in.Stated) > 0 {
			in.Stated[3].AlongM = math.NaN()
		}
		_, err := CheckShift(in)
		require.ErrorIs(t, err, ErrInput)
	}
}
