// Gaps looked at on the phone without a signal: a list handed over on the page of
// replants, answered with one tap each through reload and power cut, once at the
// server, where each word settles its place as a press on the page does.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { LANGUAGES } from "../../text/field/index.js";
import { ask, difference, newPhone, openLine, poll, serveOrders } from "./fieldhelp.js";
import { launch, openPage, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveOrders>>} */
let estate;
/** @type {Awaited<ReturnType<typeof openLine>>} */
let line;
/** @type {import("playwright-core").Browser} */
let browser;
/** The page of replants, open all the time. @type {import("playwright-core").Page} */
let office;
/** @type {Awaited<ReturnType<typeof newPhone>>} */
let phone;
/** The block with the most to look at. @type {any} */
let block;
/** The list that was handed over. @type {any} */
let list;

const replants = (/** @type {string} */ code) => ask(estate.server.address, `/api/blocks/${code}/replants?season=${estate.season}`);
const handed = async () => (await ask(estate.server.address, `/api/reviews?season=${estate.season}`)).reviews;
/** The place in front. */
const vine = async () => Number(await phone.page.getAttribute(".counter", "data-vine"));
/** Presses an answer and waits for the next place, or for the end of the list; gives the place's id. @param {string} key */
async function say(key) {
	const id = await vine();
	await phone.click(key);
	await poll("the next place", async () => (await phone.state("screen")) === "look" || (await vine()) !== id, Boolean);
	return id;
}

before(async () => {
	estate = await serveOrders();
	line = await openLine(estate.server);
	browser = await launch();
	const { blocks } = await ask(estate.server.address, `/api/blocks?season=${estate.season}`);
	const items = async (/** @type {any} */ b) => ({ b, n: (await replants(b.code)).review.flatMap((/** @type {any} */ r) => r.items).length });
	[{ b: block }] = (await Promise.all(blocks.map(items))).sort((x, y) => y.n - x.n);
	office = (await openPage(browser, `${estate.server.address}/replants#block=${block.code}&season=${estate.season}&show=review`, { width: 1160, height: 900 })).page;
	await until(office, "the review", () => document.documentElement.dataset.replants === "ready" && document.querySelector('#weigh-crew option[value="Valley"]'));
});
after(async () => {
	await phone?.close();
	await browser?.close();
	await line?.close();
	await estate?.server.stop();
});

test("the review hands its places to a crew, and the phone has them row by row in walking order", async () => {
	const items = (await replants(block.code)).review.flatMap((/** @type {any} */ r) => r.items);
	await office.selectOption("#weigh-crew", "Valley");
	await office.fill("#review-by", "Ada");
	await office.click("#hand-over button");
	await until(office, "the list that was handed over", () => document.querySelector(".handed-lists li"));
	[list] = await handed();
	assert.deepEqual([list.crew, list.by, list.number, [...list.vines].sort()], ["Valley", "Ada", items.length, items.map((/** @type {any} */ i) => i.id).sort()]);
	assert.match((await office.textContent(".handed-lists")) ?? "", new RegExp(`${items.length} places for Valley.*by Ada.*0 settled.*Withdraw`, "s"));
	phone = await newPhone(line.address);
	await phone.open();
	await phone.setUp();
	await phone.page.waitForSelector(`[data-key="look-${list.id}"]`);
	assert.equal(await phone.page.textContent(`[data-key="look-${list.id}"] .card-title`), `Look at ${items.length} places in block ${block.code}`);
});

