// What is drawn: the right colour at known vines, for each theme and season; what
// must not happen; what happens when the graphics card gives up.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { lonOf, latOf, unitsPerPixel, vineStep } from "../../lib/ground.js";
import { SYMBOLS } from "../../style/symbols.js";
import { GLYPH, GROUNDS } from "../../style/ground.js";
import { estateAt, viewOf } from "./estate.js";
import { apart, lens, readPicture } from "./picture.js";
import { atRest, choosePane, launch, openPage, serveDemo, until } from "./start.js";

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;

before(async () => {
	server = await serveDemo(["--vines", "6000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	await demo.halfPrune(demo.halfDone);
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

const ZOOM = 19.6;

/** Where to look so that vines of a block fill the window. */
async function placeIn(/** @type {any} */ block) {
	const stand = await demo.stand(block.id, demo.estate.season);
	const row = stand.rows[stand.rows.length >> 1];
	const i = row.first + (row.count >> 1);
	return [lonOf(stand.wx[i]).toFixed(6), latOf(stand.wy[i]).toFixed(6), ZOOM].map(Number);
}

/**
 * Compares the picture with what the stand and the legend say, vine by vine.
 * @param {import("playwright-core").Page} page
 * @param {number} block
 * @param {number} season
 * @param {"condition" | "vigour" | "progress"} theme
 * @param {"light" | "dark"} ground
 */
async function compare(page, block, season, theme, ground = "light") {
	const stand = await demo.stand(block, season);
	const picture = readPicture(await page.screenshot());
	const { onScreen, box } = await lens(page);
	const covered = await page.evaluate(() => [...document.querySelectorAll("#legend, .map-buttons, .scale, .where, #choose > *, .toast, .ring, .map-state > *")].map((e) => e.getBoundingClientRect().toJSON()));
	const r = Math.min(11, (0.4 * vineStep(stand)) / unitsPerPixel(ZOOM));
	const seen = { right: 0, wrong: /** @type {string[]} */ ([]), crosses: 0, classes: new Set() };
	for (let i = 0; i < stand.count; i++) {
		const p = onScreen(stand.wx[i], stand.wy[i]);
		if (p.x < box.left + 14 || p.y < box.top + 14 || p.x > box.left + box.width - 14 || p.y > box.top + box.height - 14) continue;
		if (covered.some((c) => p.x > c.left - 14 && p.x < c.right + 14 && p.y > c.top - 14 && p.y < c.bottom + 14)) continue;
		const cls = demo.legends[theme].classes.find((/** @type {any} */ c) => c.code === stand[theme][i]);
		const missing = stand.condition[i] === 6;
		if (missing) {
			if (apart(picture.at(p.x, p.y), GLYPH.ink) < 40) seen.crosses++;
			else seen.wrong.push(`cross at vine ${i}: ${picture.at(p.x, p.y)}`);
			continue;
		}
		if (stand.condition[i] === 5 || SYMBOLS[cls.symbol].glyph) continue;
		// A point that no tick, plus or bar touches: in an open sign near the middle, in
		// a full dot further out, clear of the pip of a weighed vine.
		const open = cls.symbol === "ring" || cls.symbol === "half";
		const got = open ? picture.at(p.x - 0.3 * r, p.y - 0.5 * r) : picture.at(p.x - 0.38 * r, p.y - 0.6 * r);
		const want = open ? GROUNDS[ground].ground : cls[ground];
		if (got === want) seen.right++;
		else seen.wrong.push(`vine ${i} ${cls.key}: ${got}, not ${want}`);
		seen.classes.add(cls.key);
	}
	return seen;
}

/** By its button, or from the list where the window is too narrow for all of them. @param {import("playwright-core").Page} page @param {string} theme */
async function chooseTheme(page, theme) {
	if (await page.isVisible(`[for=theme-${theme}]`)) await page.click(`[for=theme-${theme}]`);
	else await page.selectOption("#theme-list", theme);
}

for (const ground of /** @type {const} */ (["light", "dark"]))
	test(`every vine in view has the colour of its class, ${ground}, by theme and season`, async () => {
		const block = demo.halfDone;
		const { season } = demo.estate;
		const at = await placeIn(block);
		const { page, context } = await openPage(browser, viewOf(server.address, { season, at }), { width: 1160, height: 640, ground });
		await atRest(page);
		for (const theme of /** @type {const} */ (["condition", "vigour", "progress"])) {
			await chooseTheme(page, theme);
			await atRest(page);
			const seen = await compare(page, block.id, season, theme, ground);
			assert.ok(seen.right > 60, `${theme}: only ${seen.right} right; ${seen.wrong.slice(0, 4)}`);
			assert.ok(seen.wrong.length <= 0.02 * seen.right, `${theme}: ${seen.wrong.length} wrong: ${seen.wrong.slice(0, 4)}`);
		}
		await page.click("#season-before");
		await atRest(page);
		await until(page, "the season in the address", `location.hash.includes("season=${season - 1}")`);
		for (const theme of /** @type {const} */ (["progress", "vigour"])) {
			await chooseTheme(page, theme);
			await atRest(page);
			const seen = await compare(page, block.id, season - 1, theme, ground);
			assert.ok(seen.right > 60 && seen.wrong.length <= 0.02 * seen.right, `${season - 1} ${theme}: ${seen.right} right, wrong ${seen.wrong.slice(0, 4)}`);
		}
		await context.close();
	});

test("the first map asks nobody else, breaks no policy and raises no error", async () => {
	const { page, context, noted } = await openPage(browser, `${server.address}/`, { width: 1160, height: 640 });
	await atRest(page);
	const policy = (await (await fetch(server.address)).headers.get("content-security-policy")) ?? "";
	assert.match(policy, /default-src 'none'/);
	assert.doesNotMatch(policy, /unsafe|blob:/);
	const { season } = demo.estate;
	await page.goto(viewOf(server.address, { season, at: await placeIn(demo.blocks[0]) }));
	await atRest(page);
	await choosePane(page, "plan");
	await page.waitForSelector("svg.plan");
	await choosePane(page, "table");
	await page.waitForSelector("#table table");
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	const picture = readPicture(await page.screenshot());
	const colours = new Set();
	for (let y = 0; y < picture.height; y += 5) for (let x = 0; x < picture.width; x += 5) colours.add(picture.at(x, y));
	assert.ok(colours.size > 5);
	await context.close();
});

test("far out, pieces of row carry the class colours", async () => {
	const { season, bounds } = demo.estate;
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "progress", at: [(bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2, 15.9] }), { width: 1160, height: 640 });
	await atRest(page);
	const picture = readPicture(await page.screenshot());
	const done = demo.legends.progress.classes.find((/** @type {any} */ c) => c.key === "done").light;
	const { box } = await lens(page);
	let found = 0;
	for (let y = box.top; y < box.top + box.height; y++) for (let x = box.left; x < box.left + box.width; x++) if (apart(picture.at(x, y), done) < 30) found++;
	assert.ok(found > 300, `${found} pixels of ${done}`);
	const text = await page.textContent("#legend");
	assert.match(text ?? "", /whole estate/);
	await context.close();
});

test("a class clicked in the legend is the only one left; counts are those of the stand", async () => {
	const block = demo.halfDone;
	const { season } = demo.estate;
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "progress", at: await placeIn(block) }), { width: 1160, height: 640 });
	await atRest(page);
	const done = demo.legends.progress.classes.find((/** @type {any} */ c) => c.key === "done");
	const shown = await page.$$eval("#legend [data-code]", (list) => Object.fromEntries(list.map((e) => [e.getAttribute("data-code"), Number(e.querySelector(".legend-count")?.firstChild?.textContent?.replaceAll(",", ""))])));
	const stand = await demo.stand(block.id, season);
	const whole = await lens(page);
	const counted = stand.progress.filter((p, i) => {
		const { x, y } = whole.onScreen(stand.wx[i], stand.wy[i]);
		const seen = x >= whole.box.left && x <= whole.box.left + whole.box.width && y >= whole.box.top && y <= whole.box.top + whole.box.height;
		return seen && p === done.code && stand.condition[i] !== 5 && stand.condition[i] !== 6;
	}).length;
	assert.ok(counted > 30 && Math.abs(shown[done.code] - counted) <= 6, `the legend counts ${shown[done.code]}, the stand has ${counted} in view`);
	await page.click(`#legend [data-code="${done.code}"]`);
	await until(page, "the choice in the address", `location.hash.includes("only=${done.code}")`);
	await atRest(page);
	await page.waitForSelector(`#legend [data-code="${done.code}"][aria-pressed=true]`);
	await atRest(page);
	const picture = readPicture(await page.screenshot());
	const { onScreen, box } = await lens(page);
	let kept = 0;
	for (let i = 0; i < stand.count; i++) {
		const p = onScreen(stand.wx[i], stand.wy[i]);
		if (p.x < box.left + 330 || p.y < box.top + 90 || p.x > box.left + box.width - 80 || p.y > box.top + box.height - 60) continue;
		const got = picture.at(p.x - 2, p.y - 4);
		if (stand.progress[i] === done.code && stand.condition[i] !== 5 && stand.condition[i] !== 6) kept += got === done.light ? 1 : 0;
		else assert.notEqual(got, done.light, `vine ${i} is not done`);
	}
	assert.ok(kept > 5, `${kept} left`);
	assert.match(await page.evaluate(() => location.hash), new RegExp(`only=${done.code}`));
	await context.close();
});

