package pruning

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// System is a training system: what permanent wood a vine has, and what it may
// carry after pruning.
type System struct {
	// Key names it for machines, such as "double_guyot"; lower case.
	Key  string `json:"key"`
	Name string `json:"name"`
	// Arms is the number of arms (or cordons) that the trunk has: 1 and up.
	Arms int `json:"arms"`
	// SpursPerArm is the number of spurs kept on an arm: renewal spurs where
	// canes are laid. On cordons 0: SpurSpacingM tells.
	SpursPerArm  int `json:"spurs_per_arm"`
	NodesPerSpur int `json:"nodes_per_spur"`
	// CanesPerArm is the most canes on one arm; 0: spur-pruned.
	CanesPerArm int `json:"canes_per_arm"`
	// MostCanes is the most canes on the vine; 0: arms × canes per arm. The
	// two-armed Guyot has two arms that may bear the cane, and one cane.
	MostCanes int `json:"most_canes,omitempty"`
	// LeastNodesPerCane and MostNodesPerCane bound a cane's count nodes.
	LeastNodesPerCane int `json:"least_nodes_per_cane,omitempty"`
	MostNodesPerCane  int `json:"most_nodes_per_cane,omitempty"`
	// Wires is the number of fruiting wires that canes are laid on; 0 means 1.
	Wires int `json:"wires,omitempty"`
	// SpurSpacingM is the distance between spur positions on a cordon, m; 0
	// where it is no cordon.
	SpurSpacingM float64 `json:"spur_spacing_m,omitempty"`
}

// Limits that tell a slip from a system; chosen by us, far above what systems
// carry, and no more than the record of what was left can hold.
const (
	mostArms    = 12
	mostOnArm   = 30
	mostOnSpur  = 4
	mostOnCane  = 40
	mostOnWires = 6
	mostCanes   = 40
	mostSpurs   = 60
)

// CanesAtMost is the most canes on a vine.
func (s System) CanesAtMost() int {
	if s.MostCanes > 0 {
		return s.MostCanes
	}
	return s.Arms * s.CanesPerArm
}

// spurs is the number of spurs of a system that is no cordon.
func (s System) spurs() int { return s.Arms * s.SpursPerArm }

// Cordon tells whether spurs stand along cordons.
func (s System) Cordon() bool { return s.SpurSpacingM > 0 }

// Positions is the number of spur positions on cordons that fill so many metres
// of row, gapM between the ends of neighbours: cordon length / spur spacing on
// each arm, whole positions.
func (s System) Positions(occupiedM, gapM float64) int {
	if !s.Cordon() || !(occupiedM > gapM) {
		return 0
	}
	return s.Arms * wholes((occupiedM-gapM)/float64(s.Arms)/s.SpurSpacingM)
}

// Check refuses nonsense. The error wraps ErrSystem and names the field by its
// JSON key, what was found and what was wanted.
func (s System) Check() error {
	if s.Key == "" || s.Name == "" {
		return wrong(ErrSystem, "key and name", fmt.Sprintf("%q and %q", s.Key, s.Name), "both")
	}
	for _, f := range []struct {
		field           string
		n, least, mostN int
	}{
		{"arms", s.Arms, 1, mostArms},
		{"spurs_per_arm", s.SpursPerArm, 0, mostOnArm},
		{"nodes_per_spur", s.NodesPerSpur, 1, mostOnSpur},
		{"canes_per_arm", s.CanesPerArm, 0, mostOnArm},
		{"most_canes", s.MostCanes, 0, s.Arms * max(0, s.CanesPerArm)},
		{"wires", s.Wires, 0, mostOnWires},
	} {
		if f.n < f.least || f.n > f.mostN {
			return wrong(ErrSystem, f.field, f.n, fmt.Sprintf("%d to %d", f.least, f.mostN))
		}
	}
	if s.CanesPerArm > 0 {
		return s.checkCanes()
	}
	return s.checkSpurs()
}

func (s System) checkCanes() error {
	switch {
	case s.spurs() > mostSpurs || s.CanesAtMost() > mostCanes:
		return wrong(ErrSystem, "arms", fmt.Sprintf("%d, with %d spurs and %d canes in all", s.Arms, s.spurs(), s.CanesAtMost()), fmt.Sprintf("at most %d spurs and %d canes", mostSpurs, mostCanes))
	case s.LeastNodesPerCane < 1 || s.LeastNodesPerCane > mostOnCane:
		return wrong(ErrSystem, "least_nodes_per_cane", s.LeastNodesPerCane, fmt.Sprintf("1 to %d", mostOnCane))
	case s.MostNodesPerCane < s.LeastNodesPerCane || s.MostNodesPerCane > mostOnCane:
		return wrong(ErrSystem, "most_nodes_per_cane", s.MostNodesPerCane, fmt.Sprintf("least_nodes_per_cane (%d) to %d", s.LeastNodesPerCane, mostOnCane))
	case s.SpurSpacingM != 0:
		return wrong(ErrSystem, "spur_spacing_m", s.SpurSpacingM, "0 in a system with canes; a cordon has canes_per_arm 0")
	}
	return nil
}

func (s System) checkSpurs() error {
	switch {
	case s.LeastNodesPerCane != 0 || s.MostNodesPerCane != 0:
		return wrong(ErrSystem, "least_nodes_per_cane and most_nodes_per_cane", fmt.Sprintf("%d and %d", s.LeastNodesPerCane, s.MostNodesPerCane), "0 in a system without canes (canes_per_arm is 0)")
	case s.SpurSpacingM == 0 && s.spurs()*s.NodesPerSpur < floorSpurs*floorSpurNodes:
		return wrong(ErrSystem, "spurs_per_arm", s.SpursPerArm, fmt.Sprintf("enough for %d nodes on the vine, or spur_spacing_m of a cordon", floorSpurs*floorSpurNodes))
	case s.SpurSpacingM == 0:
		return nil
	case !(s.SpurSpacingM >= 0.03 && s.SpurSpacingM <= 1): // chosen by us: a hand is about 0.10 m
		return wrong(ErrSystem, "spur_spacing_m", s.SpurSpacingM, "0.03 to 1 m")
	case s.SpursPerArm != 0:
		return wrong(ErrSystem, "spurs_per_arm", s.SpursPerArm, "0 on a cordon: the spacing tells how many")
	}
	return nil
}

// ParseSystem reads a system as JSON and checks it. Keys that are not known are
// refused.
func ParseSystem(data []byte) (System, error) {
	var s System
	if err := decodeStrict(data, &s); err != nil {
		return System{}, fmt.Errorf("%w: %w", ErrSystem, err)
	}
	return s, s.Check()
}

// decodeStrict reads one JSON value, with known keys only and nothing after it.
func decodeStrict(data []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows the closing brace: give one object only")
	}
	return nil
}
