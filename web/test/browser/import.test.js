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

	// Trunks surveyed a row beside their places: the day and the shift are asked, and
	// nothing is moved before a person says so.
	const { features } = await (await fetch(`${server.address}/ogc/collections/vines/items?limit=1000&block=B1`)).json();
	const metre = 1 / 111_320; // of latitude, about
	const trunks = ["name,lat,lon,fix,block", ...features.map((/** @type {any} */ f, /** @type {number} */ k) => {
		const [lon, lat] = f.geometry.coordinates;
		return `t${k},${(lat - 1.8 * metre * Math.sin((20 * Math.PI) / 180)).toFixed(9)},${(lon + (1.8 * metre * Math.cos((20 * Math.PI) / 180)) / Math.cos((lat * Math.PI) / 180)).toFixed(9)},fixed,B1`;
	})].join("\n");
	await choose(page, { name: "winter.csv", mimeType: "text/csv", buffer: Buffer.from(trunks) });
	await page.click(".import-more summary");
	await page.selectOption("#say-as", "survey");
	await page.waitForSelector(".import-asked #say-date");
	await page.fill("#say-date", "2026-11-20");
	await page.keyboard.press("Tab");
	await page.waitForSelector(".import-asked #say-shift");
	await holds(page, "#shift", "Nothing was moved");
	assert.equal(await page.isVisible("#take"), false);
	await page.selectOption("#say-shift", "take-off");
	await holds(page, "#shift", "were taken off all points of B1");
	assert.deepEqual(await page.$$eval("#points tbody td", (list) => list.map((d) => Number(d.textContent))), [168, 168, 0, 0, 0, 0]);
	await judge(page, "points");
	await page.click("#take");
	await state(page, "taken");
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