test("after a lost graphics context the vines are drawn again", async () => {
	const block = demo.halfDone;
	const { season } = demo.estate;
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "progress", at: await placeIn(block) }), { width: 1160, height: 640 });
	await atRest(page);
	await page.evaluate(() => {
		const gl = /** @type {HTMLCanvasElement} */ (document.getElementById("map-canvas")).getContext("webgl2");
		const lose = gl?.getExtension("WEBGL_lose_context");
		lose?.loseContext();
		setTimeout(() => lose?.restoreContext(), 300);
	});
	await until(page, "the layer to be added again", () => document.documentElement.dataset.layer === "2");
	await atRest(page);
	const seen = await compare(page, block.id, season, "progress");
	assert.ok(seen.right > 60 && seen.wrong.length <= 0.02 * seen.right, `${seen.right} right; ${seen.wrong.slice(0, 4)}`);
	await context.close();
});

test("a context that does not come back gives way to the plan", async () => {
	const { season } = demo.estate;
	const { page, context } = await openPage(browser, viewOf(server.address, { season, at: await placeIn(demo.halfDone) }), { width: 1160, height: 640 });
	await atRest(page);
	await page.evaluate(() => /** @type {HTMLCanvasElement} */ (document.getElementById("map-canvas")).getContext("webgl2")?.getExtension("WEBGL_lose_context")?.loseContext());
	await page.waitForSelector("svg.plan use");
	assert.match((await page.textContent("#map-state")) ?? "", /graphics card/);
	await context.close();
});

