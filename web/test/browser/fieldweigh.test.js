// Measuring on the phone without a signal: a list handed over on the report page,
// weighed through reload and power cut, once at the server and in the block's
// vigour; measures in an ordinary row; all languages on a small screen.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { LANGUAGES } from "../../text/field/index.js";
import { ask, difference, heldBy, newPhone, openLine, poll, serveOrders } from "./fieldhelp.js";
import { launch, openPage, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveOrders>>} */
let estate;
/** @type {Awaited<ReturnType<typeof openLine>>} */
let line;
/** @type {import("playwright-core").Browser} */
let browser;
/** The report page, open all the time. @type {import("playwright-core").Page} */
let office;
/** @typedef {Awaited<ReturnType<typeof newPhone>>} Phone */
/** @type {Phone[]} */
const phones = [];
/** The list that was handed over. @type {any} */
let list;

before(async () => {
	estate = await serveOrders();
	line = await openLine(estate.server);
	browser = await launch();
	office = (await openPage(browser, `${estate.server.address}/report#block=${estate.block.code}&season=${estate.season}&show=weighing`, { width: 1160, height: 900 })).page;
	await until(office, "the list", () => document.documentElement.dataset.report === "weighing");
});
after(async () => {
	for (const p of phones) await p.close();
	await browser?.close();
	await line?.close();
	await estate?.server.stop();
});

/** @param {Parameters<typeof newPhone>[1]} [how] */
async function phoneWith(how) {
	const phone = await newPhone(line.address, how);
	phones.push(phone);
	await phone.open();
	await phone.setUp();
	return phone;
}
/** @param {Phone} phone @param {string} hash @param {string} wait */
async function go(phone, hash, wait) {
	await phone.page.evaluate((h) => (location.hash = h), hash);
	await phone.page.waitForSelector(wait);
}
const handed = async () => (await ask(estate.server.address, `/api/weighings?season=${estate.season}`)).weighings;
/** The vine in front. @param {Phone} phone */
const vine = async (phone) => Number(await phone.page.getAttribute(".counter", "data-vine"));
/** @param {Phone} phone @param {string} number */
async function type(phone, number) {
	for (const d of number) await phone.click(`digit-${d}`);
}
/** Weighs the vine in front and waits for the next; gives its id. @param {Phone} phone @param {string} number */
async function weigh(phone, number) {
	const id = await vine(phone);
	await type(phone, number);
	await phone.click("keep");
	await poll("the next vine", () => vine(phone), (v) => v !== id);
	return id;
}

test("the report page hands the list to a crew, and the phone has it among its work", async () => {
	await office.selectOption("#weigh-way", "number");
	await office.fill("#weigh-value", "44");
	await office.click(".weigh-form button[type=submit]");
	await until(office, "44 vines", () => document.querySelectorAll("input.weight").length === 44);
	await until(office, "the crew", () => document.querySelector('#weigh-crew option[value="Valley"]'));
	await office.selectOption("#weigh-crew", "Valley");
	await office.selectOption("#weigh-unit", "kg");
	await office.fill("#weigh-by", "Ada");
	await office.click("#hand-over button");
	await until(office, "the list that was handed over", () => document.querySelector(".handed-lists li"));
	assert.match((await office.textContent(".handed-lists")) ?? "", /44 vines for Valley, in kg.*by Ada.*Withdraw/s);
	[list] = await handed();
	assert.deepEqual([list.crew, list.unit, list.by, list.number], ["Valley", "kg", "Ada", 44]);
	assert.deepEqual(list.vines, await office.$$eval(".weigh-table tbody tr", (rows) => rows.map((r) => Number(r.getAttribute("data-vine")))), "the vines on the page, in its order");
});

