// The texts of pruning plans: on the map, at a vine, and on the plan's own page.
// What a grower sets is in enstandards.js.

import { enStandards } from "./enstandards.js";

/** @type {import("../lib/text.js").Table} */
export const enPruning = {
	...enStandards,

	"load.none": "no plan",
	"load.least": "cut back, or two spurs",
	"load.small": "small",
	"load.light": "light",
	"load.medium": "medium",
	"load.full": "full",
	"load.heavy": "heavy",
	"follow-ups.none": "nothing special",
	"follow-ups.rub_off": "rub off: keep the second and third shoot",
	"follow-ups.both_push": "see that node and base bud pushed",
	"follow-ups.done": "done",
	"legend.pieces_load": "Far out, a piece of row shows the load that most of its vines have.",
	"legend.pieces_follow_ups": "Far out, a piece of row shows the job that most of its vines still need.",
	"blocks.planned": { one: "{n} node planned", other: "{n} nodes planned" },
	"blocks.not_planned": "no plan yet",
};
