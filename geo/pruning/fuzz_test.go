package pruning

import (
	"encoding/json"
	"errors"
	"testing"

	"courson/geo/vine"
)

// Whatever text is given as standards: it is refused with one of our errors, or
// every vine gets an instruction by them that keeps the cap.
func FuzzParseStandards(f *testing.F) {
	for _, sys := range Systems() {
		data, err := json.Marshal(with(sys))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(`{"limits": {"cap_per_vine": 8, "cap_per_ha": 40000}, "wood": {"one_cane_up_to": 0}}`))
	f.Add([]byte(`{"leaf_table": [{"leaf": 1, "stage": "full", "nodes_share": 1, "crop_share": 1}]}`))
	s := plotStand(f, 1, 12, 1.3, 2020)
	b := &Block{Stand: s, WeightG: make([]float32, 12), NodesLeft: make([]int16, 12)}
	for i := range 12 {
		s.Leaf[i], s.Condition[i] = uint8(i), vine.Condition(i%9)
		b.WeightG[i], b.NodesLeft[i] = float32(150*i), int16(3*i)-1
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		st, err := ParseStandards(data)
		if err != nil {
			if !errors.Is(err, ErrStandards) && !errors.Is(err, ErrSystem) {
				t.Fatal(err)
			}
			return
		}
		r, err := Plan(b, st)
		if err != nil {
			if !errors.Is(err, ErrStandards) {
				t.Fatal(err)
			}
			return
		}
		for i := range 12 {
			in := r.Instruction(i)
			if in.Nothing() == s.Condition[i].Living() {
				t.Fatalf("vine %d (%s): %s", i, s.Condition[i], in)
			}
			if c := st.Limits.CapPerVine; c > 0 && float64(in.Nodes()) > c {
				t.Fatalf("vine %d: %s is over %g", i, in, c)
			}
			r.Explain(i)
			r.FollowUps(i)
		}
		r.Sum()
	})
}