test("20 vines without signal, reload, power cut, lost answers: the server holds each weight once and the vigour counts them", async () => {
	const findings = () => ask(estate.server.address, `/api/blocks/${estate.block.id}/findings?season=${estate.season}`);
	const before = await poll("the figures of before", findings, (f) => f.state === "ready", 60_000);
	const done = list.done;
	const phone = await phoneWith();
	await phone.page.waitForSelector(`[data-key="weigh-${list.id}"]`);
	assert.equal(await phone.page.textContent(`[data-key="weigh-${list.id}"] .card-title`), `Weigh 44 vines in block ${estate.block.code}`);
	await phone.context.setOffline(true);
	await phone.tap(`weigh-${list.id}`);
	await phone.page.waitForSelector('[data-key="weigh-go"]');
	assert.equal(await phone.page.locator(".weigh-vine").count(), 44);
	assert.equal(await phone.page.locator('.weigh-vine[data-how="weighed"]').count(), done, "those that have a weight already");
	await phone.tap("weigh-go");
	await phone.page.waitForSelector('[data-key="keep"]');
	assert.match((await phone.page.textContent(".slot")) ?? "", /^section \d+, \d\w\w of \d, from the (near|far) end$/);

	/** @type {Map<number, number>} vine → g */
	const weighed = new Map();
	for (let k = 0; k < 10; k++) weighed.set(await weigh(phone, `0.${41 + k}`), 410 + 10 * k);
	await phone.page.reload();
	await poll("the page without signal", () => phone.state("page"), (v) => v === "ready");
	await phone.page.waitForSelector('[data-key="keep"]');
	assert.equal(weighed.has(await vine(phone)), false, "after the reload it goes on where it was");
	for (const unit of ["g", "lb", "oz"]) {
		await phone.click("unit");
		await poll("the unit", () => phone.page.getAttribute('[data-key="unit"]', "data-unit"), (u) => u === unit);
	}
	await phone.page.reload();
	await phone.page.waitForSelector('[data-key="unit"]');
	assert.equal(await phone.page.getAttribute('[data-key="unit"]', "data-unit"), "oz", "the unit is kept");
	// 16 oz are a pound of 453.59237 g (NIST SP 811, appendix B).
	for (let k = 0; k < 10; k++) weighed.set(await weigh(phone, "16"), 453.59237);

	// Taken back, it stands in front again; then it is weighed anew.
	const wrong = [...weighed.keys()][19];
	await phone.click("undo");
	await poll("the vine before", () => vine(phone), (v) => v === wrong);
	await weigh(phone, "8");
	weighed.set(wrong, 226.796185);
	await type(phone, "99"); // not kept: gone with the power
	await phone.kill();
	await phone.open({ offline: true, hash: `#weigh=${list.id}&at=vine` });
	await phone.page.waitForSelector('[data-key="keep"]');
	assert.equal(weighed.has(await vine(phone)), false, "after the power cut too");
	assert.equal(await phone.state("waiting"), "22");

	// What cannot be weighed is said so, and the list goes on.
	const why = { missing: 0, pruned: 0 };
	for (const key of /** @type {("missing" | "pruned")[]} */ (Object.keys(why))) {
		why[key] = await vine(phone);
		await phone.click("cannot");
		await phone.click(`cannot-${key}`);
		await poll("the next vine", () => vine(phone), (v) => v !== why[key]);
	}
	const made = /** @type {any[]} */ (await phone.log());
	assert.deepEqual(made.slice(22).map((e) => [e.kind, e.value.condition ?? e.value.progress ?? e.value.text]), [["condition", "missing"], ["work", "skipped"], ["note", "pruned before it was weighed"]]);
	await go(phone, `#weigh=${list.id}`, '[data-key="weigh-go"]');
	assert.equal(await phone.page.locator('.weigh-vine[data-how="weighed"]').count(), done + 20);
	assert.match((await phone.page.textContent(`[data-key="vine-${why.pruned}"]`)) ?? "", /pruned already/);
	assert.match((await phone.page.textContent(`[data-key="vine-${wrong}"]`)) ?? "", /8\soz/);

	line.lose = 2;
	await phone.context.setOffline(false);
	await phone.page.evaluate(() => dispatchEvent(new Event("online")));
	await phone.settled();
	assert.deepEqual(await difference(estate.server.address, made), { recorded: made.length, lost: [], doubled: [] });
	assert.ok([...line.received.values()].some((n) => n > 1), "some were sent twice, since answers were lost");
	for (const [id, grams] of weighed) {
		const held = await ask(estate.server.address, `/api/vines/${id}`);
		const { pruning_weight } = held.seasons.find((/** @type {any} */ s) => s.season === estate.season).measures;
		assert.equal(pruning_weight.value, grams);
		assert.equal(pruning_weight.scale, Math.round(grams) % 10 === 0 ? "kg" : "oz");
	}
	const [now] = await handed();
	assert.deepEqual([now.done, now.skipped], [done + 20, 2]);
	await until(office, "the count on the report page", () => document.querySelector(".handed-done")?.textContent?.includes("2 cannot be weighed"));
	assert.match((await office.textContent(".handed-done")) ?? "", new RegExp(`^${done + 20} weighed`));
	const after = await poll("the figures to count the weights", findings, (f) => f.state === "ready" && f.vigour.measured === before.vigour.measured + 20, 60_000);
	assert.equal(after.vigour.measured, before.vigour.measured + 20);

	// The next list of work shows them.
	await go(phone, "#", '[data-key="refresh"]');
	await phone.click("refresh");
	await poll("the newer list", () => phone.page.textContent(`[data-key="weigh-${list.id}"]`), (text) => /cannot be weighed/.test(text ?? ""));
	assert.match((await phone.page.textContent(`[data-key="weigh-${list.id}"]`)) ?? "", new RegExp(`${done + 20} done, 2 cannot be weighed`));
	assert.deepEqual(phone.errors, []);
});

