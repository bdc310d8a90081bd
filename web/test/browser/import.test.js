// The page that takes files in, against the real program: files chosen, what they
// leave open answered, the look compared with what was then done, refusals, columns
// that mean something else, the keyboard, a small screen, light and dark.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import path from "node:path";
import { after, before, test } from "node:test";
import { launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
const clean = { foreign: [], policy: [], errors: [] };
const data = path.resolve(import.meta.dirname, "../../../testdata");
const base = (/** @type {string} */ name) => path.join(data, "base", name);
const odd = (/** @type {string} */ name) => path.join(data, "import", name);

/** @typedef {import("playwright-core").Page} Page */
/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;

before(async () => {
	server = await serveDemo(["--vines", "500"]);
	browser = await launch();
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

/** @param {Parameters<typeof openPage>[2]} [options] */
async function open(options = {}) {
	const opened = await openPage(browser, `${server.address}/import`, { width: 1000, height: 900, ...options });
	await state(opened.page, "ready");
	return opened;
}

const state = (/** @type {Page} */ page, /** @type {string} */ word) => until(page, `the page to be ${word}`, `document.documentElement.dataset.import === ${JSON.stringify(word)}`);
const holds = (/** @type {Page} */ page, /** @type {string} */ where, /** @type {string} */ words) =>
	until(page, words, `document.querySelector(${JSON.stringify(where)})?.textContent.includes(${JSON.stringify(words)})`);

/** Chooses files and waits until they were looked at. @param {Page} page @param {string | string[] | {name: string, mimeType: string, buffer: Buffer}} files */
async function choose(page, files) {
	await page.setInputFiles("#files", /** @type {any} */ (files));
	await until(page, "the look", () => document.querySelector("#outcome h2")?.textContent && document.documentElement.dataset.import === "looked");
}

/** The counts as numbers, by what is counted. @param {Page} page */
const counts = (page) =>
	page.evaluate(() => Object.fromEntries([...document.querySelectorAll("#counts tbody tr")].map((r) => [r.querySelector("th")?.textContent, [...r.querySelectorAll("td")].map((d) => Number(d.textContent))])));

/** @param {Page} page */
async function judge(page, what = "") {
	await page.evaluate(axe);
	const found = await page.evaluate(async () => {
		const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
		return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
	});
	assert.deepEqual(found, [], what);
}

test("what a file leaves open is asked, answered there, and what was seen is what is done", async () => {
	const { page, context, noted } = await open();
	await judge(page, "before a file is chosen");
	await choose(page, [base("blocks.geojson"), base("rows.geojson"), base("vines.csv")]);
	await holds(page, "#import", "Written as GeoJSON; 8 features or lines.");
	await holds(page, "#import", "values parted by comma");
	await holds(page, ".import-word", "Ready to be taken in");
	assert.equal(await page.locator(".import-file").count(), 3);
	assert.match((await page.getAttribute(".import-file:nth-of-type(2) svg", "aria-label")) ?? "", /8 lines/);
	const before = await counts(page);
	assert.deepEqual(before, { blocks: [1, 1, 0, 0, 0], rows: [8, 8, 0, 0, 0], vines: [168, 168, 0, 0, 0] });
	await judge(page, "looked at");
	await page.click("#take");
	await state(page, "taken");
	assert.deepEqual(await counts(page), before, "done as it was shown");
	assert.equal(await page.evaluate(() => document.activeElement?.id), "outcome");
	await holds(page, ".import-word", "Taken in.");
	assert.equal(await page.isVisible("#take"), false);

	await choose(page, [base("rows.geojson")]);
	await holds(page, ".import-word", "Nothing would change");
	assert.equal(await page.isVisible("#take"), false);
	assert.deepEqual(noted, clean);
	await context.close();
});

test("a coordinate system is asked, never guessed; a layer is asked where there are several", async () => {
	const { page, context, noted } = await open();
	await choose(page, odd("o04_metres_no_crs.geojson"));
	await holds(page, ".import-question", "686107.02 cannot be a longitude");
	await holds(page, ".import-word", "Nothing can be taken in like this.");
	assert.equal(await page.isVisible("#take"), false);
	await page.fill("#say-crs", "EPSG:32632");
	await page.keyboard.press("Tab");
	await holds(page, ".import-notices", "brought from EPSG:32632");

	await choose(page, odd("o42_waypoints_route_two_segments.gpx"));
	await holds(page, ".import-question", "more than one kind of things");
	await page.click("#layer-2"); // the page asks anew at once, and draws its questions again
	await until(page, "the columns of the track", () => document.querySelector("#column-0-0"));
	await page.selectOption("#column-0-0", "row");
	await holds(page, ".import-notices", "the word for row before its label was left out");
	assert.deepEqual(await counts(page), { rows: [1, 0, 1, 0, 0], vines: [0, 0, 9, 0, 0] }, "the track is row 4, cut by the road");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("surveyed points: the day and what they are is asked, doubtful ones stand in a table; a shift is never applied unasked", async () => {
	const { page, context, noted } = await open();
	await choose(page, odd("o43_rtk_float_survey.csv"));
	await holds(page, ".import-question", "places of points that name no vine");
	await page.selectOption("#say-as", "survey");
	await holds(page, ".import-question", "points without their day");
	assert.equal(await page.isVisible("#take"), false);
	await page.fill("#say-date", "2026-11-20");
	await page.keyboard.press("Tab");
	await holds(page, ".import-word", "Ready to be taken in");
	await holds(page, "#doubtful", "between two places");
	const point = (/** @type {string} */ name) => page.evaluate((n) => [...document.querySelectorAll("#points tr")].find((r) => r.querySelector("th")?.textContent === n)?.querySelector("td")?.textContent, name);
	assert.deepEqual([await point("read"), await point("taken for a place, surely"), await point("doubtful: to be looked at")], ["8", "3", "3"]);
	assert.ok((await page.locator(".import-ring").count()) >= 4, "those to look at are ringed");
	assert.ok((await page.locator(".import-near-line").count()) >= 8, "over the rows that are stored");
	await judge(page, "a survey");

	// The same trunks 1.8 m to the east, as a wrong datum would put them.
	const moved = await page.evaluate(async () => {
		const { features } = await (await fetch("/ogc/collections/vines/items?block=B1&limit=400")).json();
		const lines = features.map((/** @type {any} */ f) => `${f.geometry.coordinates[1]},${f.geometry.coordinates[0] + 0.0000229},fixed`);
		return `lat,lon,fix\n${lines.join("\n")}\n`;
	});
	await choose(page, { name: "moved.csv", mimeType: "text/csv", buffer: Buffer.from(moved) });
	await page.selectOption("#say-as", "survey");
	await holds(page, ".import-question", "points without their day");
	await page.fill("#say-date", "2026-11-21");
	await page.keyboard.press("Tab");
	await until(page, "the shift to be asked", () => document.querySelector("#say-shift"));
	await holds(page, ".import-shift", "Nothing is moved unless you say so.");
	assert.equal(await page.isVisible("#take"), false);
	await page.selectOption("#say-shift", "take-off");
	await holds(page, ".import-shift", "That is taken off, as you said.");
	await holds(page, ".import-word", "Ready to be taken in");
	await page.click("#take");
	await state(page, "taken");
	await holds(page, "#past", "moved.csv");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("an image: what it leaves open is asked one by one, and its vines are drawn", async () => {
	const { page, context, noted } = await open();
	await choose(page, path.join(data, "raster", "o50b_nodata_undeclared.tif"));
	await holds(page, ".import-question", "not of which day");
	await page.fill("#say-date", "2025-08-01");
	await page.keyboard.press("Tab");
	await holds(page, ".import-question", "not which index it holds");
	await page.fill("#say-canopy_index", "NDVI");
	await page.keyboard.press("Tab");
	await holds(page, ".import-question", "values far from all others");
	await page.selectOption("#choose-no_value", { label: "-9999: no value" });
	await holds(page, ".import-records", "canopy_index: recorded for 162 vines");
	await holds(page, "#import", "Written as GeoTIFF");
	assert.equal(await page.locator(".import-point").count(), 162);
	await judge(page, "an image");
	await page.click("#take");
	await state(page, "taken");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("an import is taken back as a whole, after it was said what that does; what rests on it is named", async () => {
	const { page, context, noted } = await open();
	await holds(page, "#past", "o50b_nodata_undeclared.tif");
	const past = (/** @type {string} */ file) => page.locator("#past li", { hasText: file }).first();
	await past("rows.geojson").getByRole("button").click();
	await holds(page, "#past", "It cannot be taken back: this was built on it since.");
	await judge(page, "refused");
	await past("rows.geojson").getByRole("button", { name: "Close" }).click();
	await past("o50b_nodata_undeclared.tif").getByRole("button").click();
	await holds(page, "#past", "162 records of vines are taken back; the history keeps them");
	await judge(page, "asked");
	await page.getByRole("button", { name: "Take all of it back" }).click();
	await holds(page, "#past", "Taken back on");
	await state(page, "ready");
	await page.reload();
	await holds(page, "#past", "Taken back on");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("a column of another name is said, its unit with it, and kept for the next file", async () => {
	const { page, context, noted } = await open();
	const table = (/** @type {string} */ kg) => ({ name: "hiver.csv", mimeType: "text/csv", buffer: Buffer.from(`parcelle;rang;cep;masse\nB1;1;1;${kg}\nB1;1;2;0,61\n`) });
	await choose(page, table("0,42"));
	await page.selectOption("#column-0-3", "pruning_weight_kg");
	await holds(page, ".import-question", "not of which season");
	await page.fill("#say-season", "2025");
	await page.keyboard.press("Tab");
	await holds(page, ".import-records", "pruning_weight: recorded for 2 vines");
	await holds(page, "#import", "decimal mark: comma");
	await page.click("#take");
	await state(page, "taken");
	await choose(page, table("0,55"));
	await holds(page, "#import", "as was said last time");
	assert.equal(await page.inputValue("#column-0-3"), "pruning_weight_kg");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("a broken file is refused with its place; by keys alone; a file dropped", async () => {
	const { page, context, noted } = await open();
	await choose(page, odd("o17_trailing_comma.geojson"));
	await holds(page, ".import-problems", "line 46");
	await page.focus("#files");
	const reached = new Set();
	for (let i = 0; i < 12; i++) {
		await page.keyboard.press("Tab");
		reached.add(await page.evaluate(() => document.activeElement?.tagName));
	}
	assert.ok(reached.has("SUMMARY"), "more can be said by keys");
	await page.evaluate(() => {
		const carried = new DataTransfer();
		carried.items.add(new File(['{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"block":"DROPPED"},"geometry":{"type":"Polygon","coordinates":[[[11.5,45.3],[11.501,45.3],[11.501,45.301],[11.5,45.301],[11.5,45.3]]]}}]}'], "dropped.geojson"));
		document.querySelector(".import-drop")?.dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true, cancelable: true }));
	});
	await holds(page, "#import", "dropped.geojson");
	await holds(page, ".import-word", "Ready to be taken in");
	assert.deepEqual(await counts(page), { blocks: [1, 1, 0, 0, 0] });
	assert.deepEqual(noted, clean);
	await context.close();
});

test("dark, and on a screen of 320 pixels", async () => {
	const dark = await open({ ground: "dark" });
	await choose(dark.page, [base("rows.geojson"), base("vines.csv")]);
	await judge(dark.page, "dark");
	await dark.context.close();
	const small = await open({ width: 320, height: 640 });
	await choose(small.page, [base("rows.geojson"), base("vines.csv")]);
	await judge(small.page, "small");
	const wide = await small.page.evaluate(() => document.documentElement.scrollWidth);
	assert.ok(wide <= 320, `the page is ${wide} pixels wide`);
	await choose(small.page, odd("o04_metres_no_crs.geojson"));
	await holds(small.page, ".import-question", "cannot be a longitude");
	await judge(small.page, "small, asked");
	assert.ok((await small.page.evaluate(() => document.documentElement.scrollWidth)) <= 320);
	await small.context.close();
});
