// The page on which blocks are drawn, filled with rows and numbered, against the
// real program: what is shown before is what is kept, by pressing and by keys alone.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
const clean = { foreign: [], policy: [], errors: [] };

/** @typedef {import("playwright-core").Page} Page */
/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {[number, number, number, number]} */
let bounds;

before(async () => {
	server = await serveDemo(["--vines", "500"]);
	browser = await launch();
	bounds = (await ask("/api/estate")).bounds;
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

const ask = async (/** @type {string} */ path) => (await fetch(server.address + path)).json();
const draft = (/** @type {Page} */ page, /** @type {string} */ word) => until(page, `the draft to be ${word}`, `document.documentElement.dataset.draft === ${JSON.stringify(word)}`);
const holds = (/** @type {Page} */ page, /** @type {string} */ where, /** @type {string} */ words) =>
	until(page, words, `document.querySelector(${JSON.stringify(where)})?.textContent.includes(${JSON.stringify(words)})`);

/** @param {string} [hash] @param {Parameters<typeof openPage>[2]} [options] */
async function open(hash = "", options = {}) {
	const opened = await openPage(browser, `${server.address}/ground${hash}`, { width: 840, height: 500, ...options });
	await until(opened.page, "the map", () => document.documentElement.dataset.map === "ready" && !document.getElementById("page")?.hidden);
	return opened;
}

/** @param {Page} page @param {string} what */
async function judge(page, what) {
	await page.evaluate(axe);
	const found = await page.evaluate(async () => {
		const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
		return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
	});
	assert.deepEqual(found, [], what);
}

/** Types one point. @param {Page} page @param {number} lat @param {number} lon @param {number} nth that it becomes @param {string} [pen] */
async function type(page, lat, lon, nth, pen = "area") {
	await page.fill(`#pen-${pen}-lat`, String(lat));
	await page.fill(`#pen-${pen}-lon`, String(lon));
	await page.keyboard.press("Enter");
	await until(page, `${nth} points`, `document.querySelectorAll(".part:not([hidden]) .pen-points li").length === ${nth}`);
}

test("a block typed in, rows made in it and numbered anew: what is shown is what is kept", async () => {
	const { page, context, noted } = await open();
	await judge(page, "nothing drawn");
	await page.click(".pen-typed summary");
	const [lon, lat] = [bounds[2] + 0.002, bounds[1]];
	const corners = [[lat, lon], [lat + 0.0005, lon + 0.0004], [lat, lon + 0.0004], [lat + 0.0005, lon]];
	for (const [i, [y, x]] of corners.entries()) await type(page, y, x, i + 1);
	await page.click("button:text-is('Close the outline')");
	await holds(page, "#block-said", "Side 1 and side 3 cross");
	await page.click("button:text-is('Begin again')");
	await holds(page, "#block-said", "still open");
	for (const [i, k] of [0, 2, 1, 3].entries()) await type(page, corners[k][0], corners[k][1], i + 1);
	await page.click("button:text-is('Close the outline')");
	await holds(page, "#block-said", "Nothing crosses");
	await page.fill("#g-code", "N1");
	await page.click("#keep-block");
	await holds(page, "#g-by-block-fault", "say who does this");
	await page.fill("#g-by-block", "Ada");
	await page.click("#keep-block");
	await draft(page, "kept");
	await holds(page, "#said", "Block N1 is kept");

	await holds(page, "#rows-said", "Vines");
	await page.selectOption("#g-rows-from", "W");
	await page.selectOption("#g-vines-from", "E");
	await holds(page, "#g-vines-from-fault", "cannot tell which end");
	await page.selectOption("#g-vines-from", "S");
	await page.fill("#g-row-spacing-m", "2,5");
	await until(page, "the rows at 2.5 m", () => document.documentElement.dataset.draft === "asked" && document.querySelector("#rows-said dl") && !document.querySelector("#g-vines-from-fault")?.textContent);
	await judge(page, "rows shown");
	const shown = await page.evaluate(() => [...document.querySelectorAll("#rows-said dd")].slice(0, 2).map((d) => Number(d.textContent?.replace(/\D/g, ""))));
	await page.click("#keep-rows");
	await draft(page, "kept");
	const block = await ask("/api/blocks/N1");
	assert.deepEqual([block.rows, block.vines], shown);
	assert.equal(block.row_spacing_m, 2.5);
	const first = (await ask("/api/vines?find=N1/1/1")).vines[0];

	await page.click("[data-key=part-numbers]");
	await page.selectOption("#g-new-rows-from", "E");
	await holds(page, "#numbers-said", "vines would get another address");
	await judge(page, "numbers shown");
	await page.click("#keep-numbers");
	await draft(page, "kept");
	const now = await ask(`/api/vines/${first.id}`);
	assert.equal(now.address, `N1/${block.rows}/1`);
	await page.click("[data-key=take-back]");
	await holds(page, "#said", "taken back");
	assert.equal((await ask(`/api/vines/${first.id}`)).address, "N1/1/1");
	assert.equal(noted.errors.filter((e) => e.includes("422")).length, 2, "nobody named, and no east end");
	assert.deepEqual({ ...noted, errors: noted.errors.filter((e) => !e.includes("422")) }, clean);
	await context.close();
});

test("by keys alone: corners set at the cross, the last one taken back", async () => {
	const { page, context, noted } = await open();
	await page.focus("#map-canvas");
	const corners = (/** @type {number} */ n) => until(page, `${n} corners`, `document.querySelectorAll(".pen-points li").length === ${n}`);
	const step = async (/** @type {string} */ key) => {
		const from = await page.evaluate(() => document.documentElement.dataset.at);
		await page.keyboard.press(key);
		await until(page, "the map to have moved", `document.documentElement.dataset.at !== ${JSON.stringify(from)}`);
	};
	await page.keyboard.press("Enter");
	await corners(1);
	await step("ArrowRight");
	await page.keyboard.press("Enter");
	await corners(2);
	await step("ArrowDown");
	await page.keyboard.press("Enter");
	await corners(3);
	await page.keyboard.press("Backspace");
	await corners(2);
	await page.keyboard.press("Enter");
	await corners(3);
	await page.focus("button:text-is('Close the outline')");
	await page.keyboard.press("Enter");
	await holds(page, "#block-said", "around");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("a finger draws, on a small dark screen; a row drawn makes rows beside it", async () => {
	const { page, context, noted } = await open("", { width: 320, height: 700, ground: "dark", touch: true });
	const box = await page.locator("#map-canvas").boundingBox();
	assert.ok(box);
	await page.touchscreen.tap(box.x + 60, box.y + 60);
	await until(page, "one corner", () => document.querySelectorAll(".pen-points li").length === 1);
	await page.touchscreen.tap(box.x + 200, box.y + 60);
	await until(page, "two corners", () => document.querySelectorAll(".pen-points li").length === 2);
	assert.equal(await page.evaluate(() => document.documentElement.scrollWidth), 320);
	await judge(page, "small and dark");
	await fetch(`${server.address}/api/blocks`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ by: "Ada", code: "N2", corners: [[bounds[2] + 0.004, bounds[1]], [bounds[2] + 0.005, bounds[1]], [bounds[2] + 0.005, bounds[1] + 0.001], [bounds[2] + 0.004, bounds[1] + 0.001]] }) });
	await page.goto("about:blank");
	await page.goto(`${server.address}/ground#block=N2&part=rows`);
	await until(page, "the map", () => document.documentElement.dataset.map === "ready" && document.querySelector("#rows-said dl"));
	await page.selectOption("#g-way", "line");
	await holds(page, "#rows-said", "Draw one of the rows");
	await page.evaluate(() => scrollTo(0, 0));
	await page.touchscreen.tap(box.x + 120, box.y + 100);
	await page.touchscreen.tap(box.x + 150, box.y + 220);
	await until(page, "rows along the line", () => document.querySelectorAll("#rows-said dd").length > 0);
	assert.deepEqual(noted, clean);
	await context.close();
});

test("a block split along a line across its rows, taken back, split again and joined: vines are found by every address they had", async () => {
	const { blocks } = await ask("/api/blocks");
	const { id, code, vines, rows, bounds: [west, south, east, north] } = blocks[0];
	const { page, context, noted } = await open(`#block=${code}&part=split`);
	const said = "#split-said dl";
	await page.click(".part:not([hidden]) .pen-typed summary");
	const middle = (south + north) / 2;
	const draw = async () => {
		await type(page, middle, west - 0.0005, 1, "split");
		await type(page, middle, east + 0.0005, 2, "split");
	};
	await draw();
	await holds(page, "#split-said", "Give the new block a code");
	assert.deepEqual(await page.evaluate(() => [...document.querySelectorAll("#g-split-side option")].map((o) => o.textContent)), ["north", "south"]);
	await page.fill("#g-split-code", code);
	await holds(page, "#split-said", "already");
	await page.fill("#g-split-code", "Z1");
	await until(page, "what would come of it", `document.documentElement.dataset.draft === "asked" && document.querySelector(${JSON.stringify(said)})`);
	await judge(page, "a split shown");
	const goes = await page.evaluate(() => Number(document.querySelector("#split-said dd")?.textContent?.replace(/\D/g, "")));
	assert.ok(goes > 0 && goes < vines);
	const first = (await ask(`/api/vines?find=${code}/2/1`)).vines[0];
	await page.fill("#g-by-split", "Ada");
	await page.click("#keep-split");
	await draft(page, "kept");
	await holds(page, "#said", "Block Z1 is split off");
	const split = await ask("/api/blocks/Z1");
	assert.equal(split.vines, goes);
	assert.equal((await ask(`/api/blocks/${code}`)).vines, vines - goes);
	const moved = (await ask(`/api/vines/${first.id}`)).address.startsWith("Z1") ? "Z1" : code;
	assert.equal((await ask(`/api/vines?find=${code}/2/1`)).vines[0].id, first.id);

	await page.click("[data-key=take-back]");
	await holds(page, "#said", "taken back");
	assert.equal((await ask(`/api/blocks/${code}`)).vines, vines);
	assert.equal((await fetch(`${server.address}/api/blocks/Z1`)).status, 404);

	await draw();
	await page.fill("#g-split-code", "Z2");
	await until(page, "what would come of it", `document.documentElement.dataset.draft === "asked" && document.querySelector(${JSON.stringify(said)})`);
	await page.click("#keep-split");
	await holds(page, "#said", "Block Z2 is split off");
	await page.click("[data-key=part-join]");
	await page.selectOption("#g-join-with", String((await ask("/api/blocks/Z2")).id));
	await holds(page, "#g-join-labels-fault", "both blocks have rows 1, 2");
	await page.selectOption("#g-join-labels", "on");
	await until(page, "what would come of it", () => document.documentElement.dataset.draft === "asked" && document.querySelector("#join-said dl"));
	await judge(page, "a join shown");
	await page.click("#keep-join");
	await holds(page, "#said", "more vines now");
	const joined = await ask(`/api/blocks/${code}`);
	assert.deepEqual([joined.id, joined.vines, joined.rows], [id, vines, 2 * rows]);
	for (const address of [`${code}/2/1`, `${moved === "Z1" ? "Z2" : code}/2/1`]) assert.ok((await ask(`/api/vines?find=${address}`)).vines.some((/** @type {any} */ v) => v.id === first.id), address);
	assert.deepEqual({ ...noted, errors: noted.errors.filter((e) => !/409|422/.test(e)) }, clean);
	await context.close();
});
