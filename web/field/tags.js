// Prints tags for the row ends: each opens its row on the phone page, walked from
// the end where it hangs.

import { createApi } from "../lib/api.js";
import { h } from "../map/dom.js";
import { qrCode } from "../map/qr.js";
import { readSettings } from "./settings.js";
import { likelyLanguage, textsFor } from "./texts.js";

const t = textsFor(readSettings().language || likelyLanguage(navigator.languages));
const api = createApi((...args) => fetch(...args));
const page = /** @type {HTMLElement} */ (document.getElementById("tags"));

/** @param {number} row @param {"near" | "far"} end */
export const addressOf = (row, end) => `${location.origin}/field#row=${row}&end=${end}`;

/** @param {import("../lib/model.js").Block} block */
function sheet(block) {
	return h("ul", { class: "sheet" }, ...(block.row_list ?? []).flatMap((row) => /** @type {const} */ (["near", "far"]).map((end) =>
		h("li", { class: "tag" }, qrCode(addressOf(row.id, end)), h("div", {}, h("p", { class: "tag-row" }, t("row.name", { block: block.code, row: row.label })), h("p", {}, t(`tags.${end}`)))))));
}

async function start() {
	document.documentElement.lang = t.language;
	const estate = await api.estate();
	const { blocks } = await api.blocks(estate.season);
	const place = h("div", {});
	const choice = h("select", { id: "block", on: { change: () => void show().catch(failed) } }, ...blocks.map((b) => h("option", { value: b.code }, b.code)));
	const wish = new URLSearchParams(location.hash.slice(1)).get("block");
	if (wish && blocks.some((b) => b.code === wish)) choice.value = wish;
	const show = async () => {
		const wanted = choice.value;
		const block = await api.block(wanted, estate.season);
		if (wanted !== choice.value) return; // another was chosen meanwhile
		place.replaceChildren(sheet(block));
		document.documentElement.dataset.tags = block.code;
	};
	page.replaceChildren(
		h("div", { class: "choice" }, h("h1", {}, t("tags.title")), h("p", {}, t("tags.how")), h("label", { for: "block" }, t("tags.block")), choice,
			h("button", { type: "button", class: "tap main", on: { click: () => print() } }, t("tags.print"))),
		place);
	await show();
}

/** @param {unknown} error */
const failed = (error) => page.append(h("p", { class: "alarm", role: "alert" }, t("tags.failed", { why: error instanceof Error ? error.message : String(error) })));

start().catch(failed);
