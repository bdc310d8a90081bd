import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { test } from "node:test";
import { Ledger } from "../../field/ledger.js";
import { metresFrom, wrongBlock } from "../../field/place.js";
import { screenOfTag } from "../../field/scan.js";
import { sayInstruction, sayMark, totalsOf } from "../../field/say.js";
import { textsFor } from "../../field/texts.js";
import { endOfSection, gapBetween, nextAlive, nextOpen, runsOf, slotOf, tally, walkOf } from "../../field/walk.js";
import { LANGUAGES } from "../../text/field/index.js";

/** A row of 12 with gaps at 4 and 8, 9; sections of 5. @param {any} [more] @returns {any} */
const row = (more = {}) => ({ row: 7, label: "7", block: 1, code: "H3", from: 1, to: 12, section: 5, marks: [], gaps: [4, 8, 9], bounds: [-0.001, -0.001, 0.001, 0.001], vines: Array.from({ length: 12 }, (_, i) => [i + 1, 100 + i + 1, [4, 8].includes(i + 1) ? 6 : i + 1 === 9 ? 5 : 1, 0, 0, -1]), ...more });
const at = (/** @type {any} */ walk, /** @type {number} */ number) => walk.index.get(number);

test("the walk goes over gaps, from either end", () => {
	const near = walkOf(row(), "near", new Map());
	assert.equal(near.spots[nextOpen(near, at(near, 3) + 1)].number, 5);
	assert.deepEqual(gapBetween(near, at(near, 3), at(near, 5)), { first: 4, last: 4, count: 1, index: 3, lastIndex: 3 });
	assert.equal(gapBetween(near, at(near, 5), at(near, 6)), null);
	const far = walkOf(row(), "far", new Map());
	assert.equal(far.spots[0].number, 12);
	const gap = gapBetween(far, at(far, 10), at(far, 7));
	assert.deepEqual([gap?.first, gap?.last, gap?.count], [9, 8, 2]);
	assert.equal(nextAlive(far, 12), -1);
	assert.deepEqual(tally(near), { alive: 9, done: 0, skipped: 0, left: 9 });
});

test("section and slot are counted from the end where the walk begins, and begin anew at each post", () => {
	const near = walkOf(row(), "near", new Map());
	assert.deepEqual(slotOf(near, 1), { section: 1, slot: 1, of: 5 });
	assert.deepEqual(slotOf(near, 8), { section: 2, slot: 3, of: 5 });
	assert.deepEqual(slotOf(near, 12), { section: 3, slot: 2, of: 2 });
	const far = walkOf(row(), "far", new Map());
	assert.deepEqual(slotOf(far, 12), { section: 1, slot: 1, of: 2 });
	assert.deepEqual(slotOf(far, 10), { section: 2, slot: 1, of: 5 });
	assert.deepEqual(slotOf(far, 1), { section: 3, slot: 5, of: 5 });
	assert.equal(far.spots[endOfSection(far, 0)].number, 11);
	assert.equal(near.spots[endOfSection(near, 5)].number, 10);
	assert.equal(slotOf(walkOf(row({ section: 0 }), "near", new Map()), 3), null);
});

test("a mark made on this phone is no gap to be agreed on", () => {
	const walk = walkOf(row(), "near", new Map([[102, { condition: 6 }]]));
	assert.equal(walk.spots[nextOpen(walk, 1)].number, 3);
	assert.equal(gapBetween(walk, 0, 2), null);
});

test("runs of numbers", () => {
	assert.deepEqual(runsOf([3, 4, 5, 9]), [[3, 5], [9, 9]]);
	assert.equal(textsFor("en").runs(runsOf([3, 4, 5, 9])), "3–5, 9");
});

let seq = 0;
/** @returns {any} */
const event = (/** @type {string} */ id, /** @type {string} */ kind, /** @type {any} */ value, /** @type {number[] | undefined} */ vines) => ({ id, device: "d", seq: ++seq, at: "", season: 2027, block: 1, row: 7, kind, value, ...(vines ? { vines } : {}) });

