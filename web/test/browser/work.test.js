// The page of crews and their work, against the real program: crews, a proposal
// that is changed and kept, orders that move after a day was lost, progress, checks.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { addDays } from "../../work/days.js";
import { openPage, until } from "./start.js";
import { address, begin, browser, clean, demo, end, makeOrder, number, open, orders, season, state, withdraw } from "./workhelp.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

before(begin);
after(end);

const PARTS = ["progress", "orders", "new", "crews", "checks", "sheet"];

test("crews: added, changed, removed, and taken back", async () => {
	const { page, context, noted } = await open(address("crews"));
	await page.fill("#new-crew-name", "East");
	await page.fill("#new-crew-people", "0");
	await page.click("#add-crew button[type=submit]");
	assert.match((await page.textContent("#new-crew-fault")) ?? "", /between 1 and 500/);
	await page.fill("#new-crew-people", "3");
	await page.fill("#new-crew-hours", "7,5");
	await page.selectOption("#new-crew-language", "pt");
	await page.press("#new-crew-hours", "Enter");
	await page.waitForSelector('[data-crew="East"]');
	assert.match((await page.textContent('[data-crew="East"]')) ?? "", /3 people · 7\.5 hours a day · not skilled · phones: Portuguese/);
	assert.equal(await page.getAttribute('[data-crew="East"] a', "href"), "/field#crew=East");
	const crew = async () => (await demo.json("/api/crews")).crews.find((/** @type {any} */ c) => c.name === "East");
	assert.deepEqual(await crew(), { name: "East", people: 3, hours_per_day: 7.5, skilled: false, language: "pt" });
	await page.click('[data-key="change-East"]');
	await page.check("#edit-East-skilled");
	await page.click('[data-crew="East"] button[type=submit]');
	await until(page, "the change", () => /· skilled/.test(document.querySelector('[data-crew="East"]')?.textContent ?? ""));
	assert.equal((await crew()).skilled, true);
	await page.click('[data-key="remove-East"]');
	await until(page, "the crew to go", () => !document.querySelector('[data-crew="East"]'));
	assert.equal(await crew(), undefined);
	await page.click(".toast-act");
	await page.waitForSelector('[data-crew="East"]');
	await page.click('[data-key="remove-East"]');
	await until(page, "the crew to go", () => !document.querySelector('[data-crew="East"]'));
	assert.deepEqual(noted, clean);
	await context.close();
});

test("a proposal: a sentence first, rows move and go, and it is kept with a name", async () => {
	const before = await orders();
	const { page, context, noted } = await open(address("new"));
	await page.click('[data-key="share"]');
	assert.match((await page.textContent("#share-fault")) ?? "", /at least one block/);
	await page.click('[data-key="all-blocks"]');
	await page.fill("#first-day", "2026-07-13"); // a Monday
	await page.fill("#days", "7"); // until a Sunday
	assert.match((await page.textContent('[data-key="off"]')) ?? "", /1 day off: Jul 19/);
	const asked = page.waitForResponse((r) => r.url().endsWith("/api/orders/share"));
	await page.click('[data-key="share"]');
	const answer = await (await asked).json();
	assert.deepEqual((await (await asked).request().postDataJSON()).off, ["2026-07-19"]);
	await state(page, "proposed");
	const says = () => page.textContent("#sentence .work-says");
	for (const c of answer.crews) assert.match((await says()) ?? "", new RegExp(`${c.name}: ${c.rows} rows?, ${number(c.vines)} vines?, ${number(Math.round(c.hours))} hours? in \\d days?`));
	if (answer.later) assert.match((await says()) ?? "", new RegExp(`${answer.later} rows? do(es)? not fit into these days`));
	if (await page.isVisible('[data-key="drop-taken"]')) await page.click('[data-key="drop-taken"]');
	const count = () => page.locator("#rows tbody tr").count();
	const all = await count();
	await page.click('[data-key="move"]');
	assert.match((await page.textContent("#move-fault")) ?? "", /Tick rows first/);
	// The first row of the first list goes to the other crew, on a day of its own.
	const first = page.locator("#rows table").first();
	const from = await first.getAttribute("data-crew");
	const to = answer.crews.map((/** @type {any} */ c) => c.name).find((/** @type {string} */ n) => n !== from);
	const row = await first.locator("tbody tr").first().getAttribute("data-row");
	const block = await first.getAttribute("data-block");
	await first.locator(".pick").first().check();
	await page.selectOption("#move-crew", to);
	await page.selectOption("#move-day", "2026-07-20");
	await page.click('[data-key="move"]');
	const moved = page.locator(`#rows table[data-crew="${to}"][data-day="2026-07-20"][data-block="${block}"]`);
	assert.deepEqual(await moved.locator("tbody tr").evaluateAll((list) => list.map((r) => /** @type {HTMLElement} */ (r).dataset.row)), [row]);
	assert.equal(await count(), all, "no row is lost or doubled");
	await page.locator("#rows table").first().locator("thead input").check();
	const some = await page.locator("#rows table").first().locator("tbody tr").count();
	await page.click('[data-key="drop"]');
	assert.equal(await count(), all - some);
	await page.click('[data-key="keep"]');
	assert.match((await page.textContent("#keep-fault")) ?? "", /Say who/);
	await page.fill("#keep-by", "Test Leader");
	await page.press("#keep-by", "Enter");
	await until(page, "the orders", () => location.hash.includes("show=orders"));
	const made = (await orders()).filter((/** @type {any} */ o) => !before.some((/** @type {any} */ b) => b.id === o.id));
	assert.equal(made.reduce((/** @type {number} */ n, /** @type {any} */ o) => n + o.rows.length, 0), all - some);
	assert.ok(made.every((/** @type {any} */ o) => o.by === "Test Leader"));
	assert.ok(made.some((/** @type {any} */ o) => o.crew === to && o.day === "2026-07-20" && o.code === block && o.rows.length === 1 && o.rows[0].label === row));
	for (const o of made) await withdraw(o.id);
	assert.deepEqual(noted, clean);
	await context.close();
});

