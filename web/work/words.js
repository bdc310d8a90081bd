// Runs, ends and days as this page writes them.

/** @typedef {import("../map/app.js").App} App */

/** Vines of a run, in the direction they are walked. @param {{t: import("../lib/text.js").Texts}} app @param {{from: number, to: number, start: "near" | "far"}} run */
export function runText({ t }, { from, to, start }) {
	if (from === to) return String(from);
	const [a, b] = start === "near" ? [from, to] : [to, from];
	return t("work.run", { from: String(a), to: String(b) });
}

/** @param {{t: import("../lib/text.js").Texts}} app @param {"near" | "far"} start */
export function startText({ t }, start) {
	return t(start === "near" ? "work.near" : "work.far");
}

/** How far an order or block has got. @param {{t: import("../lib/text.js").Texts}} app @param {{vines: number, done: number}} of */
export function fromText({ t }, { vines, done }) {
	if (!vines) return t("work.nothing_in_it");
	if (done >= vines) return t("work.done_all", { n: vines });
	return t("work.done_of", { done: t.number(done), n: vines, percent: t.percent(done, vines) });
}
