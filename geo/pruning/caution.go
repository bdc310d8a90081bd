package pruning

// Cautions are to be shown with every plan and instruction sheet.
func Cautions() []string {
	return []string{
		"These are planning figures: the agronomist and the pruner at the vine decide.",
		"Legal caps on buds differ by place and change: check the text in force.",
		"Pruning carries cutting, eye, back, cold and slope hazards: keep a clear distance from others, wear gloves and eye protection, keep the maker's guards on powered shears; local work-safety rules apply.",
		"Clean shears after diseased vines; do not prune or handle frozen wood.",
	}
}