test("an impossible weight is refused in sight, an unlikely one is asked about once", async () => {
	const [phone] = phones;
	await go(phone, `#weigh=${list.id}&at=vine`, '[data-key="keep"]');
	const at = await vine(phone);
	const count = /** @type {any[]} */ (await phone.log()).length;
	await phone.click("unit");
	await phone.click("keep");
	assert.equal(await phone.page.textContent(".amount-said"), "Type a number first.");
	await type(phone, "21");
	await phone.click("keep");
	assert.match((await phone.page.textContent(".amount-said")) ?? "", /^Impossible: 0 to 20\skg\.$/);
	assert.ok(await phone.page.isVisible(".amount-said"));
	await phone.click("digit-back");
	await type(phone, ".5");
	assert.equal(await phone.page.textContent(".amount-typed"), "2.5");
	assert.equal(await phone.page.textContent(".amount-said"), "", "a new number, a new judgement");
	await type(phone, "5");
	await phone.click("digit-back");
	await phone.click("keep");
	assert.match((await phone.page.textContent(".amount-said")) ?? "", /^2\.5\skg\? Usual is 0 to /);
	assert.equal(await vine(phone), at, "nothing is kept before it is meant");
	assert.equal(/** @type {any[]} */ (await phone.log()).length, count);
	await phone.click("keep");
	await poll("the next vine", () => vine(phone), (v) => v !== at);
	await phone.settled();
	const made = /** @type {any[]} */ (await phone.log()).slice(count);
	assert.deepEqual(made.map((e) => e.value), [{ quantity: "pruning_weight", unit: "g", scale: "kg", value: 2500 }]);
	assert.equal((await heldBy(estate.server.address, made[0].vines, made[0].device)).length, 1);
});

