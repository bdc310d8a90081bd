// What to leave on a vine, said in the person's language. The server writes it in
// English in a few fixed forms; a line of another form is shown as it came.

/** @typedef {import("./texts.js").FieldTexts} FieldTexts */

/** @param {FieldTexts} t @param {string} line @returns {string} */
export function sayInstruction(t, line) {
	const first = /^look first: (.*)$/.exec(line);
	if (first) return t("say.look_first", { what: sayInstruction(t, first[1]) });
	if (line === "nothing to prune") return t("say.nothing");
	const back = /^cut back to (\d+) buds$/.exec(line);
	if (back) return t("say.cut_back", { n: Number(back[1]) });
	const trunk = /^1 straight cane to the wire, keep the top (\d+) buds$/.exec(line);
	if (trunk) return t("say.trunk", { n: Number(trunk[1]) });
	const parts = partsOf(line);
	if (!parts) return line;
	return parts.map((p) => (p.second !== undefined ? t("say.two_canes", { first: p.nodes, second: p.second }) : t(`say.${p.what}`, { n: p.count, nodes: p.nodes }))).join(", ");
}

/** @param {string} line @returns {{what: "canes" | "spurs", count: number, nodes: number, second?: number}[] | null} */
function partsOf(line) {
	const out = [];
	for (const part of line.split(", ")) {
		const m = /^(\d+) (cane|spur)s? of (\d+)(?: and (\d+))?$/.exec(part);
		if (!m) return null;
		/** @type {{what: "canes" | "spurs", count: number, nodes: number, second?: number}} */
		const said = { what: m[2] === "cane" ? "canes" : "spurs", count: Number(m[1]), nodes: Number(m[3]) };
		if (m[4]) said.second = Number(m[4]);
		out.push(said);
	}
	return out;
}

/** Totals of a line, to begin with where something else was left. @param {string} line */
export function totalsOf(line) {
	const parts = partsOf(line.replace(/^look first: /, ""));
	if (!parts) return null;
	const total = { nodes: 0, canes: 0, spurs: 0 };
	for (const p of parts) {
		total[p.what] += p.count;
		total.nodes += p.second === undefined ? p.count * p.nodes : p.nodes + p.second;
	}
	return total;
}

/** A mark's words, such as "red" or "red with white". @param {FieldTexts} t @param {string} word */
export function sayMark(t, word) {
	const [one, two] = word.split(" with ").map((w) => (t.has(`tape.${w}`) ? t(`tape.${w}`) : w));
	return two ? t("tape.with", { one, two }) : one;
}

/** @param {FieldTexts} t @param {string} operation */
export function sayOperation(t, operation) {
	const key = `operation.${operation.replaceAll(/[ -]/g, "_")}`;
	return t.has(key) ? t(key) : operation;
}
