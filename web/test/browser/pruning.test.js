// The page of a pruning plan and the plan on the map, against the real program:
// figures are the server's, changes are previewed and kept only when somebody
// says so, and what is printed is what stands on the page.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { uuid7Maker } from "../../lib/uuid7.js";
import { estateAt } from "./estate.js";
import { launch, openPage, serveDemo, until } from "./start.js";

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
const address = (more = "", code = block.code, s = season) => `${server.address}/pruning#block=${code}&season=${s}${more}`;
const ready = (/** @type {import("playwright-core").Page} */ page, state = "ready") => until(page, `the page to be ${state}`, `document.documentElement.dataset.pruning === "${state}"`, 60_000);
const previewed = (/** @type {import("playwright-core").Page} */ page, state = "ready") => until(page, `the preview to be ${state}`, `document.documentElement.dataset.preview === "${state}"`, 60_000);
const json = (/** @type {string} */ method, /** @type {string} */ path, /** @type {any} */ body) =>
	fetch(server.address + path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
const preview = async (/** @type {any} */ standards = null) => (await json("POST", `/api/blocks/${block.code}/pruning/preview`, { season, standards, options: { drought: false, untreated_every: 0 } })).json();

/** The plan part, worked out. @param {object} [options] @param {string} [to] */
async function openPlan(options = {}, to = address()) {
	const opened = await openPage(browser, to, { width: 1280, height: 900, ...options });
	await ready(opened.page);
	await previewed(opened.page);
	return opened;
}

/** A vine on the map, with what it is to be left with, as the server works it out. @param {import("playwright-core").Page} page */
const lineShown = (page) => until(page, "the line", () => document.documentElement.dataset.vine === "shown" && document.querySelector('.vine-plan[data-state="ready"] .plan-large') !== null);

/** Unfolds a group of the form. @param {import("playwright-core").Page} page @param {string} group */
const unfold = (page, group) => page.$eval(`[data-group="${group}"]`, (d) => d.setAttribute("open", ""));

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

test("a vine on the map: the line, the steps with their sources, a decision of one's own, and back to the rules", async () => {
	const stand = await demo.stand(block.id, season);
	const i = stand.condition.findIndex((c) => c === 1);
	const id = stand.id[i];
	const { page, context, noted } = await openPage(browser, `${server.address}/#season=${season}&theme=load&block=${block.id}&vine=${id}`, { width: 1280, height: 800 });
	await lineShown(page);
	const want = async () => demo.json(`/api/vines/${id}/pruning?season=${season}`);
	const first = await want();
	assert.equal(await page.textContent(".plan-large"), first.planned?.text ?? first.line);
	await page.click(".why summary");
	await until(page, "the steps", () => document.querySelectorAll(".why-list li").length > 3);
	assert.deepEqual(await page.$$eval("[data-step]", (list) => list.map((e) => e.getAttribute("data-step"))), first.steps.map((/** @type {any} */ s) => s.key));
	assert.equal(await page.locator("[data-step] .source").count(), first.steps.length);
	await page.click('[data-key="decide"]');
	await page.click(".override-form button[type=submit]");
	assert.match((await page.textContent("#vine-load-nodes-fault")) ?? "", /how many/);
	await page.fill("#vine-load-nodes", "6");
	await page.click(".override-form button[type=submit]");
	assert.match((await page.textContent("#vine-load-reason-fault")) ?? "", /why/);
	await page.fill("#vine-load-reason", "weak arm");
	await page.fill("#vine-load-by", "Test Person");
	await page.click(".override-form button[type=submit]");
	await until(page, "the decision", () => /Test Person decided: weak arm/.test(document.querySelector(".vine-plan")?.textContent ?? ""));
	assert.deepEqual([(await want()).override.nodes, (await want()).override.canes], [6, -1]);
	await page.click('[data-key="decide"]');
	await page.click('.override-form button:has-text("rules again")');
	await until(page, "the rules", () => !/decided/.test(document.querySelector(".vine-plan .vine-line:last-of-type")?.textContent ?? "") && document.querySelector(".override-form") === null);
	assert.equal((await want()).override, null);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("what was left arm by arm becomes one record, is drawn, and asks for jobs", async () => {
	const stand = await demo.stand(block.id, season);
	const i = stand.condition.findIndex((c, k) => c === 1 && k > 3);
	const id = stand.id[i];
	const before = await demo.post({
		id: uuid7Maker()(), device: "test", seq: 9001, at: new Date().toISOString(), by: "test", season: season - 1, block: block.id, vines: [id], kind: "pruned",
		value: { arms: [{ name: "left", canes: [{ nodes: 8 }], spurs: [{ nodes: 2, first_bud_faces: "below" }], large_cuts: [{ face: "upper", diameter_mm: 22 }], climb_mm: 10 }, { name: "right", spurs: [{ nodes: 2 }] }] },
	});
	assert.equal(before.results[0].result, "stored");
	const { page, context, noted } = await openPage(browser, `${server.address}/#season=${season}&theme=follow-ups&block=${block.id}&vine=${id}`, { width: 1280, height: 800 });
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	await page.click('[data-key="add"]');
	await page.selectOption("#vine-kind", "pruned");
	await page.selectOption("#vine-way", "arms");
	await page.click('[data-key="vine-arm0-cane-more"]');
	await page.fill("#vine-arm0-cane0-nodes", "9");
	await page.fill("#vine-arm0-cane0-length", "720");
	await page.fill("#vine-arm0-spur0-nodes", "3");
	await page.click("[for=vine-arm0-spur0-faces-above]");
	await page.click('[data-key="vine-arm0-cut-more"]');
	await page.click("[for=vine-arm0-cut0-face-lower]");
	await page.fill("#vine-arm0-cut0-diameter", "600");
	await page.fill("#vine-arm0-climb", "15");
	await page.click(".record-form button[type=submit]");
	assert.match((await page.textContent("#vine-arm0-cut0-diameter-fault")) ?? "", /between 0 and 300/);
	await page.fill("#vine-arm0-cut0-diameter", "28");
	assert.equal(await page.textContent(".arm-sum"), "14 nodes, 1 cane, 2 spurs");
	await page.fill("#vine-reason", "bud on top");
	await page.click(".record-form button[type=submit]");
	await until(page, "the record to be sent", () => document.documentElement.dataset.waiting === "0" && document.querySelector(".record-form") === null);
	const { events } = await demo.json(`/api/vines/${id}`);
	assert.deepEqual(events[0].value, {
		arms: [{ name: "left", canes: [{ nodes: 9, length_mm: 720 }], spurs: [{ nodes: 3, first_bud_faces: "above" }], large_cuts: [{ face: "lower", diameter_mm: 28 }], climb_mm: 15 }, { name: "right", spurs: [{ nodes: 2 }] }],
		reason: "bud on top",
	});
	await until(page, "the job on the map", `document.documentElement.dataset.vine === "shown"`);
	await page.reload();
	await lineShown(page);
	await page.click(".why summary");
	await until(page, "its drawing", () => document.querySelector(".drawing svg path") !== null);
	assert.match((await page.textContent(".drawing")) ?? "", /Left: spur of 3 nodes, first bud above/);
	assert.match((await page.textContent('[data-arm="left"]')) ?? "", /^left arm: sap path unbroken; climbed 10\.0.mm; 22\.0.mm cut on the upper face/);
	assert.equal(await page.evaluate(() => document.querySelectorAll(".drawing script, .drawing style, .drawing image").length), 0);
	const jobs = await demo.json(`/api/blocks/${block.code}/pruning/follow-ups?season=${season}`);
	assert.deepEqual(jobs.vines.map((/** @type {any} */ v) => [v.id, v.job, v.done]), [[id, "rub_off", false]]);
	await page.goto(address("&show=after"));
	await until(page, "the jobs", () => document.documentElement.dataset.jobs === "ready");
	assert.match((await page.textContent("#jobs")) ?? "", new RegExp(jobs.vines[0].text.slice(0, 20)));
	assert.match((await page.textContent("#left")) ?? "", /On 1 vine 14 nodes were left/);
	const csv = await (await fetch(server.address + (await page.getAttribute("#jobs a[download]", "href")))).text();
	assert.ok(csv.includes(jobs.vines[0].address), csv);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("a renewal over several winters is planned at the vine, and falls due on the page of the block", async () => {
	const stand = await demo.stand(block.id, season);
	const id = stand.id[stand.condition.findIndex((c, k) => c === 1 && k > 9)];
	const { page, context, noted } = await openPage(browser, `${server.address}/#season=${season}&theme=load&block=${block.id}&vine=${id}`, { width: 1280, height: 800 });
	await lineShown(page);
	await page.click(".why summary");
	await page.click('[data-key="renew"]');
	await page.selectOption("#renewal0-arm", "trunk");
	await page.fill("#renewal0-use", "");
	await page.click(".renewal-form button[type=submit]");
	assert.match((await page.textContent("#renewal0-use-fault")) ?? "", /needed/);
	await page.fill("#renewal0-use", String(season));
	await page.click(".renewal-form button[type=submit]");
	await until(page, "the server's reason", () => /cannot take over/.test(document.querySelector("#renewal-fault")?.textContent ?? ""));
	await page.fill("#renewal0-use", String(season + 1));
	await page.fill("#renewal0-remove", "");
	await page.click(".renewal-form button[type=submit]");
	await until(page, "it to be kept", () => document.querySelector(".renewal-form") === null && /Renewal under way/.test(document.querySelector(".why-body")?.textContent ?? ""));
	const { renewal_plans: plans } = await demo.json(`/api/vines/${id}/pruning?season=${season}`);
	assert.deepEqual([plans[0].arm, plans[0].left, plans[0].use, plans[0].remove ?? 0], ["trunk", season, season + 1, 0]);
	await page.goto(address());
	await until(page, "what falls due", () => document.querySelector("#renewals tbody tr") !== null);
	const { vines } = await demo.json(`/api/blocks/${block.code}/pruning/renewals?season=${season}`);
	assert.deepEqual(await page.$$eval("#renewals tbody tr", (rows) => rows.map((r) => [...r.children].map((c) => c.textContent))), vines.map((/** @type {any} */ v) => [v.address, v.arm, v.text]));
	// The browser notes the refusal; nothing else goes wrong.
	assert.deepEqual(noted.errors.filter((e) => !/422/.test(e)), []);
	await context.close();
});

test("for chosen vines: the load of a whole row is set with a reason", async () => {
	const { page, context } = await openPage(browser, `${server.address}/#season=${season}&theme=load&show=table&block=${block.id}`, { width: 1280, height: 800 });
	const tick = page.locator('#table [data-key^="row-"]').first();
	await tick.check();
	await page.click('#choose [data-key="load"]');
	await page.fill("#load-nodes", "8");
	await page.fill("#load-reason", "poor soil at the head");
	await page.fill("#load-by", "Test Person");
	await page.click(".dialog button[type=submit]");
	await until(page, "the dialog to close", () => document.querySelector("dialog") === null);
	const plan = await demo.json(`/api/blocks/${block.code}/pruning?season=${season}`);
	const detail = await demo.json(`/api/blocks/${block.id}?season=${season}`);
	assert.ok(plan.overrides.length > 0 && plan.overrides.length <= detail.row_list[0].vines);
	assert.ok(plan.overrides.every((/** @type {any} */ o) => o.nodes === 8 && o.by === "Test Person" && o.reason === "poor soil at the head"));
	await page.goto(address());
	await ready(page);
	assert.match((await page.textContent("#overrides h2")) ?? "", new RegExp(`^${plan.overrides.length} vine`));
	await json("PUT", `/api/blocks/${block.code}/pruning/overrides`, { season, by: "test", reason: "", vines: plan.overrides.map((/** @type {any} */ o) => o.vine), nodes: -1, canes: -1, clear: true });
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
