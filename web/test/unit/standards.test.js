import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { GROUPS, PATHS, RULES, RULE_STARTS, at, differing, fieldOf, forEstate, scaleOf, shownIn, systemSettings, tidySystem, typedIn, withAt } from "../../lib/standards.js";
import { en } from "../../text/en.js";

const go = (/** @type {string} */ file) => readFileSync(new URL(`../../../geo/pruning/${file}`, import.meta.url), "utf8");
const all = [...Object.values(GROUPS), ...Object.values(RULES)].flat();
const setting = (/** @type {string} */ end) => /** @type {any} */ (all.find((s) => s.path.endsWith(end)));

test("limits of the fields are those of the server", () => {
	/** Constants of the package, and the floor of the load rule. @type {Record<string, number>} */
	const names = { mostNodes: 400, mostLeaves: 20, mostOnCane: 40, "floorSpurs * floorSpurNodes": 4, "1e6": 1e6 };
	const value = (/** @type {string} */ text) => names[text.trim()] ?? Number(text);
	const wood = [...go("wood_standards.go").matchAll(/\{"((?:limits|dead_buds|drought|wood|yield|work)\.\w+)", [^,]+, ([^,]+), ([^}]+)\}/g)].map((m) => [m[1], m[2], m[3]]);
	const rule = [...go("rule.go").matchAll(/\{"(\w+)", r\.\w+, ([^,]+), ([^}]+)\}/g)].map((m) => [`load_rule.${m[1]}`, m[2], m[3]]);
	assert.ok(wood.length >= 25 && rule.length >= 9, `${wood.length} and ${rule.length} figures`);
	for (const [path, low, high] of [...wood, ...rule]) {
		const s = all.find((k) => k.path === `pruning.${path}`);
		assert.ok(s, `${path} has a field`);
		// Where a limit is another setting, the server alone can tell.
		if (!Number.isNaN(value(low))) assert.equal(s.low, value(low), path);
		if (!Number.isNaN(value(high))) assert.equal(s.high, value(high), path);
	}
});

test("every setting has its words, and every word to choose from", () => {
	const key = (/** @type {string} */ path) => path.replace(/^pruning\./, "").replaceAll(".", "_");
	const own = [...systemSettings(/** @type {any} */ ({ canes_per_arm: 1 })), ...systemSettings(/** @type {any} */ ({ canes_per_arm: 0 }))];
	for (const s of [...all, ...own]) {
		assert.ok(`set.${key(s.path)}` in en, s.path);
		for (const w of s.words ?? []) assert.ok(`word.${key(s.path)}_${w}` in en, `${s.path} ${w}`);
		for (const us of [false, true]) if (s.measure) assert.ok(`in.${scaleOf(s, us)[1]}` in en, s.path);
	}
	for (const kind of Object.keys(RULES)) assert.ok(`rule.${kind}` in en && `rule.why_${kind}` in en && RULE_STARTS[kind].kind === kind, kind);
	for (const stage of [...go("standards.go").matchAll(/Stage = "(\w+)"/g)].map((m) => m[1])) assert.ok(`stage.${stage}` in en, stage);
	const words = (/** @type {string} */ text) => [...text.matchAll(/"([^"]+)"/g)].map((m) => m[1]);
	const code = go("code.go");
	for (const [kind, body] of [["bound", code.slice(code.indexOf("func boundWord"), code.indexOf("// String gives the word."))], ["flag", code.slice(code.indexOf("func flagWord"))]]) {
		const list = words(body.slice(0, body.indexOf("}[")));
		assert.ok(list.length >= 12, kind);
		for (const word of list) if (word !== "none") assert.ok(`${kind}.${word.replace(/[^a-z]+/g, "_")}` in en, `${kind}: ${word}`);
	}
});

// 1 ft = 0.3048 m, 1 lb = 453.59237 g, 1 acre = 0.40468564224 ha: NIST Special Publication 811, appendix B.
test("US units at the edge: the published factors, and no drift", () => {
	assert.equal(shownIn(setting("shoots_per_m"), 15, true), "4.572");
	assert.equal(shownIn(setting("gap_m"), 0.1, true), "3.937");
	assert.equal(shownIn(setting("target_g"), 35, true), "1.235");
	assert.equal(shownIn(setting("first_kg"), 0.5, true), "1.102");
	assert.equal(shownIn(setting("cap_per_ha"), 58_000, true), "23470");
	assert.equal(typedIn(setting("gap_m"), "4", true), 0.1016);
	assert.equal(typedIn(setting("target_g"), "1", true), 28.349523125);
	assert.equal(typedIn(setting("change_share"), "25", false), 0.25);
	for (const s of all) {
		if (s.kind !== "number" || s.low === undefined || s.high === undefined) continue;
		// The ends themselves, written with all their digits, are accepted in either unit.
		for (const us of [false, true]) for (const end of [s.low, s.high]) assert.ok(Math.abs(Number(typedIn(s, String(end * scaleOf(s, us)[0]), us)) - end) < 1e-6, `${s.path} ${end} ${us}`);
	}
});

