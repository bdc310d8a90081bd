package work

import "courson/geo/format"

func spacingColumn(name string, u unitsOut, title string) format.Column {
	return number(name+"_"+u.length, u.length, title)
}

func blockColumns(u unitsOut) []format.Column {
	return []format.Column{idColumn(), text("block", "Code of the block, first part of every address"), text("name", "Name of the block"), text("variety", "Variety"), text("clone", "Clone"),
		text("rootstock", "Rootstock"), whole("planted", "Season of the first leaf of its first planting"), text("system", "Training system"),
		spacingColumn("row_spacing", u, "Distance between rows"), spacingColumn("vine_spacing", u, "Planting distance along the row"),
		text("numbering_end", "End of the rows where vine 1 stands"), number("area_m2", "m²", "Area of the outline on the ground")}
}

func rowColumns(u unitsOut) []format.Column {
	return []format.Column{idColumn(), text("block", "Code of the block"), text("row", "Label of the row"), spacingColumn("vine_spacing", u, "Planting distance along the row, where it is not the block's"),
		text("numbering_end", "End of the drawn line where vine 1 stands"), spacingColumn("length", u, "Planted length on the ground")}
}

func vineColumns(u unitsOut) []format.Column {
	return []format.Column{idColumn(), text("exported_at", "When the file was written"), text("address", "block/row/vine"), text("block", "Code of the block"), text("row", "Label of the row"),
		whole("vine", "Number in the row, 1 at the numbering end"), text("vine_id", "Tag of the vine"), whole("season", "Harvest year that the winter's pruning prepares"),
		whole("leaf", "Which growing season of its life the plant is in"), text("status", "As last seen"), text("cause", "Cause, where one was named"), text("look_again", "Day on which to look again"),
		whole("planted", "Season of the plant's first leaf"),
		text("mother", "Of a layer: address of the vine whose cane it is"), text("severed", "Of a layer: yes once it is cut from its mother, else no"),
		number("visual_score", "", "Score given by eye"), text("visual_score_scale", "Scale of the score"),
		number("pruning_weight_"+u.weight, u.weight, "Pruning weight of the vine as weighed"), number("cane_count", "", "Canes counted"), number("shoot_count", "", "Shoots counted after budburst"),
		number("cane_diameter_mm", "mm", "Diameter of its canes"), number("shoot_length_cm", "cm", "Length of its shoots"), number("trunk_girth_mm", "mm", "Girth of the trunk"),
		number("yield_"+u.weight, u.weight, "Fruit of the vine as weighed"), number("canopy_index", "", "Canopy index"), text("canopy_index_scale", "Which index, and its scale"),
		whole("nodes", "Nodes that the pruning plan gives"), whole("canes", "Canes that the plan gives"), whole("spurs", "Spurs that the plan gives"),
		text("pruned_on", "Day of pruning"), text("pruned_by", "Who pruned"), whole("left_nodes", "Nodes left"), whole("left_canes", "Canes left"), whole("left_spurs", "Spurs left"),
		text("left_reason", "Why something else was left"), text("progress", "Of pruning"), text("note", "Notes of the season")}
}
