package crew

// Operations gives the usual operations with their planning figures, in the
// order of the year.
//
// Common practice gives 3 min for a cane-pruned vine with its tying, 2 min for a
// spur-pruned one and 1 min for pulling the brush out. Tying down alone is 15 to
// 25 h/ha (from memory): 0.3 min at 4,000 vines/ha, so that 2.7 min are left for
// the cutting. "Chosen by us" stands where nothing was found.
func Operations() []Operation {
	return []Operation{
		{
			Name: PrePruning, Minutes: Minutes{Cane: 0.04, Spur: 0.04}, Skill: SkilledForEach,
			Source: "a machine pass of 2 to 3 h/ha at 4,000 vines/ha (from memory); young vines are left to the hand (common practice)",
		}, {
			Name: Pruning, Minutes: Minutes{Cane: 2.7, Spur: 2, Young: 3.5}, Skill: SkilledForFew, SickLast: true, ByVigour: true, NodeShare: 0.3,
			Source: "common practice: cane 3 min with tying, spur 2 min; young vines take longer than mature ones (a Virginia estate's weblog, pruning hours, 2008 and 2010), how much is chosen by us",
			Saves:  prePruned(),
		}, {
			Name: PullingBrush, Minutes: Minutes{Cane: 1, Spur: 0.5, Young: 0.3}, After: Pruning, ByVigour: true,
			Source: "common practice: 1 min; spur-pruned and young vines chosen by us",
		}, {
			Name: Tying, Minutes: Minutes{Cane: 0.3, Young: 0.5}, After: PullingBrush, NodeShare: 0.5,
			Source: "15 to 25 h/ha at 4,000 vines/ha (from memory); young vines with their stake chosen by us",
		}, {
			Name: ShootThinning, Minutes: Minutes{Cane: 1, Spur: 2, Young: 1}, Skill: SkilledForFew, SickLast: true, NodeShare: 0.7,
			Source: "about 1 min per vine, cordons in up to three passes (Shoot thinning, Linden Vineyards, March 2016); two passes on cordons chosen by us",
		}, {
			Name: Checking, Minutes: Minutes{Cane: 0.5, Spur: 0.5, Young: 0.5}, Skill: SkilledForEach,
			Source: "chosen by us", After: Pruning,
		}, {
			Name: Replanting, Minutes: Minutes{Cane: 6, Spur: 6, Young: 6}, On: OnGaps,
			Source: "dig, plant, stake and water by hand: chosen by us",
		},
	}
}

// prePruned is what a machine pass before the hand saves at pruning: 10 to 15 %
// on canes, 60 % on spurs (La mécanisation de la taille au vignoble,
// Techniloire). The middle of the span is taken.
func prePruned() Saving { return Saving{By: PrePruning, Cane: 0.125, Spur: 0.6} }

// VigourFactor is what a class of vigour multiplies the minutes of an operation
// with that goes by vigour. Pruning of like blocks differs by up to 40 % (La
// Vigne no. 83, article VI0832110969, 1997): from class 1 to class 5 it is that
// much; how it falls between them is chosen by us.
func VigourFactor(c Class) float64 {
	switch c {
	case 1:
		return 0.85
	case 2:
		return 0.92
	case 4:
		return 1.10
	case 5:
		return 1.19
	}
	return 1
}
