// The page on which blocks are drawn, filled with rows, numbered, split and joined
// begins here.

import { createApi } from "../lib/api.js";
import { textsIn } from "../lib/text.js";
import { unitsFor } from "../lib/units.js";
import { keptText, why } from "../map/app.js";
import { button, h, show, watchPress } from "../map/dom.js";
import { whoLine } from "../map/whoami.js";
import { en } from "../text/en.js";
import { groundApi } from "./api.js";
import { mountBlockPart } from "./blockpart.js";
import { mountHistory } from "./history.js";
import { mountJoinPart } from "./joinpart.js";
import { mountMap } from "./map.js";
import { mountNumbersPart } from "./numberspart.js";
import { mountRowsPart } from "./rowspart.js";
import { mountSplitPart } from "./splitpart.js";

/**
 * @typedef {"block" | "rows" | "numbers" | "split" | "join"} PartName
 * @typedef {{open: () => void, close: () => void}} Part
 *
 * @typedef {object} Ground what all parts of the page share
 * @property {import("../lib/text.js").Texts} t
 * @property {import("../lib/units.js").Units} units
 * @property {import("../lib/model.js").Estate} estate
 * @property {import("../lib/model.js").Legends} legends
 * @property {import("./api.js").GroundApi} api
 * @property {"light" | "dark"} groundName
 * @property {import("./api.js").GroundState | null} state of the chosen block
 * @property {import("../lib/model.js").Block[]} blocks all of them
 * @property {import("../lib/pen.js").Pen | null} pen in hand
 * @property {import("../lib/drawnshapes.js").Shown | null} shown on the map
 * @property {(pen: import("../lib/pen.js").Pen | null, shown: import("../lib/drawnshapes.js").Shown | null) => void} use
 * @property {() => void} draw
 * @property {(p: import("../lib/pen.js").LonLat) => void} see moves the map to a place that is out of sight
 * @property {(word: "asking" | "asked" | "keeping" | "kept" | "failed") => void} mark how far it is, for those who read the page by machine
 * @property {() => string} by
 * @property {(part: PartName) => HTMLElement} byLine
 * @property {(error: unknown) => boolean} blameBy says at the name that it is missing; false where it is about something else
 * @property {(block: number, said: string, then: PartName | null) => Promise<void>} changed
 * @property {(text: string) => void} announce
 */

const t = textsIn(en, "en");
const ask = createApi((input, init) => fetch(input, init));
const by = keptText("courson.by");

/** @param {string} id */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** @type {{name: PartName, mount: (page: Ground, place: HTMLElement) => Part}[]} */
const PARTS = [{ name: "block", mount: mountBlockPart }, { name: "rows", mount: mountRowsPart }, { name: "numbers", mount: mountNumbersPart },
	{ name: "split", mount: mountSplitPart }, { name: "join", mount: mountJoinPart }];

async function begin() {
	const opening = at("opening");
	show(opening, h("p", {}, t("app.loading")));
	try {
		const [estate, legends] = await Promise.all([ask.estate(), ask.legends()]);
		const { blocks } = await ask.blocks(estate.season);
		opening.hidden = true;
		at("page").hidden = false;
		await start(estate, legends, blocks);
	} catch (error) {
		opening.hidden = false;
		show(opening, h("p", { class: "trouble" }, t("app.failed", { why: why(error) })), button(t("app.try_again"), () => void begin()));
	}
}

