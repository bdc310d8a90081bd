// Recording: one vine, a run, undo, another page that sees it, a server that goes
// away and comes back, a record that is refused.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { latOf, lonOf } from "../../lib/ground.js";
import { estateAt, viewOf } from "./estate.js";
import { lens, readPicture } from "./picture.js";
import { atRest, launch, openPage, serveDemo, until } from "./start.js";

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;
/** @type {import("../../lib/stand.js").Stand} */
let stand;
/** @type {number} */
let season;

before(async () => {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	season = demo.estate.season;
	stand = await demo.stand(demo.blocks[0].id, season);
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

/** Living vines in the middle of a row, by index; a row of its own for each test. */
function runIn(/** @type {number} */ rowFromMiddle, n = 6) {
	const row = stand.rows[(stand.rows.length >> 1) + rowFromMiddle];
	for (let i = row.first + (row.count >> 1) - (n >> 1); i < row.first + row.count - n; i++) {
		const run = Array.from({ length: n }, (_, k) => i + k);
		if (run.every((v) => stand.condition[v] !== 5 && stand.condition[v] !== 6)) return run;
	}
	throw new Error("no run of living vines");
}

async function open(/** @type {number[]} */ run, theme = "progress", more = "") {
	const middle = run[run.length >> 1];
	const opened = await openPage(browser, viewOf(server.address, { season, theme, at: [lonOf(stand.wx[middle]), latOf(stand.wy[middle]), 20], more }), { width: 1160, height: 640 });
	await atRest(opened.page);
	return opened;
}

/** Kept on this computer, as the page says, and then sent. */
async function sent(/** @type {import("playwright-core").Page} */ page, /** @type {string} */ said) {
	await until(page, `“${said}” to be said`, `document.querySelector(".toast-text")?.textContent.includes(${JSON.stringify(said)})`);
	await allSent(page);
}
const allSent = (/** @type {import("playwright-core").Page} */ page) => until(page, "all records to be sent", () => document.documentElement.dataset.waiting === "0" && document.documentElement.dataset.line === "live", 90_000);
const progressAt = async (/** @type {number} */ i) => (await demo.stand(stand.block, season)).progress[i];

async function vineNow(/** @type {number} */ i) {
	return demo.json(`/api/vines/${stand.id[i]}`);
}

/** Colour of a dot at a point that no tick touches. */
async function dot(/** @type {import("playwright-core").Page} */ page, /** @type {number} */ i) {
	const picture = readPicture(await page.screenshot());
	const p = (await lens(page)).onScreen(stand.wx[i], stand.wy[i]);
	return picture.at(p.x - 3, p.y - 5);
}

async function clickVine(/** @type {import("playwright-core").Page} */ page, /** @type {number} */ i) {
	const p = (await lens(page)).onScreen(stand.wx[i], stand.wy[i]);
	await page.mouse.click(p.x + 3, p.y + 2);
}

/** @type {string} */
let done;

test("a click opens the vine's history; a record is added and taken back", async () => {
	const [i] = runIn(-4, 1);
	const { page, context, noted } = await open([i]);
	await clickVine(page, i);
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	const vine = await vineNow(i);
	assert.match((await page.textContent("#vine h2")) ?? "", new RegExp(`${vine.address}$`));
	assert.equal(await page.locator("#vine .history > li").count(), vine.events.length);
	assert.equal(await page.locator("#vine .seasons thead th").count(), vine.seasons.length + 1);
	const cells = await page.locator("#vine .seasons tbody tr").first().locator("td").allTextContents();
	assert.deepEqual(cells.map((c) => (c === "–" ? 0 : Number(c))), [...vine.seasons].sort((a, b) => b.season - a.season).map((s) => s.leaf), "leaf by season");

	await page.click('[data-key="add"]');
	await page.selectOption("#vine-kind", "measure");
	await page.fill("#vine-value", "1.2.3");
	await page.click("#vine .record-form button[type=submit]");
	assert.match((await page.textContent("#vine-value-fault")) ?? "", /number/);
	await page.fill("#vine-value", "0,85");
	await page.fill("#vine-by", "Test Person");
	await page.click("#vine .record-form button[type=submit]");
	await sent(page, "Recorded for 1 vine");
	await until(page, "the record in the history", `document.querySelector("#vine .history > li")?.textContent.includes("0.85")`);
	const after = await vineNow(i);
	assert.equal(after.events.length, vine.events.length + 1);
	const made = after.events[0];
	assert.deepEqual([made.kind, made.value, made.by, made.season], ["measure", { quantity: "pruning_weight", unit: "g", scale: "kg", value: 850 }, "Test Person", season]);
	assert.match(made.id, /^[0-9a-f]{8}-[0-9a-f]{4}-7/);

	await page.click(`#vine [data-key="undo-${made.id}"]`);
	await sent(page, "Taken back");
	await until(page, "the record struck through", `document.querySelector('[data-event="${made.id}"]')?.classList.contains("voided")`);
	const voided = await vineNow(i);
	assert.equal(voided.events.find((/** @type {any} */ e) => e.id === made.id).voided, true);
	assert.equal(voided.seasons.find((/** @type {any} */ s) => s.season === season).measures.pruning_weight?.value, vine.seasons.find((/** @type {any} */ s) => s.season === season).measures.pruning_weight?.value);

	// A layer of the vine before, laid last winter, then cut from her.
	const mother = stand.id[i - 1];
	await page.click('[data-key="add"]');
	await page.selectOption("#vine-condition", "replanted");
	await page.fill("#vine-planted", String(season - 1));
	await page.selectOption("#vine-mother", String(mother));
	assert.equal(await page.locator("#vine-rootstock").count(), 0, "a layer stands on its own roots");
	await page.click("#vine .record-form button[type=submit]");
	await until(page, "the layer", () => /still fed by its mother/.test(document.querySelector("#vine-plants")?.textContent ?? ""));
	assert.match((await page.textContent("#vine-plants")) ?? "", new RegExp(`layer of ${(await vineNow(i - 1)).address}`));
	await page.click('[data-key="sever"]');
	await until(page, "it to be cut off", `document.querySelector("#vine-plants")?.textContent.includes("cut from its mother in ${season}") && document.querySelector('[data-key="sever"]') === null`);
	const layer = (await vineNow(i)).plantings.at(-1);
	assert.deepEqual([layer.from, layer.mother, layer.severed], [season - 1, mother, season]);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("measures in any unit are kept as written; an unlikely one is asked about once; canes by thickness", async () => {
	const [i] = runIn(-4, 1);
	const { page, context } = await open([i], "vigour", `&vine=${stand.id[i]}`);
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	/** The newest record, once there is one more than before. */
	const one = async (/** @type {number} */ more = 1) => {
		await until(page, "it to be sent", () => document.documentElement.dataset.waiting === "0" && document.querySelector("#vine .record-form") === null);
		const { events } = await vineNow(i);
		assert.equal(events.length, count + more);
		count = events.length;
		return events[0];
	};
	let count = (await vineNow(i)).events.length;
	const save = "#vine .record-form button[type=submit]";
	const begin = async (/** @type {string} */ quantity) => {
		await page.click('[data-key="add"]');
		await page.selectOption("#vine-kind", "measure");
		await page.selectOption("#vine-quantity", quantity);
	};
	await begin("trunk_girth");
	await page.selectOption("#vine-unit", "in");
	await page.fill("#vine-value", "6.5");
	await page.click(save);
	let made = await one();
	assert.deepEqual(made.value, { quantity: "trunk_girth", unit: "mm", scale: "in", value: 165.1 });
	await until(page, "it as it was written", `document.querySelector("#vine .history > li")?.textContent.includes("6.5 in")`);

	await begin("cane_diameter");
	await page.fill("#vine-value", "25");
	await page.click(save);
	await page.waitForSelector("#vine .doubt p");
	assert.match((await page.textContent("#vine .doubt")) ?? "", /25 mm is possible, but not likely; 3 to 20/);
	assert.equal((await vineNow(i)).events[0].id, made.id, "nothing is recorded yet");
	await page.fill("#vine-value", "9");
	assert.equal(await page.textContent("#vine .doubt"), "", "another value is another matter");
	await page.fill("#vine-value", "25");
	await page.click(save);
	assert.match((await page.textContent(save)) ?? "", /all the same/);
	await page.click(save);
	made = await one();
	assert.deepEqual(made.value, { quantity: "cane_diameter", unit: "mm", value: 25 });

	await begin("canopy_index");
	await page.fill("#vine-scale", "NDVI");
	await page.fill("#vine-value", "0.62");
	await page.click(save);
	assert.deepEqual((await one()).value, { quantity: "canopy_index", unit: "index", scale: "NDVI", value: 0.62 });

	await begin("canes_by_class");
	await page.click(save);
	assert.match((await page.textContent("#vine-class0-fault")) ?? "", /needed/);
	await page.fill("#vine-class1", "4");
	await page.fill("#vine-class2", "6");
	await page.click(save);
	await one(2);
	const { measures } = (await vineNow(i)).seasons.find((/** @type {any} */ s) => s.season === season);
	assert.equal(measures.cane_count.value, 10);
	assert.equal(measures.cane_diameter.value, 8.2);
	await context.close();
});

test("a run marked pruned changes colour and counts, another page sees it live, undo brings it back", async () => {
	const run = runIn(2);
	done = demo.legends.progress.classes.find((/** @type {any} */ c) => c.key === "done").light;
	const first = await open(run);
	const second = await open(run);
	const { page } = first;
	assert.notEqual(await dot(page, run[2]), done);
	const list = `[data-block="${stand.code}"] .block-line`;
	const line = await page.textContent(list);

	await page.click(".map-buttons button:last-child");
	await clickVine(page, run[0]);
	await until(page, "the second click wanted", `document.querySelector(".choose-hint")?.textContent.includes("/${stand.number[run[0]]}")`);
	await clickVine(page, run[5]);
	await until(page, "six chosen", `document.documentElement.dataset.chosen === "6"`);
	assert.match((await page.textContent(".chosen-count")) ?? "", /^6 vines chosen$/);
	const before = (await vineNow(run[0])).events.length;
	await page.$eval('[data-key="choose.pruned"]', (b) => [b, b].forEach((one) => /** @type {HTMLElement} */ (one).click()));
	await sent(page, "6 vines marked pruned");
	for (const v of run) assert.equal(await progressAt(v), 2, `vine ${v}`);
	await page.click('[data-key="clear"]');
	await page.click('[data-key="end"]');
	for (const p of [page, second.page]) {
		await until(p, "the count in the list to change", `document.querySelector('${list}')?.textContent !== ${JSON.stringify(line)}`);
		await atRest(p);
		for (const v of run) assert.equal(await dot(p, v), done, `vine ${v}`);
	}
	await page.click(".toast-act");
	await sent(page, "Taken back");
	for (const v of run) assert.equal(await progressAt(v), 0, `vine ${v} after undo`);
	for (const p of [page, second.page]) {
		await until(p, "the count in the list to come back", `document.querySelector('${list}')?.textContent === ${JSON.stringify(line)}`);
		await atRest(p);
		assert.notEqual(await dot(p, run[2]), done);
	}
	const history = (await vineNow(run[0])).events;
	assert.deepEqual(history.slice(0, -before || undefined).map((/** @type {any} */ e) => e.kind), ["void", "pruned"], "both stay in the log, once each");
	await first.context.close();
	await second.context.close();
});

test("a whole row, a box, and all in view of a class are chosen", async () => {
	const run = runIn(4);
	const { page, context } = await open(run);
	await page.click(".map-buttons button:last-child");
	await page.click('[data-key="way-row"]');
	await clickVine(page, run[0]);
	const row = stand.rows.find((r) => run[0] >= r.first && run[0] < r.first + r.count);
	await until(page, "the row chosen", `document.documentElement.dataset.chosen === "${row?.count}"`);
	await page.click('[data-key="clear"]');
	await page.click('[data-key="way-box"]');
	const { onScreen } = await lens(page);
	const a = onScreen(stand.wx[run[1]], stand.wy[run[1]]);
	const b = onScreen(stand.wx[run[3]], stand.wy[run[3]]);
	await page.mouse.move(Math.min(a.x, b.x) - 9, Math.min(a.y, b.y) - 9);
	await page.mouse.down();
	await page.mouse.move(Math.max(a.x, b.x) + 9, Math.max(a.y, b.y) + 9, { steps: 4 });
	await page.mouse.up();
	await until(page, "three chosen", `document.documentElement.dataset.chosen === "3"`);
	// By class: only that class is shown, and all in view of it are chosen.
	await page.click('[data-key="clear"]');
	await page.click('#legend [data-code="0"]');
	await page.waitForSelector('#legend [data-code="0"][aria-pressed=true]');
	const counted = Number((await page.locator('#legend [data-code="0"] .legend-count').evaluate((e) => e.firstChild?.textContent ?? "")).replaceAll(",", ""));
	await page.click('[data-key="shown"]');
	await until(page, "the class chosen", `Number(document.documentElement.dataset.chosen) > 3`);
	assert.equal(Number(await page.evaluate(() => document.documentElement.dataset.chosen)), counted);
	await context.close();
});

test("the server dies: records wait in words, nothing is lost or doubled when it is back", async () => {
	const run = runIn(6);
	const { page, context } = await open(run);
	await server.kill();
	await until(page, "the line to be down", () => document.documentElement.dataset.line === "reconnecting", 60_000);
	await page.click(".map-buttons button:last-child");
	await clickVine(page, run[0]);
	await until(page, "the second click wanted", `document.querySelector(".choose-hint")?.textContent.includes("First")`);
	await clickVine(page, run[5]);
	await until(page, "six chosen", `document.documentElement.dataset.chosen === "6"`);
	await page.click('[data-key="choose.pruned"]');
	await until(page, "one record waiting", () => document.documentElement.dataset.waiting === "1");
	assert.match((await page.textContent("#status")) ?? "", /1 record waiting on this computer|Sending 1 record/);
	await page.click('[data-key="clear"]');
	await page.click('[data-key="end"]');
	await atRest(page);
	assert.equal(await dot(page, run[2]), done, "shown at once");
	// Also a page opened anew must still hold it; here the outbox itself is asked.
	const kept = await page.evaluate(() => new Promise((resolve) => {
		const request = indexedDB.open("courson");
		request.onsuccess = () => {
			const all = request.result.transaction("records").objectStore("records").getAll();
			all.onsuccess = () => resolve(all.result.length);
		};
	}));
	assert.equal(kept, 1);
	await server.restart();
	await allSent(page);
	await until(page, "the server's word", () => document.documentElement.dataset.line === "live", 60_000);
	for (const v of run) assert.equal(await progressAt(v), 2, `vine ${v}`);
	const mine = (await vineNow(run[0])).events.filter((/** @type {any} */ e) => e.kind === "pruned" && e.season === season && e.device.startsWith("page-"));
	assert.equal(mine.length, 1);
	await context.close();
});

test("an answer lost on the way: the record is sent again and known, not doubled", async () => {
	const [i] = runIn(-6, 1);
	let drop = 1;
	const { page, context } = await open([i], "progress", `&vine=${stand.id[i]}`);
	await page.route("**/api/events", async (route) => {
		if (drop-- <= 0) return route.continue();
		await fetch(`${server.address}/api/events`, { method: "POST", headers: { "Content-Type": "application/json" }, body: route.request().postData() ?? "" });
		return route.abort();
	});
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	const before = (await vineNow(i)).events.length;
	await page.click('[data-key="add"]');
	await page.selectOption("#vine-kind", "note");
	await page.fill("#vine-text", "post leans");
	await page.click("#vine .record-form button[type=submit]");
	await sent(page, "Recorded for 1 vine");
	assert.ok(drop < 0, "it was sent twice");
	assert.equal((await vineNow(i)).events.length, before + 1);
	await context.close();
});

test("a refused record stays in sight with the reason until it is let go", async () => {
	const [i] = runIn(-2, 1);
	const { page, context } = await open([i], "condition", `&vine=${stand.id[i]}`);
	await page.route("**/api/events", async (route) => {
		const body = JSON.parse(route.request().postData() ?? "{}");
		for (const e of body.events) e.block = 999_999;
		await route.continue({ postData: JSON.stringify(body) });
	});
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	await page.click('[data-key="add"]');
	await page.selectOption("#vine-condition", "diseased");
	await page.click("#vine .record-form button[type=submit]");
	await until(page, "the refusal", `document.getElementById("status")?.textContent.includes("1 record refused")`);
	await page.click('#status [data-key="outbox"]');
	assert.match((await page.textContent("dialog .trouble")) ?? "", /Refused: .+/);
	await page.click("dialog .history button");
	await until(page, "nothing left", `!document.getElementById("status")?.textContent.includes("refused")`);
	await context.close();
});
