package tile

// Layer describes a layer in TileJSON 3.0.0 (vector_layers): its name, the
// zooms it shows at and what its attributes mean.
type Layer struct {
	ID          string            `json:"id"`
	Description string            `json:"description"`
	MinZoom     int               `json:"minzoom"`
	MaxZoom     int               `json:"maxzoom"`
	Fields      map[string]string `json:"fields"`
}

const (
	conditionField = "Number: 0 unseen, 1 bearing, 2 young, 3 weak, 4 diseased, 5 dead, 6 missing, 7 replanted, 8 doubtful"
	progressField  = "Number: pruning 0 not started, 1 started, 2 done, 3 to redo"
)

// VectorLayers describes the layers of the vector tiles, in drawing order.
func VectorLayers() []Layer {
	block := map[string]string{
		"id": "Number: lasting id", "code": "String", "name": "String, may be absent", "variety": "String, may be absent",
		"vines": "Number of positions", "gaps": "Number: missing or dead", "done": "Number: living vines pruned",
		"to_prune": "Number: living vines", "vigour": "Number: mean class 1 to 5, 0 none",
	}
	row := map[string]string{"id": "Number: lasting id of the row", "label": "String", "block": "String: code"}
	piece := map[string]string{
		"id": row["id"], "label": row["label"], "block": row["block"],
		"vines": "Number of positions", "gaps": "Number: missing or dead", "done": "Number: living vines pruned",
		"to_prune":  "Number: living vines",
		"condition": conditionField + "; the gravest that one vine in five is in, else the commonest",
		"vigour":    "Number: mean class 1 to 5, 0 none", "progress": progressField,
	}
	doubt, change := "Number: how unsure the vigour is, 1 to 4, 0 no value", "Number: 1 lost much to 5 gained much, 0 not compared"
	patch := "Number: 0 not judged, 1 like the block, 2 weak patch, 3 strong patch, 4 likely weak"
	piece["doubt"], piece["change"], piece["patch"] = doubt+"; the commonest", change+"; the commonest", patch+"; the gravest that one vine in five is in"
	load := "Number: class of the nodes planned, 1 cut back or two spurs to 6 heavy"
	follow := "Number: job at shoot thinning, 1 rub off, 2 see that node and base bud pushed, 3 done"
	replant := "Number: 1 suspected gap, 2 doubtful, 3 dead standing, 4 dead above graft, 5 missing, 6 to replace, 7 ordered, 8 hole dug, 9 planted, 10 took, 11 failed"
	zone := "Number: zone for rates by the version in use, 1 the weakest"
	piece["zone"] = zone + ", 0 none; the commonest"
	piece["replant"] = replant + ", 0 none; the commonest where one place in ten has one"
	piece["load"], piece["follow"] = load+", 0 no plan; the commonest", follow+", 0 none; the commonest that is left to do"
	patches := map[string]string{"id": "String", "block": "String: code", "kind": "String: weak, strong or likely (weak, from a sample)",
		"vines": "Number of positions", "hectares": "Number", "shortfall_pct": "Number: per cent of what was expected"}
	zones := map[string]string{"id": "String", "block": row["block"], "zone": "Number: 1 the weakest", "season": "Number", "vines": "Number of positions", "hectares": "Number",
		"material": "String: what is spread; absent for zones alone, as are the next", "rate": "Number: planned rate", "unit": "String: of the rate"}
	vines := map[string]string{
		"block": "String: code", "row": "String: label", "number": "Number in the row, from zoom 17",
		"vines": "Number of points that share the feature, at zoom 16", "condition": conditionField,
		"vigour": "Number: class 1 to 5, 0 none", "progress": progressField + ", 4 skipped",
		"leaf":  "Number: growing season of the plant's life, 0 unknown, from zoom 17",
		"nodes": "Number: nodes planned, absent without a plan, from zoom 17",
		"basis": "Number: 1 measured, 2 calibrated, 3 estimated, 0 none; absent until worked out, from zoom 17, as are the next",
		"doubt": doubt, "change": change, "patch": patch,
		"follow":  follow + "; absent where there is none",
		"replant": replant + "; absent where there is none",
		"zone":    zone + "; absent where there is none",
	}
	layer := func(id, what string, shows func(Show) bool, fields map[string]string) Layer {
		return Layer{ID: id, Description: what, MinZoom: firstZoom(shows), MaxZoom: MaxZoom, Fields: fields}
	}
	return []Layer{
		layer(LayerBlocks, "Outlines of blocks with totals", func(s Show) bool { return s.Blocks }, block),
		layer(LayerZones, "Zones for rates, by the version in use", func(s Show) bool { return s.Zones }, zones),
		layer(LayerPatches, "Weak, strong and likely weak areas", func(s Show) bool { return s.Patches }, patches),
		layer(LayerRows, "Pieces of row", func(s Show) bool { return s.Rows }, piece),
		layer(LayerVines, "Vines; from zoom 17 the feature's id is the vine's", func(s Show) bool { return s.Vines }, vines),
		layer(LayerRowLabels, "Both ends of each row", func(s Show) bool { return s.RowLabels }, row),
		layer(LayerBlockLabels, "A point inside each block", func(s Show) bool { return s.Blocks }, block),
	}
}