/** @param {import("../lib/model.js").Estate} estate @param {import("../lib/model.js").Legends} legends @param {import("../lib/model.js").Block[]} blocks */
async function start(estate, legends, blocks) {
	const { page, names } = shared(estate, legends);
	page.blocks = blocks;
	/** @type {PartName} */
	let now = "block";
	/** @type {Map<PartName, {part: Part, place: HTMLElement, tab: HTMLElement}>} */
	const parts = new Map();
	const choose = h("select", { id: "g-block", on: { change: () => void take(Number(choose.value)).then(() => open(now)) } });
	const list = () => show(choose, h("option", { value: "0" }, t("ground.choose_block")), ...blocks.map((b) => h("option", { value: String(b.id) }, [b.code, b.name].filter(Boolean).join(" · "))));
	const chooser = h("div", { class: "ground-field" }, h("label", { for: "g-block" }, t("ground.block")), choose);
	const take = async (/** @type {number} */ id) => {
		page.state = id ? await page.api.state(id) : null;
		choose.value = String(id);
		if (page.state) map.fit(page.state.outline.flat());
		history();
	};
	const open = (/** @type {PartName} */ name) => {
		parts.get(now)?.part.close();
		now = name;
		for (const [key, p] of parts) {
			p.place.hidden = key !== name;
			p.tab.setAttribute("aria-pressed", String(key === name));
		}
		chooser.hidden = name === "block";
		past.hidden = name === "block" || !page.state?.changes.length;
		parts.get(name)?.part.open();
	};
	page.changed = async (block, said, then) => {
		page.blocks = blocks = (await ask.blocks(estate.season)).blocks;
		list();
		map.refresh();
		await take(block);
		open(then ?? now);
		show(at("said"), h("p", {}, said), block ? h("a", { class: "button", href: `/#season=${estate.season}&block=${block}` }, t("ground.to_map")) : null);
		at("said").scrollIntoView({ block: "nearest" });
		page.mark("kept");
	};
	const map = mountMap(page, at("map"));
	page.draw = map.draw;
	page.see = map.see;
	const past = h("section", { class: "part" });
	const history = mountHistory(page, past);
	const tabs = h("div", { class: "acts ground-tabs", role: "group", "aria-label": t("ground.what") });
	at("panel").append(tabs, chooser);
	for (const { name, mount } of PARTS) {
		const place = h("section", { class: "part", "aria-label": t(`ground.part_${name}`) });
		const tab = button(t(`ground.part_${name}`), () => {
			show(at("said"));
			open(name);
		}, { "aria-pressed": "false", data: { key: `part-${name}` } });
		tabs.append(tab);
		at("panel").append(place);
		parts.set(name, { part: mount(page, place), place, tab });
	}
	at("panel").append(past);
	names();
	list();
	document.title = t("ground.title");
	show(at("head"), h("a", { class: "button", href: "/" }, t("people.map")), h("h1", { class: "report-estate" }, t("ground.title")), whoLine({ t }));
	const wish = new URLSearchParams(location.hash.slice(1));
	const asked = blocks.find((b) => b.code === wish.get("block"));
	if (asked) await take(asked.id);
	const first = PARTS.find((p) => p.name === wish.get("part"))?.name;
	open(first ?? (asked ? "rows" : "block"));
}

/** What parts share, but for what needs all of them. @param {import("../lib/model.js").Estate} estate @param {import("../lib/model.js").Legends} legends */
function shared(estate, legends) {
	/** @type {{input: HTMLInputElement, fault: HTMLElement}[]} */
	const names = [];
	const kept = keptText("courson.ground").get();
	/** @type {Ground} */
	const page = {
		t, estate, legends, api: groundApi((input, init) => fetch(input, init)), units: unitsFor({ us: estate.us_units, language: t.language }),
		groundName: kept === "light" || kept === "dark" ? kept : matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light",
		state: null, blocks: [], pen: null, shown: null, draw() {}, see() {},
		use(pen, shown) {
			page.pen = pen;
			page.shown = shown ?? (page.state ? { rows: [], points: null, outline: page.state.outline } : null);
			document.documentElement.dataset.pen = pen ? pen.kind : "";
			page.draw();
		},
		mark: (word) => void (document.documentElement.dataset.draft = word),
		by: () => by.get(),
		byLine(part) {
			const input = h("input", { id: `g-by-${part}`, autocomplete: "name", maxlength: "80", "aria-describedby": `g-by-${part}-fault`, on: { input: () => {
				by.set(input.value.trim());
				for (const n of names) if (n.input !== input) n.input.value = input.value;
			} } });
			const fault = h("p", { class: "fault", id: `g-by-${part}-fault`, role: "alert" });
			names.push({ input, fault });
			return h("div", { class: "ground-field" }, h("label", { for: input.id }, t("record.by")), input, fault);
		},
		blameBy(error) {
			const mine = /** @type {{field?: string}} */ (error)?.field === "by";
			for (const n of names) {
				n.fault.textContent = mine && error instanceof Error ? error.message : "";
				n.input.setAttribute("aria-invalid", String(mine));
			}
			return mine;
		},
		changed: async () => {},
		announce: (text) => void (at("announce").textContent = text),
	};
	return { page, names: () => names.forEach((n) => (n.input.value = by.get())) };
}

for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
for (const e of document.querySelectorAll("[data-label]")) e.setAttribute("aria-label", t(e.getAttribute("data-label") ?? ""));
const wished = keptText("courson.ground").get();
if (wished === "light" || wished === "dark") document.documentElement.dataset.ground = wished;
watchPress();
void begin();