test("orders: after a day was lost they move on; changed, withdrawn and taken back; on the map", async () => {
	const [a, b] = [await makeOrder({ day: "2026-08-03" }), await makeOrder({ day: "2026-08-04", crew: "South" })];
	const { page, context, noted } = await open(address("orders"));
	const card = (/** @type {any} */ o) => `[data-order="${o.id}"]`;
	assert.match((await page.textContent(card(a))) ?? "", new RegExp(`3 rows · 0 of ${a.vines} vines done`));
	await page.click('[data-key="rain-2026-08-03"]');
	await page.fill("#on-2026-08-03", "2");
	await page.press("#on-2026-08-03", "Enter");
	await page.waitForSelector(`#day-2026-08-06 ${card(b)}`);
	const day = async (/** @type {any} */ o) => (await orders()).find((/** @type {any} */ x) => x.id === o.id);
	assert.equal((await day(a)).day, addDays("2026-08-03", 2));
	assert.equal((await day(b)).day, addDays("2026-08-04", 2));
	await page.click(`[data-key="change-${a.id}"]`);
	const id = a.id.slice(-12);
	await page.selectOption(`#crew-${id}`, "South");
	await page.fill(`#note-${id}`, "Bring the long ladder.");
	await page.fill(`#by-${id}`, "Test Leader");
	await page.click(`${card(a)} button[type=submit]`);
	await until(page, "the note", () => document.querySelector("#work")?.textContent?.includes("Bring the long ladder."));
	assert.deepEqual([(await day(a)).crew, (await day(a)).rows.length, (await day(a)).by], ["South", 3, "Test Leader"]);
	await page.click(`[data-key="withdraw-${a.id}"]`);
	await until(page, "the order to go", `!document.querySelector('${card(a)}')`);
	await page.click(".toast-act");
	await page.waitForSelector(card(a));
	await until(page, "the rows' place", `/&at=/.test(document.querySelector('${card(b)} a.button').getAttribute("href"))`);
	const to = (await page.getAttribute(`${card(b)} a.button`, "href")) ?? "";
	assert.match(to, new RegExp(`^/#season=${season}&theme=progress&block=${b.block}&row=${b.rows[0].row}&at=`));
	await withdraw(a.id);
	await withdraw(b.id);
	assert.deepEqual(noted, clean);
	await context.close();
});

