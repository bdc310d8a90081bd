package crew

import (
	"fmt"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Form is how a system is pruned.
type Form uint8

// The forms.
const (
	Cane Form = 0
	Spur Form = 1
)

// System is the training system that rates are kept for.
type System struct {
	Key  string `json:"key"` // such as "double_guyot"
	Form Form   `json:"form"`
}

// Class is the kind of vine that rates are kept for: its class of vigour 1 to 5,
// 0 where none is known, or young.
type Class uint8

// The classes that are no class of vigour.
const (
	ClassUnknown Class = 0
	ClassYoung   Class = 6
	// ClassAll stands for all vines of an operation and system together.
	ClassAll Class = 255
)

// YoungLeaf is the last leaf in which a vine counts as young (common practice:
// full crop from the fourth).
const YoungLeaf = 3

// ClassOf gives the class of vine i.
func ClassOf(s *stand.Stand, i int) Class {
	if s.Condition[i] == vine.Young || s.Leaf[i] >= 1 && s.Leaf[i] <= YoungLeaf {
		return ClassYoung
	}
	return Class(min(s.Vigour[i], 5))
}

// String gives the class in words.
func (c Class) String() string {
	switch c {
	case ClassUnknown:
		return "vigour not known"
	case ClassYoung:
		return "young"
	case ClassAll:
		return "all"
	}
	return fmt.Sprintf("vigour %d", uint8(c))
}