test("in an ordinary row any quantity can be measured, with its unit and scale", async () => {
	const [phone] = phones;
	const order = estate.orders[0];
	const row = `#row=${order.rows[2].row}&order=${order.id}`;
	await go(phone, row, '[data-key="mark"]');
	const at = await phone.state("at");
	const count = /** @type {any[]} */ (await phone.log()).length;
	for (const [quantity, typed] of Object.entries({ cane_count: "9", cane_diameter: "8.5", shoot_length: "110", trunk_girth: "150", visual_score: "4", yield: "3.25", pruning_weight: "0.6" })) {
		await phone.click("mark");
		await phone.click("measure");
		await phone.click(`measure-${quantity}`);
		await poll("the keys", () => phone.state("screen"), (s) => s === `row-measure-${quantity}`);
		if (quantity === "visual_score" && (await phone.page.locator('[data-key="scale-1-5"]').count())) await phone.click("scale-1-5");
		await phone.page.waitForSelector('[data-key="keep"]');
		assert.equal(await phone.page.locator('[data-key="digit-."]').count(), quantity === "cane_count" ? 0 : 1);
		await type(phone, typed);
		await phone.click("keep");
		await poll("the row", () => phone.state("screen"), (s) => s === "row");
	}
	assert.equal(await phone.state("at"), at, "the vine is still to be pruned");
	await phone.settled();
	const made = /** @type {any[]} */ (await phone.log()).slice(count);
	const { score_scale } = (await ask(estate.server.address, "/api/field?crew=Valley")).estate;
	assert.deepEqual(made.map((e) => e.value), [
		{ quantity: "cane_count", unit: "canes", value: 9 }, { quantity: "cane_diameter", unit: "mm", value: 8.5 }, { quantity: "shoot_length", unit: "cm", value: 110 },
		{ quantity: "trunk_girth", unit: "mm", value: 150 }, { quantity: "visual_score", unit: "score", scale: score_scale || "1-5", value: 4 },
		{ quantity: "yield", unit: "g", scale: "kg", value: 3250 }, { quantity: "pruning_weight", unit: "g", scale: "kg", value: 600 }]);
	assert.deepEqual(await difference(estate.server.address, made, await phone.log()), { recorded: 7, lost: [], doubled: [] });
	await phone.click("undo");
	await poll("the weight to be taken back", () => phone.log(), (all) => /** @type {any[]} */ (all).at(-1)?.kind === "void");
});

/** What a person cannot read or hit. In the page. @returns {string[]} */
function faults() {
	const out = [];
	if (document.documentElement.scrollWidth > innerWidth) out.push(`page is ${document.documentElement.scrollWidth} wide`);
	for (const t of document.querySelectorAll("button, a, input")) {
		const r = t.getBoundingClientRect();
		const name = /** @type {HTMLElement} */ (t).dataset.key ?? t.id;
		if (r.width < 48 || r.height < 48) out.push(`${name} is ${r.width} × ${r.height}`);
		if (t.classList.contains("main") && r.height < 96) out.push(`main ${name} is ${r.height} high`);
		if (t.scrollWidth > t.clientWidth + 1 || t.scrollHeight > t.clientHeight + 1) out.push(`text of ${name} is ${t.scrollWidth} × ${t.scrollHeight} in ${t.clientWidth} × ${t.clientHeight}`);
		const words = t.querySelector("span");
		if (words && parseFloat(getComputedStyle(words).fontSize) < 20) out.push(`${name} has small letters`);
	}
	const boxes = [...document.querySelectorAll(".numbers, .weigh-dock .main")].map((e) => e.getBoundingClientRect());
	const over = [...document.querySelectorAll(".counter, .slot, .amount-said")].filter((e) => {
		const r = e.getBoundingClientRect();
		return e.checkVisibility() && e.textContent && boxes.some((b) => r.bottom > b.top + 1 && r.top < b.bottom - 1 && r.right > b.left + 1 && r.left < b.right - 1);
	});
	if (over.length) out.push(`keys cover ${over.map((e) => e.className).join(", ")}`);
	const main = document.querySelector(".weigh-dock .main");
	if (main && innerHeight > innerWidth && main.getBoundingClientRect().top < innerHeight / 2) out.push("the main action is in the upper half");
	return out;
}

