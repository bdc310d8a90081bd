package pruning

import (
	"fmt"
	"strings"
)

// Instruction is what a pruner leaves on a vine. It is small and comparable: a
// key for maps, and what runs of equal instruction are made from. The zero
// Instruction is a place without a living vine.
type Instruction struct {
	Canes        uint8 `json:"canes"`          // canes laid
	NodesPerCane uint8 `json:"nodes_per_cane"` // on the first, the stronger one
	NodesSecond  uint8 `json:"nodes_second"`   // on each of the others; 0 where there is one cane
	Spurs        uint8 `json:"spurs"`
	NodesPerSpur uint8 `json:"nodes_per_spur"`
	CutBack      uint8 `json:"cut_back"` // cut back to so many buds; 0: not cut back
	Trunk        uint8 `json:"trunk"`    // one straight cane to the wire, so many shoots kept at its top; 0: no trunk is formed
}

// Nodes is the count nodes that it leaves; of a new trunk the shoots kept.
func (in Instruction) Nodes() int {
	n := int(in.Spurs)*int(in.NodesPerSpur) + int(in.CutBack) + int(in.Trunk)
	if in.Canes > 0 {
		n += int(in.NodesPerCane) + int(in.Canes-1)*int(in.NodesSecond)
	}
	return n
}

// Nothing tells that there is nothing to prune.
func (in Instruction) Nothing() bool { return in == Instruction{} }

// String gives one line that a pruner reads without explanation, such as
// "1 cane of 8, 1 spur of 2".
func (in Instruction) String() string {
	switch {
	case in.Nothing():
		return "nothing to prune"
	case in.CutBack > 0:
		return fmt.Sprintf("cut back to %d buds", in.CutBack)
	case in.Trunk > 0:
		return fmt.Sprintf("1 straight cane to the wire, keep the top %d buds", in.Trunk)
	}
	var parts []string
	switch {
	case in.Canes == 2 && in.NodesSecond != in.NodesPerCane:
		parts = append(parts, fmt.Sprintf("2 canes of %d and %d", in.NodesPerCane, in.NodesSecond))
	case in.Canes > 2 && in.NodesSecond != in.NodesPerCane:
		parts = append(parts, fmt.Sprintf("1 cane of %d, %d canes of %d", in.NodesPerCane, in.Canes-1, in.NodesSecond))
	case in.Canes > 0:
		parts = append(parts, fmt.Sprintf("%s of %d", count(int(in.Canes), "cane"), in.NodesPerCane))
	}
	if in.Spurs > 0 {
		parts = append(parts, fmt.Sprintf("%s of %d", count(int(in.Spurs), "spur"), in.NodesPerSpur))
	}
	return strings.Join(parts, ", ")
}

// count says how many of something.
func count(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// Arm says which arm the cane is laid from, seen from the numbering end.
type Arm uint8

// The arms.
const (
	ArmUnknown Arm = iota // diameters not known: the pruner chooses
	ArmLeft
	ArmRight
	ArmBoth
	ArmEither // canes alike: a free choice
)

// String gives the word.
func (a Arm) String() string {
	if a > ArmEither {
		return "unknown"
	}
	return [...]string{"unknown", "left", "right", "both", "either"}[a]
}

// MarshalText writes the word.
func (a Arm) MarshalText() ([]byte, error) { return []byte(a.String()), nil }
