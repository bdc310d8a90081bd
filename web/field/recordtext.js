// A record in words, for the tray of refused ones.

import { ordersOf } from "./app.js";
import { lookListsOf } from "./lookacts.js";
import { measureText } from "./measurescreen.js";
import { sayOperation } from "./say.js";
import { weighListsOf } from "./weighacts.js";

/**
 * @param {import("./app.js").App} app
 * @param {import("./types.js").FieldEvent} event
 */
export function textOf(app, event) {
	const { t } = app;
	const row = rowsOf(app).find((r) => r.row === event.row);
	const numbers = event.vines?.map((id) => row?.numbers.get(id) ?? id) ?? [];
	const where = row ? t("row.name", { block: row.code, row: row.label }) : t("record.block", { block: event.block });
	return t("record.line", { what: whatOf(app, event), where, vines: numbers.join(", "), time: t.time(Date.parse(event.at)) });
}

/** Every row that this phone knows, with the numbers of its vines. @param {import("./app.js").App} app */
function rowsOf(app) {
	const listed = (/** @type {{code: string, rows: (import("./types.js").WeighRow | import("./types.js").LookRow)[]}} */ l) => l.rows.map((r) => ({ row: r.row, label: r.label, code: l.code,
		numbers: new Map("places" in r ? r.places.map((p) => [p.id, p.number]) : r.vines.map((v) => [v[1], v[0]])) }));
	return [...ordersOf(app).flatMap((o) => o.rows).map((r) => ({ row: r.row, label: r.label, code: r.code, numbers: new Map(r.vines.map((v) => [v[1], v[0]])) })),
		...lookListsOf(app).flatMap(listed), ...weighListsOf(app).flatMap(listed)];
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