test("without WebGL 2 the plan has every vine, and vines can be opened from it", async () => {
	const { season } = demo.estate;
	const { page, context, noted } = await openPage(browser, viewOf(server.address, { season, theme: "progress" }), {
		width: 1160, height: 640,
		before: (p) => p.addInitScript(() => {
			const get = HTMLCanvasElement.prototype.getContext;
			HTMLCanvasElement.prototype.getContext = /** @type {any} */ (function (/** @type {any} */ kind, /** @type {any} */ ...more) {
				return kind === "webgl2" ? null : get.call(/** @type {any} */ (this), kind, ...more);
			});
		}),
	});
	await page.waitForSelector("svg.plan use");
	const first = demo.blocks[0];
	assert.equal(await page.locator("svg.plan use").count(), first.vines);
	assert.match((await page.textContent("#map-state")) ?? "", /WebGL 2/);
	assert.ok(await page.isDisabled("#pane-map"));
	const use = page.locator("svg.plan use").nth(Math.floor(first.vines / 2));
	await use.scrollIntoViewIfNeeded();
	await use.click();
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	const stand = await demo.stand(first.id, season);
	assert.equal(await page.evaluate(() => new URLSearchParams(location.hash.slice(1)).get("vine")), String(stand.id[Math.floor(first.vines / 2)]));
	assert.deepEqual(noted.errors, []);
	await context.close();
});