test("in all languages at 320 px, for both hands: every text fits, targets are large, nothing hides the place, axe finds nothing", async () => {
	const phone = await phoneWith({ width: 320, height: 640 });
	const order = estate.orders[0];
	const row = `#row=${order.rows[5].row}&order=${order.id}`;
	const open = list.vines[list.vines.length - 1];
	await go(phone, `#weigh=${list.id}`, `[data-key="vine-${open}"]`);
	await phone.click(`vine-${open}`);
	await phone.page.waitForSelector('[data-key="keep"]');
	for (const [i, language] of Object.keys(LANGUAGES).entries()) {
		await go(phone, "#language", `[data-key="language-${language}"]`);
		await phone.click(`language-${language}`);
		await phone.page.waitForSelector('[data-key="about-hand"]');
		if (i % 2) await phone.click("about-hand");
		for (const hash of ["#", `#weigh=${list.id}`, `#weigh=${list.id}&at=vine`, `#weigh=${list.id}&at=cannot`, `${row}&at=mark`, `${row}&at=measure`, `${row}&at=measure-cane_count`, `${row}&at=measure-pruning_weight`]) {
			await phone.page.evaluate((h) => (location.hash = h), hash);
			await poll("the screen to be drawn", () => phone.page.evaluate(() => document.documentElement.dataset.hash === location.hash), Boolean);
			assert.deepEqual(await phone.page.evaluate(faults), [], `${language} ${hash}`);
			if (hash.endsWith("vine") || hash.endsWith("weight")) {
				await type(phone, "9");
				await phone.click("keep");
				assert.notEqual(await phone.page.textContent(".amount-said"), "");
				assert.deepEqual(await phone.page.evaluate(faults), [], `${language} ${hash}, asked`);
			}
			if (language !== "en" && !hash.endsWith("vine")) continue; // the same elements with other words
			await phone.page.evaluate(axe);
			const found = await phone.page.evaluate(async () => (await /** @type {any} */ (window).axe.run()).violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target).join(" ")}`));
			assert.deepEqual(found, [], `${language} ${hash}`);
		}
		for (const [width, height] of [[320, 568], [740, 360], [360, 740], [390, 844]]) {
			await phone.page.setViewportSize({ width, height });
			await go(phone, `#weigh=${list.id}&at=vine`, '[data-key="keep"]');
			assert.deepEqual(await phone.page.evaluate(faults), [], `${language} ${width} × ${height}`);
			await phone.page.setViewportSize({ width: 320, height: 640 });
		}
	}
	await phone.close();
});

test("withdrawn on the report page, the list leaves the phone; what was weighed stays", async () => {
	const [phone] = phones;
	const [was] = await handed();
	await office.click(`[data-key="withdraw-${list.id}"]`);
	await until(office, "the list to go", () => !document.querySelector(".handed-lists"));
	assert.match((await office.textContent(".handed-said")) ?? "", /What was weighed stays/);
	assert.deepEqual(await handed(), []);
	const { weighings } = await ask(estate.server.address, `/api/weighings?season=${estate.season}&withdrawn=1`);
	assert.equal(weighings[0].done, was.done);
	await go(phone, "#", '[data-key="refresh"]');
	await phone.click("refresh");
	await poll("the card to go", () => phone.page.locator(`[data-key="weigh-${list.id}"]`).count(), (n) => n === 0);
	await go(phone, `#weigh=${list.id}`, ".large");
	assert.match((await phone.page.textContent("#screen")) ?? "", /The list was withdrawn/);
	await office.evaluate(axe);
	const found = await office.evaluate(async () => (await /** @type {any} */ (window).axe.run()).violations.map((/** @type {any} */ v) => v.id));
	assert.deepEqual(found, []);
});
