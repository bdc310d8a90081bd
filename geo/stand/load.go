package stand

import "courson/geo/vine"

// LoadLimits are the nodes at which the classes 2 to 6 of the load begin; class
// 1 is a vine that is cut back or keeps no more than two spurs of two. Chosen by
// us around what cane-pruned vines carry: one short cane, one full cane, two.
func LoadLimits() [5]uint8 { return [5]uint8{5, 9, 13, 17, 25} }

// LoadClass is the class 1 to 6 of a number of nodes, 0 where there is no plan.
func LoadClass(nodes uint8) uint8 {
	if nodes == None {
		return 0
	}
	class := uint8(1)
	for _, l := range LoadLimits() {
		if nodes >= l {
			class++
		}
	}
	return class
}

// LoadOf is the class of the nodes planned for vine i, 0 where there is no plan
// or no living vine.
func (s *Stand) LoadOf(i int) uint8 {
	if !s.Condition[i].Living() {
		return 0
	}
	return LoadClass(s.Nodes[i])
}

// FollowOf is the job at shoot thinning that the wood left on vine i asks for.
func (s *Stand) FollowOf(i int) vine.FollowUp {
	if s.Follow == nil {
		return vine.FollowNone
	}
	return s.Follow[i]
}
