package vigour

import "courson/geo/stand"

// grownUp is the leaf class of vines in their fifth leaf and later, and of those
// whose age is not known: fifth-leaf vines carry the full system and crop (Texas
// budgets name full production from the fifth year; common practice).
const grownUp = 5

// leafClasses gives each vine its leaf class: 1 to 4, or grownUp.
func leafClasses(s *stand.Stand) []uint8 {
	out := make([]uint8, len(s.Leaf))
	for i, leaf := range s.Leaf {
		out[i] = grownUp
		if leaf >= 1 && leaf < grownUp {
			out[i] = leaf
		}
	}
	return out
}

// leafWords names a leaf class.
func leafWords(class uint8) string {
	switch class {
	case 1:
		return "first leaf"
	case 2:
		return "second leaf"
	case 3:
		return "third leaf"
	case 4:
		return "fourth leaf"
	}
	return "fifth leaf or later (or of unknown age)"
}
