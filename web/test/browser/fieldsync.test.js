// The phone page and the real server under everything that happens in the rows: no
// signal, a dead battery, a server that falls, answers that get lost, wrong clocks,
// two phones, a new version, a full phone.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { ask, difference, heldBy, newPhone, openLine, poll, serveOrders } from "./fieldhelp.js";

/** @type {Awaited<ReturnType<typeof serveOrders>>} */
let estate;
/** @type {Awaited<ReturnType<typeof openLine>>} */
let line;
/** Phones to be closed. @type {Awaited<ReturnType<typeof newPhone>>[]} */
const phones = [];

before(async () => {
	estate = await serveOrders();
	line = await openLine(estate.server);
});
after(async () => {
	for (const p of phones) await p.close();
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

/** @param {number} row of the order */
const row = (row) => `#row=${estate.orders[0].rows[row].row}&order=${estate.orders[0].id}`;

/** @param {Awaited<ReturnType<typeof newPhone>>} phone @param {number} n */
async function enterRow(phone, n) {
	await phone.go(row(n), '[data-key="done"], [data-key="gap-yes"], [data-key="next-row"]');
}

test("300 vines without signal, reload, power cut, lost answers: the server holds each record once", async () => {
	const phone = await phoneWith();
	await phone.context.setOffline(true);
	await enterRow(phone, 0);
	await phone.work(200);
	assert.equal(await phone.state("waiting"), "200");
	assert.match((await phone.page.textContent("#bar")) ?? "", /^200 waiting on this phone$/);
	await phone.page.reload();
	await poll("the page without signal", () => phone.state("page"), (v) => v === "ready");
	assert.equal(await phone.state("waiting"), "200");
	await phone.page.waitForSelector('[data-key="done"], [data-key="gap-yes"], [data-key="next-row"]');
	await phone.work(100);
	await phone.kill();
	await phone.open({ offline: true, hash: row(3) });
	assert.equal(await phone.state("waiting"), "300");
	const made = /** @type {any[]} */ (await phone.log());
	assert.equal(made.length, 300);
	assert.equal(new Set(made.map((e) => e.seq)).size, 300, "each has a number of its own");
	line.lose = 2;
	await phone.context.setOffline(false);
	await phone.page.evaluate(() => dispatchEvent(new Event("online")));
	await phone.settled();
	assert.deepEqual(await difference(estate.server.address, made), { recorded: 300, lost: [], doubled: [] });
	assert.ok([...line.received.values()].some((n) => n > 1), "some were sent twice, since answers were lost");
	assert.ok(line.batches.every((n) => n <= 200));
	assert.match((await phone.page.textContent("#bar")) ?? "", /^All is sent, last sent \d\d:\d\d$/);
	assert.deepEqual(phone.errors, []);
	await phone.close();
});

test("the server killed in the middle of a batch", async () => {
	const phone = await phoneWith();
	await phone.context.setOffline(true);
	await enterRow(phone, 4);
	await phone.work(60);
	const made = /** @type {any[]} */ (await phone.log());
	let kills = 0;
	line.during = async () => {
		if (kills++ > 0) return;
		await estate.server.kill();
	};
	await phone.context.setOffline(false);
	await phone.page.evaluate(() => dispatchEvent(new Event("online")));
	await poll("the server to be killed", async () => kills, (n) => n > 0);
	line.during = null;
	await phone.page.waitForTimeout(300);
	assert.equal(await phone.state("waiting"), "60", "nothing leaves the phone without an answer");
	await estate.server.restart();
	await phone.page.evaluate(() => dispatchEvent(new Event("online")));
	await phone.settled();
	assert.deepEqual(await difference(estate.server.address, made), { recorded: 60, lost: [], doubled: [] });
	await phone.close();
});

test("a clock three hours behind is said; its time is kept as it was and put right by the server", async () => {
	const phone = await phoneWith({
		init: (context) => context.addInitScript(() => {
			const Real = Date;
			const off = -3 * 3600_000;
			// @ts-ignore
			globalThis.Date = class extends Real {
				constructor(/** @type {any[]} */ ...args) {
					// @ts-ignore
					super(...(args.length ? args : [Real.now() + off]));
				}
				static now() {
					return Real.now() + off;
				}
			};
		}),
	});
	await enterRow(phone, 5);
	await phone.work(3);
	await phone.settled();
	await poll("the warning", () => phone.page.textContent("#bar"), (t) => /Clock 180 minutes off/.test(t ?? ""));
	const made = /** @type {any[]} */ (await phone.log());
	assert.ok(made.every((e) => Math.abs(Date.now() - 3 * 3600_000 - Date.parse(e.at)) < 600_000), "the phone's own time is kept");
	assert.deepEqual(made.map((e) => e.seq), made.map((e) => e.seq).sort((a, b) => a - b));
	assert.deepEqual(await difference(estate.server.address, made), { recorded: 3, lost: [], doubled: [] });
	const held = await heldBy(estate.server.address, await phone.vines(), made[0].device);
	assert.deepEqual(held.map((e) => e.at.slice(0, 19)).sort(), made.map((e) => e.at.slice(0, 19)).sort());
	await phone.close();
});

test("two phones on one row: both are kept, and where they differ the clash is listed", async () => {
	const [a, b] = await Promise.all([phoneWith(), phoneWith()]);
	for (const p of [a, b]) await p.context.setOffline(true);
	for (const [p, more] of /** @type {const} */ ([[a, 0], [b, 2]])) {
		await enterRow(p, 6);
		await p.click("other");
		for (let i = 0; i < more; i++) await p.click("nodes-more");
		await p.click("left-keep");
		await poll("the next vine", () => p.state("screen"), (s) => s === "row");
		await p.work(4);
	}
	const made = [/** @type {any[]} */ (await a.log()), /** @type {any[]} */ (await b.log())];
	for (const p of [a, b]) {
		await p.context.setOffline(false);
		await p.page.evaluate(() => dispatchEvent(new Event("online")));
		await p.settled();
	}
	for (const m of made) assert.deepEqual(await difference(estate.server.address, m), { recorded: 5, lost: [], doubled: [] });
	assert.deepEqual(made[0].map((e) => e.vines), made[1].map((e) => e.vines), "the same vines");
	const vine = await ask(estate.server.address, `/api/vines/${made[0][0].vines[0]}`);
	const clashes = vine.seasons.find((/** @type {any} */ s) => s.season === estate.season).clashes;
	assert.deepEqual([clashes[0].kept, clashes[0].disputed].sort(), [made[0][0].id, made[1][0].id].sort());
	const same = await ask(estate.server.address, `/api/vines/${made[0][2].vines[0]}`);
	assert.deepEqual(same.seasons.find((/** @type {any} */ s) => s.season === estate.season).clashes ?? [], [], "both said the same: no clash");
	await Promise.all([a.close(), b.close()]);
});

test("a new version of the page comes while records wait", async () => {
	const phone = await phoneWith();
	await poll("the version", () => phone.state("version"), Boolean);
	const first = await phone.state("version");
	await enterRow(phone, 7);
	line.busy = 1e9; // the server takes nothing for a while
	await phone.work(4);
	line.version = "-next";
	await phone.page.evaluate(() => navigator.serviceWorker.ready.then((r) => r.update()).then(() => true));
	await poll("to be told of it", () => phone.state("update"), (s) => s === "waits");
	assert.match((await phone.page.textContent("#version-news")) ?? "", /when all is sent/);
	assert.equal(await phone.page.locator('[data-key="update"]').count(), 0, "not loaded while records wait");
	await phone.page.reload();
	await poll("the new version", () => phone.state("version"), (v) => v === `${first}-next`);
	await poll("the page", () => phone.state("page"), (v) => v === "ready");
	assert.equal(await phone.state("waiting"), "4");
	assert.deepEqual(await phone.page.evaluate(() => caches.keys()), [`courson-field-${first}-next`], "the old files are gone");
	line.busy = 0;
	await phone.page.evaluate(() => dispatchEvent(new Event("online")));
	await phone.settled();
	assert.deepEqual(await difference(estate.server.address, /** @type {any[]} */ (await phone.log())), { recorded: 4, lost: [], doubled: [] });

	line.version = "-third";
	await phone.page.evaluate(() => navigator.serviceWorker.ready.then((r) => r.update()).then(() => true));
	await poll("to be told of it", () => phone.state("update"), (s) => s === "ready");
	await phone.click("update");
	await poll("the third version", () => phone.state("version"), (v) => v === `${first}-third`);
	line.version = "";
	await phone.close();
});

test("a full phone refuses the tap in sight, counts nothing, drops nothing", async () => {
	const phone = await phoneWith();
	await phone.context.setOffline(true);
	await enterRow(phone, 8);
	await phone.work(3);
	const at = await phone.state("at");
	// What a browser does when its share of the disk is used up.
	await phone.page.evaluate(() => {
		const add = IDBObjectStore.prototype.add;
		// @ts-ignore
		globalThis.free = () => (IDBObjectStore.prototype.add = add);
		IDBObjectStore.prototype.add = function (...args) {
			const tx = this.transaction;
			Object.defineProperty(tx, "error", { get: () => new DOMException("The current transaction exceeded its quota limitations.", "QuotaExceededError") });
			queueMicrotask(() => tx.abort());
			return add.apply(this, args);
		};
	});
	await phone.click("done");
	await phone.page.waitForSelector("#refusal:not([hidden])");
	assert.match((await phone.page.textContent("#refusal")) ?? "", /Not kept: this phone's storage is full/);
	assert.equal(await phone.state("at"), at, "the counter stands still");
	assert.equal(await phone.state("waiting"), "3");
	// @ts-ignore
	await phone.page.evaluate(() => globalThis.free());
	await phone.click("refusal-seen");
	await phone.work(1);
	assert.equal(await phone.state("waiting"), "4");
	await phone.context.setOffline(false);
	await phone.page.evaluate(() => dispatchEvent(new Event("online")));
	await phone.settled();
	assert.deepEqual(await difference(estate.server.address, /** @type {any[]} */ (await phone.log())), { recorded: 4, lost: [], doubled: [] });
	await phone.close();
});

test("a refused record goes to the tray with its reason, and does not count as done", async () => {
	const phone = await phoneWith();
	await enterRow(phone, 9);
	line.before = (ids) => {
		if (!line.refuse.size) line.refuse.add(ids[0]);
	};
	const at = await phone.state("at");
	const living = await phone.page.evaluate(async (row) => (await (await fetch("/api/field?crew=Valley")).json()).orders.flatMap((/** @type {any} */ o) => o.rows).find((/** @type {any} */ r) => r.row === row).vines.filter((/** @type {any[]} */ v) => v[2] !== 5 && v[2] !== 6).length, estate.orders[0].rows[9].row);
	await phone.work(1);
	await poll("the refusal", () => phone.state("refused"), (n) => n === "1");
	line.before = null;
	await phone.work(2);
	await phone.settled();
	await phone.click("bar");
	await phone.page.waitForSelector("[data-refused]");
	assert.match((await phone.page.textContent("[data-refused]")) ?? "", new RegExp(`pruning, .*row .*, ${at} .*no such row`));
	const [id] = line.refuse;
	await phone.page.reload();
	await phone.page.waitForSelector("[data-refused]");
	await phone.click(`let-go-${id}`);
	await poll("the tray to be empty", () => phone.state("refused"), (n) => n === "0");
	await phone.page.evaluate((hash) => (location.hash = hash), `#order=${estate.orders[0].id}`);
	const left = async () => Number(/(\d+) vines left/.exec((await phone.page.textContent(`[data-key="row-${estate.orders[0].rows[9].row}"]`)) ?? "")?.[1]);
	await poll("the refused one to be open again", left, (n) => n === living - 2);
	line.refuse.clear();
	await phone.close();
});
