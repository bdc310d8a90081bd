// What single vines are to be left with, on the map and as records, against the real
// program: decided otherwise, left arm by arm, renewed over several winters.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { uuid7Maker } from "../../lib/uuid7.js";
import { address, begin, block, browser, demo, end, json, lineShown, ready, season, server } from "./pruninghelp.js";
import { openPage, until } from "./start.js";

before(begin);
after(end);

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
	const posted = await demo.post({ id: uuid7Maker()(), device: "another", seq: 1, at: new Date().toISOString(), by: "another", season, block: block.id, vines: [id], kind: "note", value: { text: "wire loose" } });
	assert.equal(posted.results[0].result, "stored");
	await until(page, "news of the vine", () => /wire loose/.test(document.querySelector("#vine .history")?.textContent ?? ""));
	await lineShown(page);
	assert.deepEqual(await page.evaluate(() => [document.activeElement?.id, /** @type {HTMLInputElement} */ (document.querySelector("#vine-load-nodes")).value]), ["vine-load-nodes", "6"], "news take away neither what is typed nor the focus");
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