test("what this phone recorded lies over the bundle until the bundle knows of it", () => {
	const ledger = new Ledger([]);
	ledger.add([event("a", "pruned", {}, [101, 102]), event("b", "work", { operation: "tying", progress: "done" }, [103]), event("c", "condition", { condition: "dead" }, [104])], 0);
	assert.deepEqual([...ledger.over(row(), "pruning")], [[101, { progress: 2 }], [102, { progress: 2 }], [104, { condition: 5 }]]);
	assert.deepEqual(ledger.over(row(), "tying").get(103), { progress: 2 });
	assert.equal(ledger.last(7)?.id, "c");
	ledger.add([event("d", "void", { event: "a" }, [101, 102])], 0);
	assert.equal(ledger.over(row(), "pruning").has(101), false);
	ledger.refused.add("c");
	assert.equal(ledger.over(row(), "pruning").has(104), false, "refused: does not count");
	assert.deepEqual(ledger.sent(["b"]).map((e) => e.id), ["b"]);
	assert.deepEqual(ledger.sentIds(), ["b"]);
	const coming = ledger.coverage(["b"], 1);
	assert.equal(coming.changed[0].covered, true);
	assert.equal(ledger.over(row(), "tying").has(103), true, "until the bundle is the one in use, its records count");
	ledger.cover(coming);
	assert.equal(ledger.over(row(), "tying").has(103), false, "the bundle says it now");
	assert.equal(ledger.entries.has("b"), true, "can still be taken back");
	ledger.add([event("e", "void", { event: "b" }, [103])], 2);
	assert.deepEqual(ledger.over(row(), "tying").get(103), { progress: 0 }, "taken back after the bundle knew of it");
	assert.deepEqual(ledger.coverage([], 4 * 24 * 3600_000).dropped, ["b"]);
});

test("a record for the whole row holds for all its vines", () => {
	const ledger = new Ledger([]);
	ledger.add([event("w", "pruned", {})], 0);
	assert.equal(ledger.over(row(), "pruning").size, 12);
});

// The lines as geo/pruning writes them (Instruction.String).
test("instructions are said in each language; another line is shown as it came", () => {
	const en = textsFor("en");
	for (const line of ["2 canes of 7 and 6, 2 spurs of 2", "1 cane of 10, 1 spur of 2", "2 canes of 6, 2 spurs of 2", "4 spurs of 2", "1 straight cane to the wire, keep the top 4 buds"]) assert.equal(sayInstruction(en, line), line);
	assert.equal(sayInstruction(en, "look first: cut back to 2 buds"), "Look first: Cut back to 2 buds");
	assert.equal(sayInstruction(textsFor("es"), "2 canes of 7 and 6, 1 spur of 2"), "2 varas de 7 y 6, 1 pulgar de 2");
	assert.equal(sayInstruction(textsFor("fr"), "1 cane of 10"), "1 baguette de 10");
	assert.equal(sayInstruction(textsFor("pt"), "leave the shed alone"), "leave the shed alone");
	assert.deepEqual(totalsOf("2 canes of 7 and 6, 2 spurs of 2"), { nodes: 17, canes: 2, spurs: 2 });
	assert.deepEqual(totalsOf("1 cane of 12, 3 canes of 11"), { nodes: 45, canes: 4, spurs: 0 });
	assert.equal(totalsOf("cut back to 2 buds"), null);
	assert.equal(sayMark(textsFor("es"), "red with white"), "roja con blanca");
});

