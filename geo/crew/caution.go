package crew

import "slices"

// Caution is a hazard of the work and what keeps it off. Cautions stand on every
// order and sheet; local work-safety rules apply.
type Caution struct {
	Hazard string `json:"hazard"` // a word to translate and draw by
	Advice string `json:"advice"`
	Source string `json:"source"`
}

const (
	msa       = "farm health insurer MSA and press on pruning risks, 2019"
	bc        = "Worker health and safety, British Columbia best practices guide"
	wrist     = "Don't wreck your wrists pruning vines for wine, WorkSafeBC"
	customary = "common practice"
)

// Cautions gives what to mind at an operation, the gravest first.
func Cautions(operation string) []Caution {
	cuts := slices.Contains([]string{Pruning, PrePruning, ShootThinning}, operation)
	var out []Caution
	if operation == Pruning || operation == PrePruning {
		out = append(out,
			Caution{"powered shears", "Only for trained people. Keep the other hand away from the cut and do not hold the cane that is cut; wear a cut-detecting glove. Switch off to clean and sharpen. Do not prune and pull brush at once.", msa},
			Caution{"wet wood", "No pruning in rain nor for 36 h after it: disease enters the wounds.", "Growers respond to trunk disease threat, Wine Australia"},
			Caution{"frozen wood", "Do not prune or handle frozen wood: it snaps.", "Pruning the vine, Washington Post, 1977 and 1978"})
	}
	if cuts || operation == PullingBrush || operation == Tying {
		out = append(out, Caution{"eyes", "Wear glasses: canes and wires whip.", customary})
	}
	if cuts {
		out = append(out, Caution{"wrist and back", "Sharp shears of the right size; breaks, change of task, warm-up. Report early signs of pain.", wrist})
	}
	if operation == Replanting {
		out = append(out, Caution{"back", "Lift from the knees, share heavy loads, change tasks.", customary})
	}
	return append(out,
		Caution{"cold and wet", "Warm layers, warm-up, dry gloves. Stop in frost or on ice.", msa},
		Caution{"slopes and falls", "Shoes with grip, no running. No machine beside people on steep ground.", bc},
		Caution{"machines in rows", "Nobody works in a row where a machine drives, nor in the one beside it.", customary},
		Caution{"lone work", "Nobody works alone without a time to check in.", customary},
		Caution{"rules", "Local work-safety rules apply.", customary})
}