test("progress: the server's figures, a chart with its table, and the deadline in words", async () => {
	const { page, context, noted } = await open(address());
	const got = await demo.json(`/api/progress?season=${season}&operation=pruning`);
	const sum = (/** @type {string} */ key) => got.blocks.reduce((/** @type {number} */ n, /** @type {any} */ b) => n + b[key], 0);
	assert.match((await page.textContent("#finish .work-says")) ?? "", new RegExp(`${number(sum("done"))} of ${number(sum("vines"))} vines done`));
	const cells = await page.$$eval("#blocks tbody tr", (rows) => rows.map((r) => [...r.children].slice(0, 5).map((c) => c.textContent)));
	for (const b of got.blocks) assert.ok(cells.some((c) => c.join() === [b.code, b.rows_done, b.rows - b.rows_done, number(b.done), number(b.vines - b.done)].join()), b.code);
	const days = await page.$$eval("#days tbody tr", (rows) => rows.map((r) => Number(r.lastElementChild?.textContent?.replaceAll(",", ""))));
	assert.deepEqual(days, got.days.map((/** @type {any} */ d) => d.done).reverse());
	assert.equal(await page.locator("#rates tbody tr").count(), got.rates.length);
	assert.ok(got.forecast.likely, "the demo estate has a forecast");
	const chart = () => page.getAttribute("#burn svg", "aria-label");
	assert.match((await chart()) ?? "", /vines done\. The finish is foreseen between/);
	assert.equal(await page.locator("#burn details tbody tr").count(), got.days.length + 3);
	assert.ok(got.days.length === 2 && got.crews.length === 4, "what was recorded at the start");
	for (const [day, words] of [[addDays(got.forecast.late, 60), "is kept"], [addDays(got.forecast.early, -1), "is missed"]]) {
		await page.fill("#deadline-day", day);
		await page.click("#deadline button[type=submit]");
		await until(page, words, `document.querySelector("#forecast").textContent.includes("${words}")`);
		assert.match((await page.textContent("#forecast")) ?? "", /Likely done \w+ \d+, 8 in 10 between \w+ \d+ and \w+ \d+; the deadline \w+ \d+ is/);
		assert.equal((await demo.json(`/api/progress?season=${season}&operation=pruning`)).forecast.deadline, day);
	}
	assert.match((await chart()) ?? "", /The deadline is/);
	await page.click('[data-key="no-deadline"]');
	await until(page, "no deadline", () => !document.querySelector('[data-key="no-deadline"]'));
	assert.deepEqual(noted, clean);
	await context.close();
});

test("two people in one row: both are named, both records are kept, and the vines are links", async () => {
	const block = demo.blocks[0];
	const stand = await demo.stand(block.id, season);
	const row = stand.rows[0];
	const clash = { row: String(row.id), code: block.code, label: row.label, first: "North: Ana", second: "South: Leo", vines: [stand.number[row.first], stand.number[row.first + 1]], when: "2026-07-07T15:00:00Z" };
	const { page, context } = await open(address(), { before: (/** @type {any} */ p) => p.route("**/api/progress?*", async (/** @type {any} */ route) => route.fulfill({ json: { ...(await (await route.fetch()).json()), clashes: [clash] } })) });
	assert.match((await page.textContent("#clashes")) ?? "", new RegExp(`Two people in row ${block.code}/${row.label}, North: Ana and South: Leo: both records are kept`));
	await page.waitForSelector(".work-vine");
	assert.deepEqual(await page.$$eval(".work-vine", (list) => list.map((a) => new URLSearchParams((a.getAttribute("href") ?? "").slice(2)).get("vine"))), [String(stand.id[row.first]), String(stand.id[row.first + 1])]);
	await context.close();
});

