import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { GLYPH, GROUNDS, rgb } from "../../style/ground.js";
import { SYMBOLS, shapeOf } from "../../style/symbols.js";
import { FRAGMENT, VERTEX } from "../../map/vineshader.js";

const css = readFileSync(new URL("../../map/base.css", import.meta.url), "utf8");
const variable = (/** @type {string} */ name) => new RegExp(`--${name}: light-dark\\((#[0-9a-f]{6}), (#[0-9a-f]{6})\\)`).exec(css)?.slice(1) ?? [];

/** Relative luminance and contrast ratio as WCAG 2.2 defines them. */
function luminance(/** @type {string} */ hex) {
	const [r, g, b] = rgb(hex).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
	return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
function contrast(/** @type {string} */ a, /** @type {string} */ b) {
	const [hi, lo] = [luminance(a), luminance(b)].sort((x, y) => y - x);
	return (hi + 0.05) / (lo + 0.05);
}

// WCAG 2.2, definition of contrast ratio: black on white is 21:1.
test("the contrast formula gives 21 for black on white", () => assert.equal(contrast("#000000", "#ffffff").toFixed(2), "21.00"));

test("the map and the rest of the page have one set of colours", () => {
	for (const [name, key] of [["ground", "ground"], ["raised", "raised"], ["ink", "ink"], ["muted", "muted"], ["line", "line"], ["faint", "faint"]])
		assert.deepEqual(variable(name), [GROUNDS.light[key], GROUNDS.dark[key]], name);
});

// WCAG 2.2, 1.4.3 (text 4.5:1) and 1.4.11 (controls and marks 3:1).
test("text and edges stand out from every ground of the page", () => {
	const grounds = ["ground", "raised", "sheet"].map(variable);
	for (const k of [0, 1])
		for (const ground of grounds.map((g) => g[k])) {
			for (const text of ["ink", "muted", "link", "danger"]) assert.ok(contrast(variable(text)[k], ground) >= 4.5, `${text} on ${ground}: ${contrast(variable(text)[k], ground)}`);
			assert.ok(contrast(variable("line")[k], ground) >= 3, `line on ${ground}`);
			assert.ok(contrast(variable("ring")[k], ground) >= 3, `focus ring on ${ground}`);
		}
});

// The bound √21 for black in white on any colour follows from the definition.
test("a glyph has an edge of at least 4.4:1 against any colour under it", () => {
	for (let v = 0; v < 256; v += 3) {
		const under = `#${v.toString(16).padStart(2, "0").repeat(3)}`;
		assert.ok(Math.max(contrast(GLYPH.ink, under), contrast(GLYPH.halo, under)) >= 4.4, under);
	}
});

test("casings carry 3:1 on both grounds", () => {
	for (const g of Object.values(GROUNDS)) for (const under of [g.ground, g.raised]) assert.ok(contrast(g.ink, under) >= 3);
});

test("symbols of the server's legends are known, each with a number of its own", () => {
	const legend = readFileSync(new URL("../../../geo/tile/legend.go", import.meta.url), "utf8");
	const names = [...legend.matchAll(/Symbol = "([a-z]+)"/g)].map((m) => m[1]);
	assert.ok(names.length >= 10);
	for (const name of names) assert.equal(shapeOf(name), name, name);
	assert.equal(shapeOf("nothing-known"), "disc");
	const codes = Object.values(SYMBOLS).map((s) => s.code);
	assert.equal(new Set(codes).size, codes.length);
	for (const s of Object.values(SYMBOLS)) assert.equal(s.glyph, s.code >= 4 && s.code <= 9, "the shader draws 4 to 9 as glyphs");
});

// A uniform that both shaders read with unlike precision does not link, and the layer is silently empty.
test("both shaders declare the same precision", () => {
	const precision = (/** @type {string} */ s) => [...s.matchAll(/^precision .*;$/gm)].map((m) => m[0]);
	assert.deepEqual(precision(VERTEX), precision(FRAGMENT));
});