test("what cannot be meant is not taken", () => {
	assert.equal(typedIn(setting("shoots_per_m"), "1", false), null);
	assert.equal(typedIn(setting("shoots_per_m"), "", false), null);
	assert.equal(typedIn(setting("shoots_per_m"), "15,5", false), 15.5);
	assert.equal(typedIn(setting("one_cane_up_to"), "12.5", false), null);
});

test("the field an error is about: by its name, or by the server's words", () => {
	assert.equal(fieldOf("standards", "standards that cannot be used: pruning: pruning standards are out of order: limits.shoots_per_m: found 1, wanted 3 to 60"), "pruning.limits.shoots_per_m");
	assert.equal(fieldOf("standards", "standards that cannot be used: pruning: training system is out of order: arms: found 0, wanted 1 to 12"), "pruning.system.arms");
	assert.equal(fieldOf("standards", "pruning standards are out of order: leaf_table[2].stage: found x, wanted full"), "pruning.leaf_table");
	assert.equal(fieldOf("standards", "standards that cannot be used: vigour.limits_kg_m: found [1 1 1 1]"), "vigour.limits_kg_m");
	assert.equal(fieldOf("pruning.wood.gap_m", "too wide"), "pruning.wood.gap_m");
	assert.equal(fieldOf("standards.pruning.load_rule.a", "too many"), "pruning.load_rule.a");
	assert.equal(fieldOf(undefined, "the server is full"), "");
	assert.ok(PATHS.length > 50);
});

test("copies along a path leave the rest as it is", () => {
	const s = { pruning: { leaf_table: [{ leaf: 1 }, { leaf: 2 }], wood: { gap_m: 0.1 } } };
	const other = withAt(s, "pruning.leaf_table.1.leaf", 9);
	assert.deepEqual(at(other, "pruning.leaf_table"), [{ leaf: 1 }, { leaf: 9 }]);
	assert.ok(Array.isArray(other.pruning.leaf_table));
	assert.deepEqual(s.pruning.leaf_table[1], { leaf: 2 });
	assert.equal(other.pruning.wood, s.pruning.wood);
	assert.equal(at(s, "pruning.nothing.here"), undefined);
});

test("only what differs is kept; the estate keeps no training system", () => {
	const estate = { vigour: { limits_kg_m: [1, 2, 3, 4] }, patches: { rate: 0.05 }, pruning: { system: { key: "a" }, wood: { gap_m: 0.1 }, work: { cane_minutes: 3 } } };
	const mine = withAt(withAt(estate, "pruning.wood.gap_m", 0.2), "vigour.limits_kg_m.0", 0.5);
	assert.deepEqual(differing(mine, estate), { vigour: { limits_kg_m: [0.5, 2, 3, 4] }, pruning: { wood: { gap_m: 0.2 } } });
	assert.deepEqual(differing(estate, estate), {});
	assert.deepEqual(Object.keys(forEstate(estate).pruning), ["wood", "work"]);
});

test("a system without canes has no cane lengths, a cordon no counted spurs, one with canes what it needs", () => {
	const guyot = { key: "own", name: "x", arms: 1, spurs_per_arm: 1, nodes_per_spur: 2, canes_per_arm: 1, least_nodes_per_cane: 4, most_nodes_per_cane: 10, wires: 1 };
	assert.deepEqual(tidySystem({ ...guyot, canes_per_arm: 0 }), { key: "own", name: "x", arms: 1, spurs_per_arm: 1, nodes_per_spur: 2, canes_per_arm: 0 });
	assert.deepEqual(tidySystem({ ...guyot, canes_per_arm: 0, spur_spacing_m: 0.15 }).spurs_per_arm, 0);
	const back = tidySystem({ key: "own", name: "x", arms: 2, spurs_per_arm: 1, nodes_per_spur: 2, canes_per_arm: 1, spur_spacing_m: 0.15 });
	assert.deepEqual([back.least_nodes_per_cane, back.most_nodes_per_cane, back.spur_spacing_m], [4, 10, undefined]);
});
