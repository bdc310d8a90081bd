// The page for everyone: by keyboard alone, on small screens, with large letters,
// for eyes that see colours otherwise, and by the rules that axe-core checks.

import assert from "node:assert/strict";
import { mkdirSync, readFileSync } from "node:fs";
import path from "node:path";
import { after, before, test } from "node:test";
import { latOf, lonOf } from "../../lib/ground.js";
import { estateAt, viewOf } from "./estate.js";
import { apart, lens, readPicture } from "./picture.js";
import { atRest, choosePane, launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;
/** @type {import("../../lib/stand.js").Stand} */
let stand;
/** @type {number[]} */
let at;
let middle = 0;

before(async () => {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	await demo.halfPrune(demo.halfDone);
	stand = await demo.stand(demo.halfDone.id, demo.estate.season);
	const row = stand.rows[stand.rows.length >> 1];
	middle = row.first + (row.count >> 1);
	at = [lonOf(stand.wx[middle]), latOf(stand.wy[middle]), 19.6];
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

const view = (/** @type {string} */ theme, more = "", place = at) => viewOf(server.address, { season: demo.estate.season, theme, at: place, more });
const shown = (/** @type {import("playwright-core").Page} */ page) => until(page, "the vine", () => document.documentElement.dataset.vine === "shown");

test("by keyboard alone: to the map, to a vine, along the row, a record, and back", async () => {
	const { page, context, noted } = await openPage(browser, view("condition"), { width: 1160, height: 640 });
	await atRest(page);
	const key = (/** @type {string} */ k) => page.keyboard.press(k);
	const focus = () => page.evaluate(() => document.activeElement?.id || document.activeElement?.tagName);
	await key("Tab");
	assert.equal(await page.evaluate(() => document.activeElement?.className), "skip");
	await key("Enter");
	assert.equal(await focus(), "map-canvas");
	const from = await page.evaluate(() => location.hash);
	await key("ArrowRight");
	await until(page, "the map to move", `location.hash !== ${JSON.stringify(from)}`);
	await key("Enter");
	await shown(page);
	const vine = () => page.evaluate(() => Number(new URLSearchParams(location.hash.slice(1)).get("vine")));
	const first = await vine();
	await key("ArrowUp");
	await until(page, "another vine", `!location.hash.includes("vine=${first}&") && document.documentElement.dataset.vine === "shown"`);
	const second = await demo.json(`/api/vines/${await vine()}`);
	assert.ok([second.previous, second.next].includes(first), "the next one along the row");
	await key("ArrowRight");
	await until(page, "a vine of the next row", `!location.hash.includes("vine=${second.id}&") && document.documentElement.dataset.vine === "shown"`);
	assert.notEqual((await demo.json(`/api/vines/${await vine()}`)).row.id, second.row.id);
	await key("Enter");
	assert.equal(await focus(), "H2");
	for (let n = 0; n < 12 && (await page.evaluate(() => document.activeElement?.getAttribute("data-key"))) !== "add"; n++) await key("Tab");
	await key("Enter");
	assert.equal(await focus(), "vine-kind");
	await page.keyboard.type("Note");
	for (let n = 0; n < 3 && (await focus()) !== "vine-text"; n++) await key("Tab");
	await page.keyboard.type("wire loose");
	for (let n = 0; n < 5 && (await page.evaluate(() => document.activeElement?.getAttribute("type"))) !== "submit"; n++) await key("Tab");
	await key("Enter");
	await until(page, "the record", `document.querySelector("#vine .history")?.textContent.includes("wire loose")`);
	assert.match((await page.textContent("#announce")) ?? "", /Recorded/);
	await key("Escape");
	await until(page, "the panel to close", () => document.documentElement.dataset.vine === "");
	assert.equal(await focus(), "map-canvas");
	assert.deepEqual(noted.errors, []);
	await context.close();
});

test("tables from blocks to vines share the choice with the map", async () => {
	const { page, context } = await openPage(browser, view("condition", "&show=table"), { width: 1160, height: 640 });
	await page.waitForSelector("#table tbody tr");
	assert.equal(await page.locator("#table tbody tr").count(), demo.blocks.length);
	await page.click(`#table [data-key="block-${stand.block}"]`);
	await page.waitForSelector('#table [data-key^="row-"]');
	assert.equal(await page.locator("#table tbody tr").count(), stand.rows.length);
	await page.click(`#table [data-key="open-${stand.rows[0].id}"]`);
	await page.waitForSelector('#table [data-key="vine-0"]');
	assert.equal(await page.locator("#table tbody tr").count(), stand.rows[0].count);
	await page.check('#table [data-key="vine-1"]');
	await page.check('#table [data-key="vine-2"]');
	await until(page, "two chosen", () => document.documentElement.dataset.chosen === "2");
	await choosePane(page, "map");
	await atRest(page);
	assert.equal(await page.evaluate(() => document.documentElement.dataset.chosen), "2");
	await page.fill("#find", `${stand.code}/${stand.rows[1].label}/2`);
	await page.keyboard.press("Enter");
	await shown(page);
	assert.equal(await page.evaluate(() => new URLSearchParams(location.hash.slice(1)).get("vine")), String(stand.id[stand.rows[1].first + 1]));
	await context.close();
});

/** What is wider than the window, or smaller than a finger. */
const misfits = (/** @type {import("playwright-core").Page} */ page) =>
	page.evaluate(() => {
		const small = [...document.querySelectorAll("button, select, input:not([type=checkbox], [type=radio]), .choice label, .row-pick, .tick-line")]
			.filter((e) => e.checkVisibility({ visibilityProperty: true }) && e.getBoundingClientRect().width > 0)
			.filter((e) => e.getBoundingClientRect().height < 43.5 || e.getBoundingClientRect().width < 43.5)
			.map((e) => `${e.tagName} ${e.className} ${e.textContent?.slice(0, 20)} ${Math.round(e.getBoundingClientRect().width)}×${Math.round(e.getBoundingClientRect().height)}`);
		return { wide: document.documentElement.scrollWidth - innerWidth, small };
	});

for (const [name, width, height] of /** @type {[string, number, number][]} */ ([["320 px", 320, 640], ["360 px", 360, 740], ["a desktop at 200 % zoom", 640, 400], ["4K", 3840, 2160]]))
	test(`nothing is cut off and every target is large enough: ${name}`, async () => {
		const { page, context } = await openPage(browser, view("vigour"), { width, height });
		await atRest(page);
		const check = async (/** @type {string} */ what) => {
			const { wide, small } = await misfits(page);
			assert.ok(wide <= 0, `${what}: ${wide} px too wide`);
			assert.deepEqual(small, [], what);
		};
		await check("map");
		const map = await page.locator("#map-canvas").boundingBox();
		assert.ok(map && map.height >= 140 && map.width >= 300, `the map has ${map?.width} × ${map?.height}`);
		if (await page.isVisible(".sheet-toggle")) await page.click(".sheet-toggle");
		await check("blocks");
		await page.click(`[data-block="${stand.code}"]`);
		await page.waitForSelector(".rows li");
		await check("one block");
		await page.goto(view("condition", `&vine=${stand.id[middle]}`));
		await shown(page);
		await page.click('[data-key="add"]');
		await check("vine with form");
		await context.close();
	});

for (const ground of /** @type {const} */ (["light", "dark"]))
	test(`axe-core finds nothing, ${ground}`, async () => {
		const { page, context } = await openPage(browser, view("progress"), { width: 1160, height: 640, ground });
		const check = async (/** @type {string} */ what) => {
			await page.evaluate(axe);
			const found = await page.evaluate(async () => {
				const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
				return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
			});
			assert.deepEqual(found, [], what);
		};
		await atRest(page);
		await check("map");
		await page.goto(view("condition", `&vine=${stand.id[middle]}&block=${stand.block}`));
		await shown(page);
		await page.click('[data-key="add"]');
		await check("block, vine and form");
		await choosePane(page, "plan");
		await page.waitForSelector("svg.plan use");
		await check("plan");
		await choosePane(page, "table");
		await page.click('#table [data-key^="row-"]');
		await page.click('#choose [data-key="other"]');
		await check("table and dialog");
		await context.close();
	});

test("states stay apart for eyes that see colours otherwise", async () => {
	const classes = demo.legends.progress.classes;
	const byKey = (/** @type {string} */ key) => stand.progress.findIndex((p, i) => p === classes.find((/** @type {any} */ c) => c.key === key).code && stand.condition[i] === 1);
	for (const ground of /** @type {const} */ (["light", "dark"])) {
		const { page, context } = await openPage(browser, view("progress"), { width: 1160, height: 640, ground });
		await atRest(page);
		const devtools = await context.newCDPSession(page);
		for (const type of /** @type {const} */ (["none", "protanopia", "deuteranopia", "tritanopia", "achromatopsia", "reducedContrast"])) {
			await devtools.send("Emulation.setEmulatedVisionDeficiency", { type });
			const png = await page.screenshot();
			if (process.env.SHOTS) {
				mkdirSync(process.env.SHOTS, { recursive: true });
				await page.screenshot({ path: path.join(process.env.SHOTS, `eyes-${type}-${ground}.png`) });
			}
			const picture = readPicture(png);
			const { onScreen } = await lens(page);
			// Done is a full disc, not started a ring: their insides must differ however one sees.
			const inside = (/** @type {number} */ i) => {
				const p = onScreen(stand.wx[i], stand.wy[i]);
				return picture.at(p.x - 2, p.y - 3);
			};
			const nearest = (/** @type {string} */ key) => {
				const code = classes.find((/** @type {any} */ c) => c.key === key).code;
				let best = byKey(key);
				const far = (/** @type {number} */ i) => Math.hypot(stand.wx[i] - stand.wx[middle], stand.wy[i] - stand.wy[middle]);
				for (let i = 0; i < stand.count; i++) if (stand.progress[i] === code && stand.condition[i] === 1 && far(i) < far(best)) best = i;
				return best;
			};
			const [done, fresh] = [inside(nearest("done")), inside(nearest("not_started"))];
			// On the dark ground greys come close to each other (computed: 2.5 at the least); there the tick and the ring tell.
			if (ground === "light") assert.ok(apart(done, fresh) >= (type === "reducedContrast" ? 20 : 40), `${type}, ${ground}: ${done} and ${fresh}`);
		}
		await context.close();
	}
});
