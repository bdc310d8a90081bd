// The page of zones and rates and the theme on the map, against the real program:
// figures are the server's, an entry changes the sum, nothing is kept until
// somebody says so, and what a machine applied stands beside the plan.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { estateAt } from "./estate.js";
import { readPicture } from "./picture.js";
import { atRest, launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;
let season = 0;
/** @type {any} the smallest block */
let block;

before(async () => {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	season = demo.estate.season;
	block = [...demo.blocks].sort((a, b) => a.vines - b.vines)[0];
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

const number = (/** @type {number} */ n) => new Intl.NumberFormat("en").format(n);
const address = (more = "", code = block.code) => `${server.address}/zones#block=${code}&season=${season}${more}`;
const is = (/** @type {import("playwright-core").Page} */ page, /** @type {string} */ mark, state = "ready") => until(page, `${mark} to be ${state}`, /** @type {any} */ (`document.documentElement.dataset.${mark} === "${state}"`), 90_000);
const send = async (/** @type {string} */ path, /** @type {any} */ body) => {
	const answer = await fetch(server.address + path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
	return { status: answer.status, body: await answer.json() };
};
/** What the page begins with, as an order. @param {object} [cut] @param {object | null} [rates] @param {number[]} [seasons] */
const order = (cut = {}, rates = null, seasons = [season]) => ({ columns: seasons.map((s) => ({ of: "vigour", season: s, weight: 1 })), zones: { method: "k-means", zones: 3, least_m2: 5, reaction_m: 15, rounds: -1, ...cut }, rates });
const make = async (/** @type {any} */ o) => (await send(`/api/blocks/${block.code}/zones?season=${season}`, o)).body;
const compost = (/** @type {number[]} */ by) => ({ material: "compost", aim: "even out", rule: "by zone", unit: "t/ha", by_zone: by });
const keep = async (/** @type {any} */ o, note = "") => (await send(`/api/blocks/${block.code}/zones/kept`, { season, by: "Ada", note, order: o })).body;
const cells = (/** @type {import("playwright-core").Page} */ page, /** @type {string} */ rows) => page.$$eval(rows, (list) => list.map((r) => [...r.children].map((c) => c.textContent ?? "")));

/** The first part, with small zones allowed so that all are left. @param {object} [options] */
async function openCut(options = {}) {
	const opened = await openPage(browser, address(), { width: 1280, height: 900, ...options });
	await is(opened.page, "zones");
	await is(opened.page, "cut");
	await opened.page.selectOption("#z-zones-rounds", "-1");
	await opened.page.fill("#z-zones-least-m2", "5");
	await until(opened.page, "zones anew", () => document.documentElement.dataset.cut === "ready" && document.querySelector("#remedy") === null && document.querySelectorAll("#indices tbody tr").length === 5, 90_000);
	return opened;
}

/** Rates of compost. @param {import("playwright-core").Page} page @param {string[]} by */
async function spread(page, by) {
	await page.selectOption("#z-rates-material", "compost");
	await page.check("#z-aim-even-out");
	for (const [k, v] of by.entries()) await page.fill(`#z-rates-by-zone-${k}`, v);
	await until(page, "the rates", `document.documentElement.dataset.rates === "ready" && document.querySelector("#rates tbody tr td")?.textContent.startsWith("${by[0]}")`);
}

test("zones: sentence, plan, table, indices and sureness are the server's figures", async () => {
	const { page, context, noted } = await openCut();
	const view = await make(order());
	assert.equal(view.zones.length, 3);
	assert.match((await page.textContent("#says")) ?? "", new RegExp(`^3 zones by k-means, explaining ${Math.round(view.kept * 100)}% of the variance`));
	assert.equal(await page.locator("#map .zone-area").count(), 3);
	const table = await cells(page, "#map tbody tr");
	assert.deepEqual(table.map((r) => [r[0], r[1]]), view.zones.map((/** @type {any} */ z) => [z.number === 1 ? "Zone 1, the weakest" : `Zone ${z.number}`, number(z.vines)]));
	const indices = await cells(page, "#indices tbody tr");
	assert.deepEqual(indices.map((r) => r[2].replace("least", "")), view.advice.indices.map((/** @type {any} */ i) => i.performance.toFixed(3)));
	const sure = await cells(page, "#sure tbody tr");
	assert.deepEqual(sure.map((r) => r.slice(1, 5)), view.sure.map((/** @type {any} */ s) => s.vines.map(number)));
	assert.match((await page.textContent("#years")) ?? "", /second season/);
	assert.match((await page.textContent("#cautions")) ?? "", /licensed adviser/);
	await page.check(`#z-layer-vigour-${season - 1}`);
	await until(page, "the years", () => document.querySelector("#years tbody tr") !== null && document.documentElement.dataset.cut === "ready");
	const two = await make(order({}, null, [season - 1, season]));
	const pair = two.stable.pairs[0];
	assert.deepEqual((await cells(page, "#years tbody tr"))[0].slice(1), [number(pair.vines), number(pair.changed), `${Math.round((100 * pair.changed) / pair.vines)}%`, pair.rand.toFixed(2)]);
	await page.click('[data-key="use-2"]');
	await until(page, "two zones", () => document.querySelectorAll("#map .zone-area").length === 2);
	assert.equal(await page.inputValue("#z-zones-zones"), "2");
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("lost zones: the page says which setting keeps them, and takes it", async () => {
	const { page, context } = await openCut();
	await page.fill("#z-zones-least-m2", "100000");
	await until(page, "the remedy", () => document.querySelector("#remedy") !== null && document.documentElement.dataset.cut === "ready");
	const view = await make(order({ least_m2: 100_000 }));
	assert.equal(view.zones.length, 1);
	assert.match((await page.textContent("#remedy")) ?? "", new RegExp(`set the least area to ${view.remedy.least_m2} m² instead of 100000`));
	await page.click('[data-key="remedy"]');
	await until(page, "all zones", () => document.querySelectorAll("#map .zone-area").length >= 3 && document.querySelector("#remedy") === null);
	assert.equal(Number(await page.inputValue("#z-zones-least-m2")), view.remedy.least_m2);
	await context.close();
});

test("rates: an aim must be chosen, each entry gives a new sum, limits hold, slips are named at their field", async () => {
	const { page, context, noted } = await openCut();
	await page.selectOption("#z-rates-material", "compost");
	await until(page, "to be asked for the aim", () => /Choose the aim/.test(document.querySelector("#preview-state")?.textContent ?? ""));
	assert.equal(await page.locator("#rates").count(), 0);
	await spread(page, ["15", "10", "5"]);
	const view = await make(order({}, compost([15, 10, 5])));
	const rows = await cells(page, "#rates tbody tr");
	assert.deepEqual(rows.slice(0, 3).map((r) => r[1]), ["15\u00a0t/ha", "10\u00a0t/ha", "5\u00a0t/ha"]);
	assert.equal(rows[3][4].replace(/[^\d]/g, ""), String(Math.round(view.rates.total)));
	assert.match((await page.textContent("#says")) ?? "", /Compost: .* as much as the same rate everywhere/);
	assert.match((await page.textContent("#cautions")) ?? "", /Nitrate-vulnerable/);
	assert.equal((await page.locator("#check li").count()), view.rates.mended.length + view.rates.terminal.length);
	await page.$eval('[data-group="limits"]', (d) => d.setAttribute("open", ""));
	const half = Math.round(view.rates.total / 2);
	await page.fill("#z-rates-budget", String(half));
	await until(page, "the budget to hold", () => /budget/.test(document.querySelector("#rates tbody")?.textContent ?? ""));
	const kept = await make(order({}, { ...compost([15, 10, 5]), budget: half }));
	assert.ok(kept.rates.total <= half * (1 + 1e-9));
	assert.equal((await cells(page, "#rates tbody tr"))[3][4].replace(/[^\d]/g, ""), String(Math.round(kept.rates.total)));
	await page.fill("#z-rates-floor", "12");
	await until(page, "the server's reason beside the budget", () => /budget of/.test(document.querySelector("#z-rates-budget-fault")?.textContent ?? ""));
	assert.equal(await page.getAttribute("#z-rates-budget", "aria-invalid"), "true");
	await page.fill("#z-rates-floor", "x");
	assert.match((await page.textContent("#z-rates-floor-fault")) ?? "", /number between 0/);
	await page.fill("#keep-by", "Test Person");
	await page.click('[data-key="keep"]');
	await until(page, "not to be kept", () => /Mend what is marked/.test(document.querySelector("#keep-fault")?.textContent ?? ""));
	await page.fill("#z-rates-floor", "");
	await page.fill("#z-rates-budget", "");
	await until(page, "the first sum", () => document.documentElement.dataset.rates === "ready" && !/budget/.test(document.querySelector("#rates tbody")?.textContent ?? ""));
	assert.equal(await page.textContent("#z-rates-budget-fault"), "");
	assert.deepEqual(noted.errors.filter((e) => !/422/.test(e)), []);
	await context.close();
});

test("plant protection: no rate without the label; an own material stays in the list", async () => {
	const { page, context } = await openCut();
	await page.selectOption("#z-rates-material", "own");
	await page.fill("#z-rates-own-name", "Test spray");
	await page.selectOption("#z-rates-own-kind", "plant protection");
	await page.selectOption("#z-rates-own-unit", "l/ha");
	await page.check("#z-aim-use-the-difference");
	await until(page, "the label to be asked for", () => /label/.test(document.querySelector("#z-rates-own-label-most-fault")?.textContent ?? ""));
	assert.equal(await page.locator("#rates").count(), 0);
	await page.fill("#z-rates-own-label-product", "Test spray 5");
	await page.fill("#z-rates-own-label-least", "1");
	await page.fill("#z-rates-own-label-most", "2");
	for (const k of [0, 1, 2]) await page.fill(`#z-rates-by-zone-${k}`, String(1 + k / 2));
	await until(page, "rates within the label", () => document.documentElement.dataset.rates === "ready" && document.querySelector("#rates tbody tr") !== null);
	assert.match((await page.textContent("#cautions")) ?? "", /outside the label/);
	await page.click('[data-key="keep-own"]');
	await page.waitForSelector(".toast");
	const list = await demo.json("/api/materials");
	assert.deepEqual(list.own.map((/** @type {any} */ m) => [m.name, m.label_most]), [["Test spray", 2]]);
	await context.close();
});

test("a version is kept, read as it was, set beside another, written as files, and compared with what was applied", async () => {
	const smooth = await keep(order({ least_m2: 20 }, compost([15, 10, 5])), "smooth");
	const first = await keep(order({ zones: 2 }, compost([12, 6])), "older");
	const { page, context, noted } = await openCut();
	await spread(page, ["15", "10", "5"]);
	const download = page.waitForEvent("download");
	await page.click('[data-key="file-geojson"]');
	assert.match((await download).suggestedFilename(), new RegExp(`^${block.code}-${season}-rates-geojson\\.geojson$`));
	await page.fill("#keep-by", "");
	await page.click('[data-key="keep"]');
	assert.match((await page.textContent("#keep-fault")) ?? "", /Say who/);
	await page.fill("#keep-by", "Test Person");
	await page.fill("#keep-note", "for the spring");
	await page.click('[data-key="keep"]');
	await is(page, "version");
	const { versions } = await demo.json(`/api/blocks/${block.code}/zones?season=${season}`);
	assert.deepEqual([versions[0].by, versions[0].note, versions[1].id], ["Test Person", "for the spring", first.id]);
	assert.match(await page.evaluate(() => location.hash), new RegExp(`open=${versions[0].id}`));
	assert.deepEqual((await cells(page, "#rates tbody tr")).slice(0, 3).map((r) => r[1]), versions[0].rates.map((/** @type {number} */ r) => `${r}\u00a0t/ha`));
	// Without smoothing some parts are too small for a terminal: its files are refused and say so.
	for (const form of ["geojson", "shapefile", "iso-zones", "iso-grid-1", "iso-grid-2", "rows"]) {
		const asked = await fetch(server.address + (await page.getAttribute(`[data-key="kept-file-${form}"]`, "href")));
		if (asked.status !== 200) assert.deepEqual([asked.status, form.startsWith("iso"), /a part of the zone is a scrap/.test((await asked.json()).detail)], [422, true, true], form);
		const sound = await fetch(`${server.address}/api/blocks/${block.code}/zones/kept/${smooth.id}/${form}?season=${season}`);
		assert.equal(sound.status, 200, `${form}: ${sound.status === 200 ? "" : await sound.clone().text()}`);
	}
	const ground = await (await fetch(server.address + (await page.getAttribute('[data-key="kept-file-geojson"]', "href")))).json();
	assert.match(ground.cautions.join(" "), /licensed adviser/);

	const points = ground.features.flatMap((/** @type {any} */ f) => f.geometry.coordinates.map((/** @type {any} */ rings) => rings[0]).map((/** @type {any} */ ring) => ({ type: "Feature", properties: { applied: f.properties.rate * 1.04, flow: 3 }, geometry: { type: "Point", coordinates: middle(ring) } })));
	await page.setInputFiles("#applied-file", { name: "log.geojson", mimeType: "application/geo+json", buffer: Buffer.from(JSON.stringify({ type: "FeatureCollection", features: points })) });
	await is(page, "applied", "fields");
	await page.selectOption("#applied-value", "applied");
	await is(page, "applied");
	const applied = await cells(page, "#applied tbody tr");
	assert.equal(applied.length, 3);
	// The middle of a bent part may lie in the zone beside it.
	assert.ok(applied.every((r) => r[1] === "0" || Number.parseInt(r[5]) >= 90), JSON.stringify(applied));
	assert.ok(applied.some((r) => r[4] === "+4\u00a0%" && r[5] === "100%"), JSON.stringify(applied));
	assert.ok(applied.some((r) => r[1] !== "0"));
	await page.setInputFiles("#applied-file", taskFolder(points.map((/** @type {any} */ p) => [...p.geometry.coordinates, p.properties.applied * 1000])));
	await is(page, "applied", "fields");
	await page.selectOption("#applied-value", "actual mass per area, Boom, kg/ha");
	await is(page, "applied");
	assert.deepEqual(await cells(page, "#applied tbody tr"), applied, "a terminal's folder says the same");
	await page.setInputFiles("#applied-file", { name: "log.geojson", mimeType: "application/geo+json", buffer: Buffer.from("hello") });
	await is(page, "applied", "failed");
	assert.match((await page.textContent("#applied-fault")) ?? "", /cannot be compared/);

	await page.click(`[data-key="with-${first.id}"]`);
	await until(page, "the comparison", () => document.querySelector("#compare-vines tbody tr") !== null);
	const c = await demo.json(`/api/blocks/${block.code}/zones/compare?season=${season}&now=${versions[0].id}&with=${first.id}`);
	assert.match((await page.textContent("#compare .facts")) ?? "", new RegExp(number(c.changed)));
	assert.equal(await page.locator("#compare svg.zone-map").count(), 2);
	assert.deepEqual((await cells(page, "#compare-vines tbody tr")).slice(0, c.table.length).map((r) => r.slice(1)), c.table.map((/** @type {number[]} */ row) => row.map(number)));
	await page.goBack();
	await until(page, "one version again", () => document.querySelector("#compare") === null && document.querySelector("#version") !== null);
	await page.click('[data-key="resume"]');
	await is(page, "cut");
	assert.equal(await page.inputValue("#z-rates-by-zone-1"), "10");
	assert.deepEqual(noted.errors.filter((e) => !/422/.test(e)), []);
	await context.close();
});

/** The files of a folder TASKDATA with a log (ISO 11783-10, annex D): actual mass per area in mg/m². @param {[number, number, number][]} points longitude, latitude, kg/ha */
function taskFolder(points) {
	const records = points.map(([lon, lat, rate], i) => {
		const b = Buffer.alloc(21);
		b.writeUInt32LE(1000 * i, 0);
		b.writeUInt16LE(17257, 4);
		b.writeInt32LE(Math.round(lat * 1e7), 6);
		b.writeInt32LE(Math.round(lon * 1e7), 10);
		b.set([4, 1, 0], 14);
		b.writeInt32LE(Math.round(100 * rate), 17);
		return b;
	});
	const file = (/** @type {string} */ name, /** @type {string | Buffer} */ body) => ({ name, mimeType: "application/octet-stream", buffer: Buffer.from(body) });
	return [
		file("TASKDATA.XML", '<ISO11783_TaskData VersionMajor="4" VersionMinor="2"><DVC A="DVC-1"><DET A="DET-2" D="Boom"/></DVC><TSK A="TSK1" B="Compost" G="4"><TLG A="TLG00001" C="1"/></TSK></ISO11783_TaskData>'),
		file("TLG00001.xml", '<TIM A="" D="4"><PTN A="" B="" D=""/><DLV A="0007" B="" C="DET-2"/></TIM>'),
		file("TLG00001.bin", Buffer.concat(records)),
	];
}

/** A place inside of a ring: the middle of the longest piece of a line across it. @param {[number, number][]} ring */
function middle(ring) {
	const ys = ring.map((p) => p[1]);
	const y = (Math.min(...ys) + Math.max(...ys)) / 2 + 1e-9;
	const cuts = ring.slice(1).flatMap((b, i) => (ring[i][1] > y !== b[1] > y ? [ring[i][0] + ((y - ring[i][1]) / (b[1] - ring[i][1])) * (b[0] - ring[i][0])] : [])).sort((a, b) => a - b);
	return [(cuts[0] + cuts[1]) / 2, y];
}

test("the newest version is on the stand, in the legend with its rates, and at a vine", async () => {
	const kept = await keep(order({}, compost([14, 9, 4])));
	const stand = async () => demo.stand(block.id, season);
	let now = await stand();
	for (let tries = 0; now.zone.every((z) => z === 0) && tries < 200; tries++) {
		await new Promise((resolve) => setTimeout(resolve, 100));
		now = await stand();
	}
	assert.deepEqual([1, 2, 3].map((z) => now.zone.filter((v) => v === z).length), kept.view.zones.map((/** @type {any} */ z) => z.vines));
	const i = now.condition.findIndex((c, k) => c === 1 && now.zone[k] === 1);
	const { page, context, noted } = await openPage(browser, `${server.address}/#season=${season}&theme=zones&block=${block.id}&vine=${now.id[i]}`, { width: 1280, height: 800 });
	await until(page, "the rate at the vine", () => /Zone 1, the weakest: Compost, 14\s*t\/ha/.test(document.querySelector(".vine-zone")?.textContent ?? ""), 60_000);
	await until(page, "rates in the legend", () => /14\s*t\/ha/.test(document.querySelector('[data-key="class-1"]')?.textContent ?? "") && /Rates of block/.test(document.querySelector("#legend, .legend")?.textContent ?? document.body.textContent ?? ""), 60_000);
	assert.equal((await page.getAttribute('[data-key="zones"]', "href"))?.startsWith("/zones#"), true);
	await page.evaluate((hash) => (location.hash = hash), `#season=${season}&theme=zones&at=${block.center.map((/** @type {number} */ n) => n.toFixed(6)).join()},12.3`);
	await until(page, "only the zones that are there in the legend far out", () =>
		[...document.querySelectorAll(".legend-class")].map((b) => b.getAttribute("data-key")).join() === "class-0,class-1,class-2,class-3" && /whole estate/i.test(document.querySelector(".legend-where")?.textContent ?? ""), 60_000);
	await atRest(page);
	const { at, width, height } = readPicture(await page.screenshot());
	const colours = new Set(Array.from({ length: width * height }, (_, k) => at(k % width, Math.floor(k / width))));
	for (const z of [1, 2, 3]) assert.ok(colours.has(demo.legends.zones.classes[z].light), `the ground of zone ${z} is filled far out`);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("nothing kept, no such block, a server that is away: each in words, with a way on", async () => {
	const other = [...demo.blocks].sort((a, b) => b.vines - a.vines)[0];
	const { page, context } = await openPage(browser, address("&show=kept", other.code), { width: 1280, height: 900 });
	await is(page, "zones");
	if (other.id !== block.id) {
		assert.match((await page.textContent("#zones")) ?? "", /Nothing is kept yet/);
		await page.click('[data-key="to-cut"]');
		await is(page, "cut");
	}
	await page.goto(address("", "nowhere"));
	await page.reload();
	await is(page, "zones", "failed");
	assert.match((await page.textContent("#zones")) ?? "", /no block called “nowhere”/);
	await context.close();

	const away = await openCut();
	const says = await away.page.textContent("#says");
	await server.kill();
	await away.page.fill("#z-zones-least-m2", "6");
	await is(away.page, "cut", "failed");
	assert.match((await away.page.textContent("#preview")) ?? "", /cannot be reached/);
	assert.equal(await away.page.textContent("#says"), says);
	await server.restart();
	await away.page.click('[data-key="preview-again"]');
	await is(away.page, "cut");
	await away.context.close();
});

for (const ground of /** @type {const} */ (["light", "dark"]))
	test(`axe-core finds nothing in any part, ${ground}`, async () => {
		const { page, context } = await openCut({ ground });
		await spread(page, ["15", "10", "5"]);
		const look = async (/** @type {string} */ part) => {
			await page.$$eval("details", (list) => list.forEach((d) => d.setAttribute("open", "")));
			await page.evaluate(axe);
			const violations = await page.evaluate(async () => {
				const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
				return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
			});
			assert.deepEqual(violations, [], part);
		};
		await look("cut");
		await keep(order({}, compost([14, 9, 4])));
		await page.click('[data-key="part-kept"]');
		await is(page, "version");
		await look("kept");
		await page.locator('[data-key^="with-"]').first().click();
		await until(page, "the comparison", () => document.querySelector("#compare-vines tbody tr") !== null);
		await look("compare");
		await context.close();
	});

test("320 pixels wide nothing hangs over; by keyboard alone a version is kept", async () => {
	const { page, context } = await openCut({ width: 320, height: 640 });
	await spread(page, ["15", "10", "5"]);
	assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 320);
	const before = (await demo.json(`/api/blocks/${block.code}/zones?season=${season}`)).versions.length;
	await page.focus("#keep-by");
	await page.keyboard.press("Control+A");
	await page.keyboard.type("Key Board");
	await page.keyboard.press("Enter");
	await is(page, "version");
	assert.equal((await demo.json(`/api/blocks/${block.code}/zones?season=${season}`)).versions.length, before + 1);
	assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 320);
	await context.close();
});
