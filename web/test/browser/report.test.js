// The report of a block and the list of vines to weigh: figures are the server's,
// every chart has its table, links lead to the map, and weights typed in become
// records.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { ranked, sampled, unfinished } from "../fixture/findings.js";
import { estateAt } from "./estate.js";
import { atRest, launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;
let season = 0;
/** @type {any} */
let found;
/** @type {any} its block */
let block;

before(async () => {
	server = await serveDemo(["--vines", "6000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	season = demo.estate.season - 1;
	const end = Date.now() + 90_000;
	for (;;) {
		const all = await demo.json(`/api/findings?season=${season}`);
		const best = all.blocks.filter((/** @type {any} */ b) => b.weak && b.mean_kg_m).sort((/** @type {any} */ a, /** @type {any} */ b) => b.weak_vines - a.weak_vines)[0];
		if (best && all.blocks.every((/** @type {any} */ b) => b.state === "ready")) {
			found = await demo.json(`/api/blocks/${best.block}/findings?season=${season}`);
			break;
		}
		assert.ok(Date.now() < end, "no block with a weak patch");
		await new Promise((resolve) => setTimeout(resolve, 300));
	}
	block = demo.blocks.find((b) => b.id === found.block);
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

const number = (/** @type {number} */ n) => new Intl.NumberFormat("en").format(n);
const address = (more = "", code = found.code) => `${server.address}/report#block=${code}&season=${season}${more}`;
const shown = (/** @type {import("playwright-core").Page} */ page, state = "ready") => until(page, `the report to be ${state}`, `document.documentElement.dataset.report === "${state}"`, 60_000);

/** Opens the report with other findings of the block. @param {(block: any, season: number) => any} make @param {object} [options] */
async function withFindings(make, options = {}) {
	const opened = await openPage(browser, address(), {
		width: 1160, height: 800, ...options,
		before: (p) => p.route(`**/api/blocks/*/findings?season=${season}*`, (route) => route.fulfill({ json: make(block, season) })),
	});
	return opened;
}

test("the figures are the server's, and no one else is asked", async () => {
	const { page, context, noted } = await openPage(browser, address(), { width: 1160, height: 800 });
	await shown(page);
	const text = (await page.textContent("#report")) ?? "";
	assert.match(text, new RegExp(`${number(found.vigour.measured)} vines were weighed`));
	assert.match(text, new RegExp(`${number(found.vigour.calibrated)} vines have their value from visual score`));
	const classes = await page.$$eval("#histogram table >> nth=0 >> tbody tr", (rows) => [...rows[0].querySelectorAll("td")].map((c) => c.textContent));
	assert.deepEqual(classes, found.vigour.classes.slice(found.vigour.classes[0] ? 0 : 1).map(number));
	const rows = await page.$$eval("#patches tbody tr", (list) => list.map((r) => [...r.children].slice(0, 2).map((c) => c.textContent)));
	const order = [...found.patches.list.filter((/** @type {any} */ p) => p.kind === "weak"), ...found.patches.list.filter((/** @type {any} */ p) => p.kind === "strong")];
	assert.deepEqual(rows.map((r) => r[1]), order.map((p) => number(p.vines)));
	assert.equal(await page.locator("#change tbody tr").first().locator("td").first().textContent(), number(found.change.all.vines.n));
	await until(page, "the seasons", () => document.querySelector("#seasons table tbody tr") !== null);
	assert.equal(await page.locator("#seasons tbody tr").count(), demo.estate.seasons.length);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("every chart says its finding in a sentence and has its table", async () => {
	const { page, context } = await openPage(browser, address(), { width: 1160, height: 800 });
	await shown(page);
	const charts = await page.$$eval(".chart svg", (list) => list.map((s) => ({ label: s.getAttribute("aria-label") ?? "", table: (s.closest("section")?.querySelectorAll("table").length ?? 0) > 0 })));
	assert.ok(charts.length >= 2, `${charts.length} charts`);
	for (const c of charts) assert.ok(c.label.length > 20 && c.table, c.label);
	// The bars are as high as the table says.
	await page.click("#histogram summary");
	const cells = await page.$$eval("#histogram details tbody tr", (rows) => rows.map((r) => Number(r.lastElementChild?.textContent?.replaceAll(",", ""))));
	const heights = await page.$$eval("#histogram .bar", (bars) => bars.map((b) => [...b.querySelectorAll(".bar-edge")].reduce((sum, r) => sum + Number(r.getAttribute("height")), 0)));
	assert.deepEqual(cells, found.vigour.histogram.map((/** @type {any} */ b) => b.measured + b.calibrated + b.estimated));
	const top = cells.indexOf(Math.max(...cells));
	cells.forEach((n, k) => assert.ok(Math.abs(heights[k] / heights[top] - n / cells[top]) < 0.02, `bar ${k}`));
	await context.close();
});

test("a patch of the table is shown on the map, with the same figures", async () => {
	const { page, context } = await openPage(browser, address(), { width: 1160, height: 800 });
	await shown(page);
	const first = page.locator("#patches tbody tr").first();
	const vines = await first.locator("td").first().textContent();
	await first.locator("a").click();
	await page.waitForSelector("#patch .facts");
	assert.match((await page.textContent("#patch h2")) ?? "", new RegExp(`${vines} vines`));
	await atRest(page);
	assert.ok(await page.isChecked("#theme-patches"));
	await page.click("#patch a.button");
	await shown(page);
	assert.match(await page.evaluate(() => location.href), /\/report#block=/);
	await context.close();
});

test("another season to compare with is chosen, kept in the address, and asked for", async () => {
	const { page, context } = await openPage(browser, address(), { width: 1160, height: 800 });
	await shown(page);
	const earlier = demo.estate.seasons.filter((s) => s < season);
	const asked = page.waitForRequest((r) => r.url().includes(`since=${earlier[0]}`));
	await page.selectOption("#since", String(earlier[0]));
	await asked;
	await shown(page);
	assert.match(await page.evaluate(() => location.hash), new RegExp(`since=${earlier[0]}`));
	await page.selectOption("#season", String(demo.estate.season));
	await shown(page);
	assert.match((await page.textContent("h1")) ?? "", new RegExp(String(demo.estate.season)));
	await page.goBack();
	await page.goBack();
	await until(page, "the first view", `location.hash === "#block=${found.code}&season=${season}"`);
	await context.close();
});

test("from a sample: the trend and not the vine, refusals with their figures, likely areas worded apart", async () => {
	const { page, context } = await withFindings(sampled);
	await shown(page);
	const text = async (/** @type {string} */ at) => (await page.textContent(at)) ?? "";
	assert.match(await text("#how .warning"), /trend, not the single vine.*71%/s);
	assert.match(await text("#how"), /at least 8 are needed/);
	assert.match(await text("#how"), /60 weighed vines, each estimated from the others, were missed by 0\.090.kg\/m/);
	assert.match(await text("#patches"), /No patch was tested: 60 vines were seen/);
	assert.match(await text("#likely"), /Not tested.*probable that they lie under 0\.30.kg\/m/s);
	assert.match(await text("#likely tbody tr"), /Likely 1.*46.*3.*43/s);
	assert.doesNotMatch(await text("#likely"), /Weak 1/);
	const leaf = await page.$$eval("#change table >> nth=0 >> tbody th", (list) => list.map((e) => e.textContent));
	assert.deepEqual(leaf, ["All vines", "Leaf 3 to 4", "Leaf 15 and later"]);
	assert.match(await text("#change"), /3 vines died or went missing.*1 place was replanted/s);
	assert.equal(await page.locator("#change .chart .is").count(), 3);
	await context.close();
});

test("where only ranks can be compared, it says so", async () => {
	const { page, context } = await withFindings(ranked);
	await shown(page);
	assert.match((await page.textContent("#change .warning")) ?? "", /only ranks within the block/);
	assert.doesNotMatch((await page.textContent("#change table")) ?? "", /kg\/m/);
	await context.close();
});

test("under way: how far, a way to stop it; failed: why, and again", async () => {
	let state = "running";
	const { page, context } = await withFindings((b, s) => unfinished(b, s, state, state === "failed" ? "the block has no metres" : ""));
	await shown(page, "running");
	assert.equal(await page.getAttribute("progress", "value"), "0.4");
	const posted = page.waitForRequest((r) => r.method() === "POST" && r.url().endsWith("/api/findings"));
	await page.click('[data-key="cancel"]');
	assert.deepEqual(JSON.parse((await posted).postData() ?? ""), { season, blocks: [found.block], do: "cancel" });
	state = "failed";
	await shown(page, "failed");
	assert.match((await page.textContent(".state-line")) ?? "", /could not be worked out: the block has no metres/);
	assert.ok(await page.isVisible('[data-key="again"]'));
	await context.close();
});

test("worked out again on the real server, it comes back ready", async () => {
	const { page, context } = await openPage(browser, address(), { width: 1160, height: 800 });
	await shown(page);
	await page.click('[data-key="again"]');
	await page.waitForSelector(".toast");
	await shown(page);
	await context.close();
});

test("a report that comes late does not come over the list to weigh", async () => {
	const { page, context } = await openPage(browser, address(), { width: 1160, height: 800 });
	await shown(page);
	/** @type {(() => Promise<any>)[]} */
	const held = [];
	await page.route("**/api/blocks/*/findings?*", async (route) => {
		const response = await route.fetch();
		held.push(() => route.fulfill({ response }));
	});
	await page.evaluate(() => dispatchEvent(new Event("report-changed")));
	const end = Date.now() + 60_000;
	while (!held.length) {
		assert.ok(Date.now() < end, "the report was asked for");
		await new Promise((resolve) => setTimeout(resolve, 20));
	}
	await page.click('[data-key="part-weighing"]');
	await shown(page, "weighing");
	for (const go of held) await go().catch(() => {}); // the page has given it up
	await page.evaluate(() => fetch("/api/estate").then((r) => r.text())); // what came before this is there
	assert.equal(await page.evaluate(() => document.documentElement.dataset.report), "weighing");
	assert.ok(await page.isVisible(".weigh-table"));
	await context.close();
});

test("files: what is offered is there", async () => {
	const zones = { season, by: "Ada", note: "", order: { columns: [{ of: "vigour", season, weight: 1 }], zones: { method: "k-means", zones: 2, least_m2: 5, rounds: -1 } } };
	const kept = await fetch(`${server.address}/api/blocks/${found.code}/zones/kept`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(zones) });
	assert.equal(kept.status, 201);
	const { page, context } = await openPage(browser, address(), { width: 1160, height: 800 });
	await shown(page);
	const links = await page.$$eval("#files a", (list) => list.map((a) => a.getAttribute("href") ?? ""));
	const layers = links.filter((link) => link.startsWith("/api/layers/"));
	assert.equal(links.length - layers.length, 4);
	const offered = await (await fetch(`${server.address}/api/layers`)).json();
	assert.equal(layers.length, offered.layers.reduce((/** @type {number} */ n, /** @type {{files: [], styles: []}} */ l) => n + l.files.length + (l.styles.length ? 1 : 0), 0), "each layer that the server has, in each format, and its style");
	const names = await page.$$eval("#files td a", (list) => list.map((a) => a.getAttribute("aria-label") ?? ""));
	assert.equal(new Set(names).size, layers.length, "links can be told apart by their names");
	for (const link of layers) {
		const answer = await fetch(server.address + link);
		assert.equal(answer.status, 200, link);
		assert.match(answer.headers.get("Content-Disposition") ?? "", /^attachment; filename="[\w-]+_2\d{3}\.\w+"$/, link);
		assert.ok((await answer.arrayBuffer()).byteLength > 150, link);
	}
	for (const link of links.filter((l) => !layers.includes(l))) {
		const answer = await fetch(server.address + link);
		assert.equal(answer.status, 200, link);
		const body = await answer.text();
		if (link.includes("geojson")) assert.equal(JSON.parse(body).type, "FeatureCollection");
		else assert.ok(body.split("\n").length > 2 && body.includes(","), link);
	}
	await context.close();
});

test("a block that is not there is named; a busy server can be asked again", async () => {
	const { page, context } = await openPage(browser, address("", "nowhere"), { width: 1160, height: 800 });
	await shown(page, "failed");
	assert.match((await page.textContent("#report")) ?? "", /no block called “nowhere”/);
	await context.close();
});

test("the list of vines to weigh: made as wished, and a typed weight becomes a record", async () => {
	const { page, context, noted } = await openPage(browser, address("&show=weighing"), { width: 1160, height: 800 });
	await shown(page, "weighing");
	await page.selectOption("#weigh-way", "number");
	await page.fill("#weigh-value", "12.5");
	await page.click(".weigh-form button[type=submit]");
	assert.match((await page.textContent("#weigh-fault")) ?? "", /between 1 and/);
	await page.fill("#weigh-value", "12");
	await page.click(".weigh-form button[type=submit]");
	await until(page, "twelve vines", () => document.querySelectorAll("input.weight").length === 12);
	const want = await demo.json(`/api/blocks/${found.block}/weighing?season=${season}&number=12`);
	assert.deepEqual(await page.$$eval(".weigh-table tbody tr", (list) => list.map((r) => Number(r.getAttribute("data-vine")))), want.vines.map((/** @type {any} */ v) => v.id));
	const csv = await (await fetch(server.address + (await page.getAttribute("#list a[download]", "href")))).text();
	assert.ok(csv.trim().split("\n").length >= 13, csv.slice(0, 200));

	await page.selectOption("#weigh-unit", "lb");
	await page.fill("#weigh-by", "Test Person");
	const first = page.locator("input.weight").first();
	await first.fill("1,5");
	await first.press("Enter");
	await until(page, "the next vine", () => [...document.querySelectorAll("input.weight")].indexOf(/** @type {any} */ (document.activeElement)) === 1);
	await page.keyboard.type("90");
	await page.keyboard.press("Enter");
	await page.waitForSelector(".said .fault");
	assert.match((await page.textContent(".said .fault")) ?? "", /No vine has so much/);
	const second = page.locator("input.weight").nth(1);
	await second.fill("20");
	await second.press("Enter");
	assert.match((await page.textContent(".said .fault")) ?? "", /unlikely; up to .* is usual/);
	await page.click(".said button");
	await until(page, "both recorded and sent", () => document.querySelectorAll(".said").length > 0 && [...document.querySelectorAll(".said")].slice(0, 2).every((e) => e.textContent?.includes("recorded")) && document.documentElement.dataset.waiting === "0");
	for (const [k, grams] of [[0, 680.388555], [1, 9071.8474]]) {
		const vine = await demo.json(`/api/vines/${want.vines[k].id}`);
		const made = vine.events.filter((/** @type {any} */ e) => e.device.startsWith("page-"));
		assert.equal(made.length, 1, "once, although Enter and leaving the field both record");
		assert.deepEqual([made[0].kind, made[0].value, made[0].by, made[0].season], ["measure", { quantity: "pruning_weight", unit: "g", scale: "lb", value: grams }, "Test Person", season]);
	}
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

for (const ground of /** @type {const} */ (["light", "dark"]))
	test(`axe-core finds nothing in report and list, ${ground}`, async () => {
		const check = async (/** @type {import("playwright-core").Page} */ page, /** @type {string} */ what) => {
			await page.evaluate(axe);
			const violations = await page.evaluate(async () => {
				const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
				return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
			});
			assert.deepEqual(violations, [], what);
		};
		for (const make of [null, sampled]) {
			const { page, context } = make ? await withFindings(make, { ground }) : await openPage(browser, address(), { width: 1160, height: 800, ground });
			await shown(page);
			await until(page, "the seasons", () => document.querySelector("#seasons table") !== null);
			await page.$$eval("details", (list) => list.forEach((d) => d.setAttribute("open", "")));
			await check(page, make ? "from a sample" : "report");
			await page.click('[data-key="part-weighing"]');
			await shown(page, "weighing");
			await check(page, "what to weigh");
			await context.close();
		}
	});

for (const [name, width, height] of /** @type {[string, number, number][]} */ ([["320 px", 320, 640], ["360 px", 360, 740], ["a desktop at 200 % zoom", 640, 400], ["4K", 3840, 2160]]))
	test(`report and list fit, and targets are large enough: ${name}`, async () => {
		const { page, context } = await openPage(browser, address(), { width, height });
		for (const part of ["ready", "weighing"]) {
			await shown(page, part);
			const { wide, small } = await page.evaluate(() => ({
				wide: document.documentElement.scrollWidth - innerWidth,
				small: [...document.querySelectorAll("button, select, input:not([type=checkbox]), .check, summary, a:not(.skip)")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().width > 1 && (e.getBoundingClientRect().height < 43.5 || e.getBoundingClientRect().width < 43.5)).map((e) => `${e.tagName} ${e.textContent?.slice(0, 20)}`),
			}));
			assert.ok(wide <= 0, `${part}: ${wide} px too wide`);
			assert.deepEqual(small, [], part);
			if (part === "ready") await page.click('[data-key="part-weighing"]');
		}
		await context.close();
	});

test("on paper: A4 and Letter, light, whole tables, nothing to press", async () => {
	const { page, context } = await openPage(browser, address(), { width: 1160, height: 800, ground: "dark" });
	await shown(page);
	await until(page, "the seasons", () => document.querySelector("#seasons table") !== null);
	for (const [format, width] of /** @type {[string, number][]} */ ([["A4", 688], ["Letter", 710]])) {
		const pdf = await page.pdf({ format });
		assert.equal(pdf.subarray(0, 5).toString(), "%PDF-");
		await page.setViewportSize({ width, height: 1000 });
		await page.emulateMedia({ media: "print", colorScheme: "dark" });
		await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
		const seen = await page.evaluate(() => ({
			wide: document.documentElement.scrollWidth - innerWidth,
			cut: [...document.querySelectorAll("table")].filter((t) => t.getBoundingClientRect().right > innerWidth + 1).length,
			paper: getComputedStyle(document.body).backgroundColor,
			ink: getComputedStyle(document.body).color,
			buttons: [...document.querySelectorAll("button, nav")].filter((b) => b.checkVisibility()).length,
			folded: document.querySelectorAll("details:not([open])").length,
		}));
		await page.evaluate(() => dispatchEvent(new Event("afterprint")));
		assert.deepEqual(seen, { wide: 0, cut: 0, paper: "rgb(255, 255, 255)", ink: "rgb(26, 31, 28)", buttons: 0, folded: 0 }, format);
		await page.emulateMedia({ media: null });
	}
	await context.close();
});

test("in US units where the estate works in them", async () => {
	const { page, context } = await openPage(browser, address(), {
		width: 1160, height: 800,
		before: (p) => p.route("**/api/estate", async (route) => route.fulfill({ json: { ...demo.estate, us_units: true } })),
	});
	await shown(page);
	const now = await demo.json(`/api/blocks/${found.block}/findings?season=${season}`);
	const text = (await page.textContent("#report")) ?? "";
	// 1 kg/m = 0.3048 / 0.45359237 lb/ft.
	assert.match(text, new RegExp(`The block's mean is ${((now.vigour.mean_kg_m * 0.3048) / 0.45359237).toFixed(2)}.lb/ft`));
	assert.match(text, /\d\u00a0ac/);
	assert.doesNotMatch((await page.textContent("#patches table")) ?? "", /\d\u00a0(?:ha|m)(?![a-z])/);
	await context.close();
});