test("without signal, through reload and power cut, each place has one word, which settles it at the server", async () => {
	await phone.context.setOffline(true);
	await phone.tap(`look-${list.id}`);
	await phone.page.waitForSelector('[data-key="look-go"]');
	const rows = await phone.page.$$eval('[data-key^="look-row-"]', (all) => all.map((e) => /** @type {HTMLElement} */ (e).dataset.key ?? ""));
	assert.ok(rows.length > 1, rows.join());
	await phone.tap(rows[0]);
	await phone.page.waitForSelector('[data-key^="place-"]');
	const [first] = await phone.page.$$eval('[data-key^="place-"][data-how="open"]', (all) => all.map((e) => Number(/** @type {HTMLElement} */ (e).dataset.key?.slice(6))));
	await phone.tap(`place-${first}`);
	await phone.page.waitForSelector('[data-key="say-missing"]');
	assert.equal(await vine(), first);
	assert.match((await phone.page.textContent(".look-known")) ?? "", /^Taken to be: .*Seen: /);

	/** @type {Map<number, string>} place → what stands there */
	const said = new Map();
	said.set(await say("say-missing"), "missing");
	said.set(await say("say-dead_standing"), "dead standing");
	await phone.page.reload();
	await poll("the page without signal", () => phone.state("page"), (v) => v === "ready");
	await phone.page.waitForSelector('[data-key="say-missing"]');
	assert.equal(said.has(await vine()), false, "after the reload it goes on where it was");
	said.set(await say("say-dead_above_graft"), "dead above graft");
	const wrong = await say("say-living");
	await phone.click("undo");
	await poll("the place before", vine, (v) => v === wrong);
	assert.equal(await phone.page.textContent("#said"), "Taken back.");
	await phone.kill();
	await phone.open({ offline: true, hash: `#look=${list.id}&at=place` });
	await phone.page.waitForSelector('[data-key="say-again"]');
	assert.equal(await vine(), wrong, "after the power cut too");
	said.set(await say("say-living"), "living");
	const later = await say("say-again");
	assert.equal(await phone.state("waiting"), "7");
	const made = /** @type {any[]} */ (await phone.log());
	for (const e of made) assert.match(e.id, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab]/, "RFC 9562, version 7");
	assert.deepEqual(made.map((e) => e.value.condition ?? e.kind), ["missing", "dead", "dead", "bearing", "void", "bearing", "doubtful"]);

	line.lose = 1;
	await phone.context.setOffline(false);
	await phone.page.evaluate(() => dispatchEvent(new Event("online")));
	await phone.settled();
	assert.deepEqual(await difference(estate.server.address, made), { recorded: 7, lost: [], doubled: [] });
	const { review } = await replants(block.code);
	const left = review.flatMap((/** @type {any} */ r) => r.items);
	for (const [id, state] of said) {
		const now = await ask(estate.server.address, `/api/vines/${id}/replants?season=${estate.season}`);
		assert.deepEqual([now.stands, now.confirmed, left.some((/** @type {any} */ i) => i.id === id)], [state, true, false], "the person's word settles it");
	}
	assert.equal(left.find((/** @type {any} */ i) => i.id === later)?.state, "doubtful");
	await until(office, "the count on the page", () => document.querySelector(".handed-done")?.textContent?.startsWith("4 settled"));

	// The next list of work says the same, and what was said can still be taken back.
	await phone.go("#", '[data-key="refresh"]');
	const openNow = list.number - 4 - (await handed())[0].later;
	await phone.click("refresh");
	await poll("the newer list", () => phone.page.textContent(`[data-key="look-${list.id}"] .strong`), (text) => text?.startsWith(openNow ? `${openNow} to look at` : "all done") ?? false);
	assert.deepEqual(phone.errors, []);
});

/** What a person cannot read or hit. In the page. @returns {string[]} */
function faults() {
	const out = [];
	if (document.documentElement.scrollWidth > innerWidth) out.push(`page is ${document.documentElement.scrollWidth} wide`);
	for (const t of document.querySelectorAll("button")) {
		const r = t.getBoundingClientRect();
		if (r.width < 48 || r.height < 48) out.push(`${t.dataset.key} is ${r.width} × ${r.height}`);
		if (t.scrollWidth > t.clientWidth + 1 || t.scrollHeight > t.clientHeight + 1) out.push(`text of ${t.dataset.key} is ${t.scrollWidth} × ${t.scrollHeight} in ${t.clientWidth} × ${t.clientHeight}`);
	}
	const dock = document.querySelector(".look-dock")?.getBoundingClientRect();
	const number = document.querySelector(".look-known > .leave")?.getBoundingClientRect();
	if (dock && number && number.bottom > dock.top + 1 && number.right > dock.left + 1) out.push("keys cover what is known");
	return out;
}

test("in all languages at 320 px every text fits, targets are large, axe finds nothing", async () => {
	for (const language of Object.keys(LANGUAGES)) {
		await phone.go("#language", `[data-key="language-${language}"]`);
		await phone.click(`language-${language}`);
		await phone.page.waitForSelector('[data-key="about-hand"]');
		for (const [hash, width, height] of /** @type {[string, number, number][]} */ ([["", 320, 640], ["&row", 320, 640], ["&at=place", 320, 640], ["&at=place", 320, 568], ["&at=place", 740, 360]])) {
			await phone.page.setViewportSize({ width, height });
			const row = hash === "&row" ? `&row=${await phone.page.evaluate(() => document.querySelector('[data-key^="look-row-"]')?.getAttribute("data-key")?.slice(9))}` : hash;
			await phone.go(`#look=${list.id}${row}`, hash === "&row" ? '[data-key^="place-"]' : "h1");
			assert.deepEqual(await phone.page.evaluate(faults), [], `${language} ${row} ${width} × ${height}`);
			if (language !== "en") continue; // the same elements with other words
			await phone.page.evaluate(axe);
			assert.deepEqual(await phone.page.evaluate(async () => (await /** @type {any} */ (window).axe.run()).violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target).join(" ")}`)), [], row);
		}
	}
});

test("withdrawn on the page, the list leaves the phone; what was said stays", async () => {
	await office.click(`[data-key="withdraw-${list.id}"]`);
	await until(office, "the list to go", () => !document.querySelector(".handed-lists"));
	assert.deepEqual(await handed(), []);
	await phone.go("#", '[data-key="refresh"]');
	await phone.click("refresh");
	await poll("the list to go", () => phone.page.locator(`[data-key="look-${list.id}"]`).count(), (n) => n === 0);
	assert.equal((await ask(estate.server.address, `/api/reviews?season=${estate.season}&withdrawn=1`)).reviews[0].done, 4);
});