test("view, season and vine are in the address; the back button takes one step", async () => {
	const { season } = demo.estate;
	const { page, context } = await openPage(browser, viewOf(server.address, { season, at: await placeIn(demo.halfDone) }), { width: 1160, height: 640 });
	await atRest(page);
	assert.match((await page.textContent(".where")) ?? "", new RegExp(`^${demo.halfDone.code} · `));
	await chooseTheme(page, "vigour");
	const { box } = await lens(page);
	await page.mouse.click(box.left + box.width * 0.6, box.top + box.height * 0.4);
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	const deep = await page.evaluate(() => location.href);
	await page.goBack();
	await until(page, "no vine", () => document.documentElement.dataset.vine === "");
	assert.ok(await page.isChecked("#theme-vigour"));
	await page.goBack();
	await until(page, "the theme of before", () => /** @type {HTMLInputElement} */ (document.getElementById("theme-condition")).checked);
	const again = await openPage(browser, deep, { width: 1160, height: 640 });
	await until(again.page, "the vine by its address", () => document.documentElement.dataset.vine === "shown");
	assert.ok(await again.page.isChecked("#theme-vigour"));
	await again.context.close();
	await context.close();
});

test("while tiles are on their way the map says so", async () => {
	/** @type {(() => void)[]} */
	const held = [];
	const { page, context } = await openPage(browser, viewOf(server.address, { season: demo.estate.season }), {
		before: (p) => p.route("**/tiles/**", (route) => void held.push(() => void route.continue())),
	});
	await until(page, "the word", () => document.getElementById("map-state")?.textContent?.includes("Loading"));
	while (!(await page.evaluate(() => document.documentElement.dataset.mapState === "idle"))) {
		for (const go of held.splice(0)) go();
		await new Promise((resolve) => setTimeout(resolve, 100));
	}
	await until(page, "the word to go", () => document.getElementById("map-state")?.textContent === "");
	await context.close();
});

test("states in words: none here, and failed with try again", async () => {
	const { season } = demo.estate;
	const { page, context } = await openPage(browser, viewOf(server.address, { season, at: [10, 10, 17] }));
	await until(page, "none here", () => document.documentElement.dataset.nearby === "none");
	await until(page, "it to be said", () => /No vines here/.test(document.getElementById("map-state")?.textContent ?? ""));
	await context.close();
	let broken = true;
	const at = await placeIn(demo.halfDone);
	const other = await openPage(browser, viewOf(server.address, { season, at }), {
		before: (p) => p.route("**/stand/**", (route) => (broken ? route.fulfill({ status: 503, contentType: "application/problem+json", body: '{"detail":"the store is busy"}' }) : route.continue())),
	});
	await until(other.page, "failed", () => document.documentElement.dataset.nearby === "failed");
	await until(other.page, "the reason to be said", () => /store is busy/.test(document.getElementById("map-state")?.textContent ?? ""));
	broken = false;
	await other.page.click("#map-state button");
	await until(other.page, "ready", () => document.documentElement.dataset.nearby === "ready");
	await other.context.close();
});
