// The page of a pruning plan, against the real program: figures are the server's,
// changes are previewed and kept only when somebody says so, and what is printed is
// what stands on the page.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { address, begin, block, browser, demo, end, json, lineShown, number, openPlan, preview, previewed, ready, season, server, unfold } from "./pruninghelp.js";
import { openPage, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

before(begin);
after(end);

test("the sentence, the table and the histograms are the server's figures", async () => {
	const { page, context, noted } = await openPlan();
	const { sum } = await preview();
	const says = (await page.textContent("#says")) ?? "";
	assert.match(says, new RegExp(`^${number(sum.living)} vines carry ${number(sum.nodes_in_all)} nodes, ${number(Math.round(sum.nodes_per_ha))}/ha; about ${(sum.expected_kg_per_ha / 1000).toFixed(1)}.t/ha; ${Math.round(sum.hours)} hours\\.$`));
	const told = await page.$$eval("#instructions tbody tr", (rows) => rows.map((r) => [r.children[0].textContent, r.children[1].textContent]));
	assert.deepEqual(told.slice(0, 5), sum.instructions.slice(0, 5).map((/** @type {any} */ i) => [i.text, number(i.vines)]));
	for (const what of ["nodes", "canes"]) {
		await page.click(`#hist-${what} summary`);
		const cells = await page.$$eval(`#hist-${what} tbody tr`, (rows) => rows.map((r) => Number(r.lastElementChild?.textContent?.replaceAll(",", ""))));
		assert.equal(cells.reduce((a, b) => a + b, 0), sum.living, what);
		const heights = await page.$$eval(`#hist-${what} .bar`, (bars) => bars.map((b) => Number(b.querySelector("rect")?.getAttribute("height") ?? 0)));
		const top = cells.indexOf(Math.max(...cells));
		cells.forEach((n, k) => assert.ok(Math.abs(heights[k] / heights[top] - n / cells[top]) < 0.02, `${what}, bar ${k}`));
	}
	const bound = await page.$$eval("#by-bound tbody td:nth-child(2)", (list) => list.map((c) => Number(c.textContent?.replaceAll(",", ""))));
	assert.equal(bound.reduce((a, b) => a + b, 0), sum.living);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("while typing: the preview follows, a slip is named at its field, the last good one stays, nothing is kept", async () => {
	const { page, context, noted } = await openPlan();
	const first = await page.textContent("#says");
	await unfold(page, "limits");
	await page.fill("#set-limits_shoots_per_m", "4");
	await until(page, "another sentence", `document.querySelector("#says")?.textContent !== ${JSON.stringify(first)} && document.documentElement.dataset.preview === "ready"`);
	const tight = await page.textContent("#says");
	const settled = await demo.json(`/api/blocks/${block.code}/standards`);
	const { sum } = await preview({ ...settled.standards, pruning: { ...settled.standards.pruning, limits: { ...settled.standards.pruning.limits, shoots_per_m: 4 } } });
	assert.match(tight ?? "", new RegExp(`carry ${number(sum.nodes_in_all)} nodes`));
	await page.fill("#set-limits_shoots_per_m", "lots");
	assert.match((await page.textContent("#set-limits_shoots_per_m-fault")) ?? "", /between 3 and 60/);
	await page.waitForTimeout(600);
	assert.equal(await page.textContent("#says"), tight);
	assert.equal(await page.getAttribute("#set-limits_shoots_per_m", "aria-invalid"), "true");
	await page.fill("#set-limits_shoots_per_m", "15");
	await until(page, "the first sentence", `document.querySelector("#says")?.textContent === ${JSON.stringify(first)}`);
	// What only the server can tell: bull canes may not begin below the thinnest cane.
	await unfold(page, "wood");
	await page.fill("#set-wood_bull_cane_mm", "5");
	await previewed(page, "failed");
	assert.match((await page.textContent("#set-wood_bull_cane_mm-fault")) ?? "", /found 5, wanted 8 to 40/);
	assert.equal(await page.textContent("#says"), first);
	assert.match((await page.textContent("#preview")) ?? "", /last good ones/);
	await page.fill("#set-wood_bull_cane_mm", "15");
	await previewed(page);
	assert.equal(await page.textContent("#set-wood_bull_cane_mm-fault"), "");
	assert.deepEqual((await demo.json(`/api/blocks/${block.code}/standards`)).standards, settled.standards);
	// The browser itself notes the refused request; nothing else may go wrong.
	assert.deepEqual(noted.errors.filter((e) => !/422/.test(e)), []);
	await context.close();
});

test("every kind of rule and of system can be chosen and is understood by the server", async () => {
	const { page, context } = await openPlan();
	for (const kind of ["per_weight", "per_weight_metric", "effective_shoots", "ideal_shoots", "fixed", "cane_weight"]) {
		await page.selectOption("#rule-kind", kind);
		await until(page, kind, `document.documentElement.dataset.preview !== "asking"`);
		assert.equal(await page.evaluate(() => document.documentElement.dataset.preview), "ready", `${kind}: ${await page.textContent("#preview")}`);
	}
	const { systems } = await demo.json(`/api/blocks/${block.code}/standards`);
	for (const { key } of systems) {
		await page.selectOption("#system-which", key);
		await until(page, key, `document.documentElement.dataset.preview === "ready"`);
	}
	await page.selectOption("#system-which", "two_armed_guyot");
	await page.selectOption("#system-which", "own");
	await page.fill("#set-system_name", "low arms");
	await page.fill("#set-system_most_nodes_per_cane", "7");
	await until(page, "a system of one's own", `document.documentElement.dataset.preview === "ready"`);
	await page.fill("#set-system_canes_per_arm", "0");
	await page.waitForSelector("#set-system_spur_spacing_m");
	assert.equal(await page.locator("#set-system_most_nodes_per_cane").count(), 0);
	await page.fill("#set-system_spur_spacing_m", "12");
	await until(page, "a cordon", `document.documentElement.dataset.preview === "ready"`);
	await unfold(page, "leaves");
	await page.click('[data-key="pruning.leaf_table-more"]');
	await page.click('[data-key="pruning.leaf_table-fewer"]');
	await page.click('[data-key="pruning.leaf_table-fewer"]');
	await until(page, "fewer leaves", `document.documentElement.dataset.preview === "ready"`);
	await context.close();
});

test("a plan is made by somebody, compared with the one before, and shown on the map", async () => {
	const { page, context, noted } = await openPlan();
	const before = (await demo.json(`/api/blocks/${block.code}/pruning?season=${season}`)).versions ?? [];
	await page.fill("#make-by", "");
	await page.click('[data-key="make"]');
	assert.match((await page.textContent("#make-fault")) ?? "", /Say who/);
	await page.fill("#make-by", "Test Person");
	const stand = await demo.stand(block.id, season);
	const vines = [stand.id[stand.condition.indexOf(1)]];
	const decide = (/** @type {object} */ more) => json("PUT", `/api/blocks/${block.code}/pruning/overrides`, { season, by: "another", reason: "hail", vines, nodes: 5, canes: -1, ...more });
	assert.equal((await decide({})).status, 200);
	await until(page, "news of another's decision", () => /another/.test(document.querySelector("#overrides")?.textContent ?? ""));
	assert.equal(await page.inputValue("#make-by"), "Test Person", "news do not take away what is typed");
	await decide({ nodes: -1, clear: true });
	await page.click('[data-key="make"]');
	await page.waitForSelector(".toast");
	await until(page, "the new plan", () => /by Test Person/.test(document.querySelector("#state")?.textContent ?? ""));
	assert.match((await page.textContent("#state")) ?? "", /gives the same plan/);
	await unfold(page, "limits");
	await page.fill("#set-limits_shoots_per_m", "5");
	await until(page, "the change to be noticed", () => document.querySelector('[data-key="save-block"]') !== null);
	await previewed(page);
	await page.click('[data-key="make"]');
	await until(page, "a second version", `document.querySelectorAll("#versions tbody tr").length === ${before.length + 2}`);
	const plan = await demo.json(`/api/blocks/${block.code}/pruning?season=${season}`);
	assert.equal(plan.plan.by, "Test Person");
	assert.equal(plan.plan.standards.pruning?.limits?.shoots_per_m ?? plan.plan.standards.limits?.shoots_per_m, 5);
	await page.click(`[data-key="compare-${plan.versions[1].id}"]`);
	await until(page, "the comparison", () => document.documentElement.dataset.compare === "ready");
	assert.match(await page.evaluate(() => location.hash), new RegExp(`with=${plan.versions[1].id}`));
	const compared = await demo.json(`/api/blocks/${block.code}/pruning/compare?season=${season}&with=${plan.versions[1].id}`);
	assert.ok(compared.changed > 0);
	assert.match((await page.textContent("#compare .facts")) ?? "", new RegExp(`${number(compared.nodes_now)} now, ${number(compared.nodes_with)} before`));
	assert.equal(await page.locator("#compare tbody tr").count(), compared.list.length);
	await page.locator("#compare tbody a").first().click();
	await lineShown(page);
	assert.equal(await page.textContent(".plan-large"), compared.list[0].now);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("standards: only what differs is kept for the block, and it goes back to the estate's", async () => {
	await json("PUT", `/api/blocks/${block.code}/standards`, { by: "test", standards: {} });
	const { page, context } = await openPlan();
	await unfold(page, "yield");
	await page.fill("#set-yield_budburst", "80");
	await until(page, "a way to save", () => document.querySelector('[data-key="save-block"]') !== null);
	const put = page.waitForRequest((r) => r.method() === "PUT");
	await page.click('[data-key="save-block"]');
	assert.deepEqual(Object.keys(JSON.parse((await put).postData() ?? "").standards), ["pruning"]);
	await page.waitForSelector(".toast");
	await until(page, "the way back", () => document.querySelector('[data-key="back"]') !== null);
	let now = await demo.json(`/api/blocks/${block.code}/standards`);
	assert.equal(now.standards.pruning.yield.budburst, 0.8);
	await page.click('[data-key="back"]');
	await until(page, "the estate's", () => document.querySelector(".form-foot") !== null && document.querySelector('[data-key="back"]') === null && document.documentElement.dataset.preview === "ready");
	now = await demo.json(`/api/blocks/${block.code}/standards`);
	assert.equal(now.standards.pruning.yield.budburst, 0.9);
	await context.close();
});

test("runs: the key, the rows and the CSV say the same", async () => {
	const { page, context, noted } = await openPage(browser, address("&show=runs"), { width: 1280, height: 900 });
	await ready(page);
	await page.selectOption("#runs-goal", "greatest");
	await page.fill("#runs-value", "99");
	await page.click(".weigh-form button[type=submit]");
	assert.match((await page.textContent("#runs-fault")) ?? "", /between 0 and 40/);
	await page.fill("#runs-value", "3");
	const asked = page.waitForResponse((r) => r.url().includes("goal=greatest") && r.url().includes("limit=3"));
	await page.click(".weigh-form button[type=submit]");
	const runs = await (await asked).json();
	await ready(page);
	const pieces = runs.rows.flatMap((/** @type {any} */ r) => r.pieces);
	assert.equal(await page.locator(".runs-table tbody tr").count(), pieces.length);
	const key = await page.$$eval("#marks tbody tr", (rows) => rows.map((r) => [...r.children].map((c) => c.textContent)));
	assert.deepEqual(key, runs.marks.map((/** @type {any} */ m) => [m.word, m.text, number(m.runs), number(m.vines)]));
	assert.equal(await page.locator("#marks .swatch").count(), runs.marks.length);
	const csv = await (await fetch(server.address + (await page.getAttribute("#rows a[download]", "href")))).text();
	assert.ok(csv.trim().split("\n").length > pieces.length, csv.slice(0, 200));
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("the practice list: twenty vines, others on request, an empty column to write in", async () => {
	const { page, context } = await openPage(browser, address("&show=practice"), { width: 1280, height: 900 });
	await ready(page);
	const list = async () => page.$$eval(".practice-table tbody tr", (rows) => rows.map((r) => [r.children[1].textContent, r.children[2].textContent, r.children[3].textContent]));
	const first = await list();
	const want = await demo.json(`/api/blocks/${block.code}/pruning/practice?season=${season}&number=20&seed=1`);
	assert.deepEqual(first, want.vines.map((/** @type {any} */ v) => [v.address, v.text, String(v.nodes)]));
	assert.equal(first.length, 20);
	await page.click('[data-key="others"]');
	await until(page, "others", `document.documentElement.dataset.pruning === "ready" && document.querySelector(".practice-table tbody th")?.textContent !== null`);
	assert.notDeepEqual(await list(), first);
	await context.close();
});

test("no plan, no such block, a bad answer, a server that is away: each in words, with a way on", async () => {
	const early = Math.min(...demo.estate.seasons);
	const { page, context } = await openPage(browser, address("&show=runs", block.code, early), { width: 1280, height: 900 });
	await ready(page, "none");
	assert.match((await page.textContent("#plan")) ?? "", /Nothing is planned yet/);
	await page.click('[data-key="to-plan"]');
	await ready(page);
	await page.goto(address("", "nowhere"));
	await page.reload();
	await ready(page, "failed");
	assert.match((await page.textContent("#plan")) ?? "", /no block called “nowhere”/);
	await context.close();

	let broken = true;
	const bad = await openPage(browser, address(), { width: 1280, height: 900, before: (p) => p.route("**/pruning?season=*", (route) => (broken ? route.fulfill({ status: 200, contentType: "application/json", body: "{" }) : route.continue())) });
	await ready(bad.page, "failed");
	broken = false;
	await bad.page.click('[data-key="again"]');
	await ready(bad.page);
	await previewed(bad.page);
	const says = await bad.page.textContent("#says");
	await server.kill();
	await unfold(bad.page, "limits");
	await bad.page.fill("#set-limits_shoots_per_m", "6");
	await previewed(bad.page, "failed");
	assert.match((await bad.page.textContent("#preview")) ?? "", /cannot be reached/);
	assert.equal(await bad.page.textContent("#says"), says);
	await server.restart();
	// Once the line is back, the page may ask again by itself before somebody does.
	await bad.page.evaluate(() => /** @type {HTMLElement | null} */ (document.querySelector('[data-key="preview-again"]'))?.click());
	await previewed(bad.page);
	assert.notEqual(await bad.page.textContent("#says"), says);
	await bad.context.close();
});

const PARTS = ["plan", "runs", "practice", "after"];

/** Everything unfolded. @param {import("playwright-core").Page} page */
const unfoldAll = (page) => page.$$eval("details", (list) => list.forEach((d) => d.setAttribute("open", "")));

for (const ground of /** @type {const} */ (["light", "dark"]))
	test(`axe-core finds nothing in any part, ${ground}`, async () => {
		const { page, context } = await openPlan({ ground });
		for (const part of PARTS) {
			await page.click(`[data-key="part-${part}"]`);
			await ready(page);
			if (part === "plan") await previewed(page);
			await unfoldAll(page);
			await page.evaluate(axe);
			const violations = await page.evaluate(async () => {
				const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
				return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
			});
			assert.deepEqual(violations, [], part);
		}
		await context.close();
	});

for (const [name, width, height] of /** @type {[string, number, number][]} */ ([["320 px", 320, 640], ["360 px", 360, 740], ["a desktop at 200 % zoom", 640, 400], ["4K", 3840, 2160]]))
	test(`every part fits, and targets are large enough: ${name}`, async () => {
		const { page, context } = await openPlan({ width, height });
		for (const part of PARTS) {
			await page.click(`[data-key="part-${part}"]`);
			await ready(page);
			if (part === "plan") await previewed(page);
			await unfoldAll(page);
			const { wide, small } = await page.evaluate(() => ({
				wide: document.documentElement.scrollWidth - innerWidth,
				small: [...document.querySelectorAll("button, select, input:not([type=checkbox]), .check, .tick-line, summary, a:not(.skip)")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().width > 1 && (e.getBoundingClientRect().height < 43.5 || e.getBoundingClientRect().width < 43.5)).map((e) => `${e.tagName} ${e.id} ${e.textContent?.slice(0, 20)}`),
			}));
			assert.ok(wide <= 0, `${part}: ${wide} px too wide`);
			assert.deepEqual(small, [], part);
		}
		await context.close();
	});

test("on paper: A4 and Letter, light, whole tables, nothing to press", async () => {
	const { page, context } = await openPlan({ ground: "dark" });
	for (const part of PARTS) {
		await page.click(`[data-key="part-${part}"]`);
		await ready(page);
		if (part === "plan") await previewed(page);
		for (const [format, width] of /** @type {[string, number][]} */ ([["A4", 688], ["Letter", 710]])) {
			assert.equal((await page.pdf({ format })).subarray(0, 5).toString(), "%PDF-");
			await page.setViewportSize({ width, height: 1000 });
			await page.emulateMedia({ media: "print", colorScheme: "dark" });
			await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
			const seen = await page.evaluate(() => ({
				wide: document.documentElement.scrollWidth - innerWidth,
				cut: [...document.querySelectorAll("table")].filter((t) => t.checkVisibility() && t.getBoundingClientRect().right > innerWidth + 1).length,
				paper: getComputedStyle(document.body).backgroundColor,
				controls: [...document.querySelectorAll("button, select, input, form")].filter((b) => b.checkVisibility()).length,
			}));
			await page.evaluate(() => dispatchEvent(new Event("afterprint")));
			assert.deepEqual(seen, { wide: 0, cut: 0, paper: "rgb(255, 255, 255)", controls: 0 }, `${part}, ${format}`);
			await page.emulateMedia({ media: null });
			await page.setViewportSize({ width: 1280, height: 900 });
		}
	}
	await context.close();
});

test("in US units where the estate works in them, and a value left alone is not changed by its unit", async () => {
	const { page, context } = await openPlan({ before: (/** @type {import("playwright-core").Page} */ p) => p.route("**/api/estate", (route) => route.fulfill({ json: { ...demo.estate, us_units: true } })) });
	const { sum } = await preview();
	// 1 ha = 2.4710538 acres, 1 US ton = 907.18474 kg: NIST Special Publication 811.
	assert.match((await page.textContent("#says")) ?? "", new RegExp(`${number(Math.round(sum.nodes_per_ha / 2.4710538))}/ac; about ${(sum.expected_kg_per_ha / 2.4710538 / 907.18474).toFixed(1)}.tons/ac`));
	await unfoldAll(page);
	assert.equal(await page.inputValue("#set-limits_shoots_per_m"), "4.572");
	assert.equal(await page.textContent("#set-limits_shoots_per_m-unit"), "per foot");
	const asked = page.waitForRequest((r) => r.url().endsWith("/preview"));
	await page.fill("#set-wood_gap_m", "4");
	const sent = JSON.parse((await asked).postData() ?? "").standards.pruning;
	assert.equal(sent.wood.gap_m, 0.1016);
	assert.equal(sent.limits.shoots_per_m, 15);
	await context.close();
});
