// A record in words, for the tray of refused ones.

import { ordersOf } from "./app.js";
import { measureText } from "./measurescreen.js";
import { sayOperation } from "./say.js";

/**
 * @param {import("./app.js").App} app
 * @param {import("./types.js").FieldEvent} event
 */
export function textOf(app, event) {
	const { t } = app;
	const row = ordersOf(app).flatMap((o) => o.rows).find((r) => r.row === event.row);
	const numbers = event.vines?.map((id) => row?.vines.find((v) => v[1] === id)?.[0] ?? id) ?? [];
	const where = row ? t("row.name", { block: row.code, row: row.label }) : t("record.block", { block: event.block });
	return t("record.line", { what: whatOf(app, event), where, vines: numbers.join(", "), time: t.time(Date.parse(event.at)) });
}

/** @param {import("./app.js").App} app @param {import("./types.js").FieldEvent} event */
function whatOf(app, event) {
	const { t } = app;
	switch (event.kind) {
		case "pruned":
			return sayOperation(t, "pruning");
		case "work":
			return sayOperation(t, event.value.operation);
		case "condition":
			return t.has(`condition.${event.value.condition}`) ? t(`condition.${event.value.condition}`) : event.value.condition;
		case "measure":
			return measureText(app, event.value);
		case "note":
			return t("record.note", { text: event.value.text });
		case "void":
			return t("row.undo");
	}
	return event.kind;
}