test("checks: vines of the last day of work, planned beside left, and a place for what is found", async () => {
	const { page, context, noted } = await open(address("checks"));
	const day = await page.inputValue("#check-day");
	const progress = await demo.json(`/api/progress?season=${season}&operation=pruning`);
	assert.equal(day, progress.days.at(-1).day);
	const want = (await demo.json(`/api/checks?season=${season}&day=${day}&number=5`)).vines;
	assert.ok(want.length >= 5);
	assert.deepEqual(await page.$$eval(".work-checks tbody tr", (rows) => rows.map((r) => [Number(/** @type {HTMLElement} */ (r).dataset.vine), r.children[2].textContent, r.children[3].textContent, r.children[4].textContent])), want.map((/** @type {any} */ v) => [v.id, v.planned || "no plan", v.left, ""]));
	await page.fill("#check-day", "2020-01-01");
	await page.press("#check-day", "Enter");
	await page.waitForSelector("#no-checks");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("loading, nothing yet, failed: in words, with a way to try again", async () => {
	let broken = true;
	const { page, context } = await openPage(browser, address("orders"), {
		before: (p) => p.route("**/api/orders?*", (route) => (broken ? route.fulfill({ status: 503, json: { title: "the store is busy" } }) : route.fulfill({ json: { orders: [] } }))),
	});
	await state(page, "failed");
	assert.match((await page.textContent("#work .trouble")) ?? "", /could not be loaded: the store is busy/);
	broken = false;
	await page.click('[data-key="again"]');
	await page.waitForSelector("#no-orders");
	await page.click('[data-key="to-new"]');
	await state(page, "ready");
	await page.route("**/api/crews", (route) => route.fulfill({ json: { crews: [] } }));
	await page.click('[data-key="part-crews"]');
	await page.waitForSelector("#no-crews");
	await page.click('[data-key="part-new"]');
	await page.waitForSelector('[data-key="to-crews"]');
	await page.goBack();
	await page.waitForSelector("#no-crews");
	await context.close();
});

for (const ground of /** @type {const} */ (["light", "dark"]))
	test(`axe-core finds nothing in any part, ${ground}`, async () => {
		const order = await makeOrder({});
		const { page, context } = await open(address(), { ground });
		const check = async (/** @type {string} */ what) => {
			await page.evaluate(axe);
			assert.deepEqual(await page.evaluate(async () => (await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] })).violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`)), [], what);
		};
		for (const part of PARTS) {
			if (part !== "progress") await page.click(`[data-key="part-${part}"]`);
			await state(page, "ready");
			if (part === "orders") await page.click(`[data-key="change-${order.id}"]`);
			if (part === "crews") await page.click('[data-key="change-North"]');
			if (part === "new") {
				await page.check(".work-blocks input");
				await page.fill("#days", "1");
				await page.click('[data-key="share"]');
				await state(page, "proposed");
			}
			if (part === "sheet") {
				await page.selectOption("#sheet-order", order.id);
				await page.waitForSelector(".row-done");
				await page.click('[data-key="odd-add"]');
			}
			await page.$$eval("details", (list) => list.forEach((d) => d.setAttribute("open", "")));
			await check(part);
		}
		await withdraw(order.id);
		await context.close();
	});

for (const [name, width, height] of /** @type {[string, number, number][]} */ ([["320 px", 320, 640], ["a desktop at 200 % zoom", 640, 400], ["4K", 3840, 2160]]))
	test(`every part fits, and targets are large enough: ${name}`, async () => {
		const order = await makeOrder({});
		const { page, context } = await open(address(), { width, height });
		for (const part of PARTS) {
			if (part !== "progress") await page.click(`[data-key="part-${part}"]`);
			await state(page, "ready");
			if (part === "new") {
				await page.check(".work-blocks input");
				await page.fill("#days", "1");
				await page.click('[data-key="share"]');
				await state(page, "proposed");
			}
			if (part === "sheet") {
				await page.selectOption("#sheet-order", order.id);
				await page.waitForSelector(".row-done");
				await page.click('[data-key="odd-add"]');
			}
			const { wide, small } = await page.evaluate(() => ({
				wide: document.documentElement.scrollWidth - innerWidth,
				small: [...document.querySelectorAll("button, select, input:not([type=checkbox]), .check, .tick-line, summary, a:not(.skip)")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().width > 1 && (e.getBoundingClientRect().height < 43.5 || e.getBoundingClientRect().width < 43.5)).map((e) => `${e.tagName} ${e.textContent?.slice(0, 20)}`),
			}));
			assert.ok(wide <= 0, `${part}: ${wide} px too wide`);
			assert.deepEqual(small, [], part);
		}
		await withdraw(order.id);
		await context.close();
	});

test("by keyboard alone: the skip link, a part, a crew", async () => {
	const { page, context } = await open(address());
	await page.keyboard.press("Tab");
	assert.equal(await page.evaluate(() => document.activeElement?.className), "skip");
	await page.keyboard.press("Enter");
	assert.equal(await page.evaluate(() => document.activeElement?.id), "work");
	await page.focus('[data-key="part-crews"]');
	await page.keyboard.press("Enter");
	await state(page, "ready");
	assert.equal(await page.evaluate(() => /** @type {HTMLElement} */ (document.activeElement).dataset.key), "part-crews", "the focus stays where it was");
	await page.focus("#new-crew-name");
	await page.keyboard.type("West");
	await page.keyboard.press("Enter");
	await page.waitForSelector('[data-crew="West"]');
	assert.equal(await page.evaluate(() => document.activeElement?.id), "new-crew-name");
	await page.focus('[data-key="remove-West"]');
	await page.keyboard.press("Space");
	await until(page, "the crew to go", () => !document.querySelector('[data-crew="West"]'));
	await context.close();
});

test("checks on paper: no forms, a column to write in", async () => {
	const { page, context } = await open(address("checks"), { ground: "dark" });
	for (const [format, width] of /** @type {[string, number][]} */ ([["A4", 688], ["Letter", 710]])) {
		assert.equal((await page.pdf({ format })).subarray(0, 5).toString(), "%PDF-");
		await page.setViewportSize({ width, height: 1000 });
		await page.emulateMedia({ media: "print", colorScheme: "dark" });
		const seen = await page.evaluate(() => ({ wide: document.documentElement.scrollWidth - innerWidth, forms: [...document.querySelectorAll("form, button, nav")].filter((x) => x.checkVisibility()).length, room: (document.querySelector(".work-checks .found-box")?.getBoundingClientRect().width ?? 0) > 90, paper: getComputedStyle(document.body).backgroundColor }));
		assert.deepEqual(seen, { wide: 0, forms: 0, room: true, paper: "rgb(255, 255, 255)" }, format);
		await page.emulateMedia({ media: null });
	}
	await context.close();
});