test("position warns of a wrong block only beyond twice the error and 50 m", () => {
	// One minute of latitude is a nautical mile, 1,852 m by definition; on a sphere of the mean radius 1,853 m.
	assert.ok(Math.abs(metresFrom(0, 1 / 60, [0, 0, 0, 0]) - 1853) < 1);
	const here = row();
	const fix = (/** @type {number} */ metres, /** @type {number} */ accuracy) => ({ longitude: 0, latitude: 0.001 + metres / 111_195, accuracy });
	assert.equal(wrongBlock(fix(0, 5), here, []), null);
	assert.equal(wrongBlock(fix(59, 5), here, []), null);
	assert.equal(Math.round(wrongBlock(fix(70, 5), here, [])?.distance ?? 0), 70);
	assert.equal(wrongBlock(fix(140, 50), here, []), null);
	const other = row({ block: 2, code: "K1", bounds: [-0.001, 0.0015, 0.001, 0.003] });
	assert.equal(wrongBlock(fix(70, 5), here, [here, other])?.code, "K1");
});

test("a tag opens its row and tells its end; other codes open nothing", () => {
	assert.equal(screenOfTag("https://vines.example/field#row=12&end=far"), "#row=12&end=far");
	assert.equal(screenOfTag("https://vines.example/field#row=12"), "#row=12");
	assert.equal(screenOfTag("https://vines.example/elsewhere"), null);
});

const folder = new URL("../../field/", import.meta.url);
const sources = readdirSync(folder).filter((f) => f.endsWith(".js")).map((f) => ({ name: f, code: readFileSync(new URL(f, folder), "utf8") }));
const words = (/** @type {any} */ text) => [...new Set(Object.values(typeof text === "string" ? { text } : text).flatMap((t) => [...String(t).matchAll(/\{(\w+)\}/g)].map((m) => m[1])))].sort();

test("all languages have the same texts with the same words to fill in", () => {
	const en = LANGUAGES.en.table;
	for (const [code, { table }] of Object.entries(LANGUAGES)) {
		assert.deepEqual(Object.keys(table), Object.keys(en), code);
		for (const key of Object.keys(en)) {
			assert.equal(typeof table[key], typeof en[key], `${code} ${key}`);
			const said = words(table[key]).filter((w) => w !== "n");
			assert.deepEqual(said, words(en[key]).filter((w) => w !== "n"), `${code} ${key}`);
		}
	}
});

test("plural texts have every form of their language", () => {
	for (const [code, { table }] of Object.entries(LANGUAGES)) {
		const forms = new Intl.PluralRules(code).resolvedOptions().pluralCategories.sort();
		for (const [key, text] of Object.entries(table)) if (typeof text === "object") assert.deepEqual(Object.keys(text).sort(), forms, `${code} ${key}`);
		for (const form of new Intl.PluralRules(code, { type: "ordinal" }).resolvedOptions().pluralCategories) assert.ok(`ordinal.${form}` in table || form === "many", `${code} ordinal ${form}`);
	}
	assert.equal([1, 2, 3, 4, 11, 21, 22].map((n) => textsFor("en").ordinal(n)).join(" "), "1st 2nd 3rd 4th 11th 21st 22nd");
	assert.equal(textsFor("fr").ordinal(1), "1er");
});

test("every text asked for is in the table, and none lies there unused", () => {
	const all = sources.map((s) => s.code).join("\n");
	const asked = [...all.matchAll(/\bt\("([a-z_]+\.[a-z_]+)"/g)].map((m) => m[1]);
	assert.ok(asked.length > 60);
	for (const key of asked) assert.ok(key in LANGUAGES.en.table, key);
	const built = /^(mark|cause|reason|condition|operation|tape|ordinal|caution|say|left|tags|row\.said|unit|quantity|cannot|weigh\.is|state|source)[._]/;
	for (const key of Object.keys(LANGUAGES.en.table)) if (!built.test(key)) assert.ok(all.includes(`"${key}"`), key);
});

test("no visible text stands in code", () => {
	for (const { name, code } of sources) {
		const bare = code.replaceAll(/\/\*[\s\S]*?\*\/|\/\/[^\n]*/g, "").replaceAll(/new Error\([^)]*\)/g, "");
		for (const m of bare.matchAll(/(?:h\("[a-z0-9]+", (?:\{[^{}]*\}), |title\(|para\(|tap\(|say\()"([^"]*[A-Za-z]{2}[^"]*)"/g)) assert.fail(`${name}: ${m[0]}`);
	}
});
