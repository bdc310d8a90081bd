// The phone page in a hand: counter, gaps, counting off, marks, undo, both hands, all
// languages on a small screen, the rules that axe-core checks, sizes of targets.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { gunzipSync } from "node:zlib";
import http from "node:http";
import { LANGUAGES } from "../../text/field/index.js";
import { ask, difference, heldBy, newPhone, openLine, poll, serveOrders } from "./fieldhelp.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveOrders>>} */
let estate;
/** @type {Awaited<ReturnType<typeof openLine>>} */
let line;
/** @type {Awaited<ReturnType<typeof newPhone>>[]} */
const phones = [];
/** A row of the order that has a gap inside, with its numbers in walking order. @type {any} */
let gapRow;

before(async () => {
	estate = await serveOrders();
	line = await openLine(estate.server);
	const bundle = await ask(line.address, "/api/field?crew=Valley");
	gapRow = bundle.orders[0].rows.find((/** @type {any} */ r) => r.gaps.some((/** @type {number} */ g) => g > 6 && g < r.vines.length - 6));
	assert.ok(gapRow, "a row with a gap inside");
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
/** One phone for the tests that need no other. @type {Awaited<ReturnType<typeof newPhone>> | null} */
let kept = null;
/** What it recorded since a test began. */
async function sharedPhone() {
	kept ??= await phoneWith();
	const phone = kept;
	await go(phone, "#", '[data-key="about"]');
	const before = /** @type {any[]} */ (await phone.log()).length;
	return { phone, log: async () => /** @type {any[]} */ (await phone.log()).slice(before), all: async () => /** @type {any[]} */ (await phone.log()) };
}
/** @param {Awaited<ReturnType<typeof newPhone>>} phone @param {string} hash @param {string} wait */
async function go(phone, hash, wait) {
	await phone.go(hash, wait);
}
const hashOf = (/** @type {any} */ row) => `#row=${row.row}&order=${estate.orders[0].id}`;
const rowOf = (/** @type {number} */ n) => estate.orders[0].rows[n];
/** @param {Awaited<ReturnType<typeof newPhone>>} phone */
const counter = async (phone) => Number(await phone.page.getAttribute(".counter", "data-number"));

test("one tap moves to the next vine; a second tap of a wet finger does not; undo goes back", async () => {
	const { phone, log, all } = await sharedPhone();
	await phone.tap("order-" + estate.orders[0].id);
	await phone.page.waitForSelector(".cautions");
	assert.match((await phone.page.textContent(".cautions")) ?? "", /Powered shears.*Cold and wet.*Slopes.*machine.*alone.*Local work-safety rules apply/s);
	await phone.tap(`row-${rowOf(0).row}`);
	await phone.page.waitForSelector('[data-key="done"]');
	const first = await counter(phone);
	assert.match((await phone.page.textContent(".slot")) ?? "", /^section 1, 1st of 5$/);
	// Real fingers are as slow as the machine: the times of these two are said, not taken.
	const began = await phone.page.evaluate(() => performance.now());
	const finger = (/** @type {number} */ after, /** @type {number} */ off) => phone.page.evaluate(([time, off]) => {
		const button = /** @type {HTMLElement} */ (document.querySelector('[data-key="done"]'));
		const { x, y, width, height } = button.getBoundingClientRect();
		const click = new MouseEvent("click", { bubbles: true, cancelable: true, detail: 1, clientX: x + width / 2 + off, clientY: y + height / 2 });
		Object.defineProperty(click, "timeStamp", { value: time });
		button.dispatchEvent(click);
	}, [began + after, off]);
	await finger(0, 0);
	await poll("the next vine", () => counter(phone), (n) => n === first + 1);
	await phone.drawn();
	await finger(290, 3);
	await phone.drawn();
	assert.equal((await log()).length, 1, "two taps within 0.3 s on one place are one");
	assert.equal(await counter(phone), first + 1);
	await phone.tap("done");
	await poll("the next vine", () => counter(phone), (n) => n === first + 2);
	await phone.tap("undo");
	await poll("the vine before", () => counter(phone), (n) => n === first + 1);
	await phone.settled();
	const made = await log();
	assert.deepEqual(made.map((e) => e.kind), ["pruned", "pruned", "void"]);
	assert.deepEqual(await difference(estate.server.address, made, await all()), { recorded: 3, lost: [], doubled: [] });
	assert.deepEqual(phone.errors, []);
});

test("a gap on the way is a point to agree on; where it is not there, marks are to be checked and nothing moves", async () => {
	const { phone, log, all } = await sharedPhone();
	const alive = gapRow.vines.filter((/** @type {any[]} */ v) => v[2] !== 5 && v[2] !== 6).map((/** @type {any[]} */ v) => v[0]);
	const walk = gapRow.start === "far" ? alive.toReversed() : alive;
	const order = gapRow.start === "far" ? gapRow.gaps.toReversed() : gapRow.gaps;
	const gap = order.find((/** @type {number} */ g) => g > 6 && walk.slice(3).some((/** @type {number} */ n) => Math.abs(n - g) === 1));
	const last = walk[walk.findIndex((/** @type {number} */ n) => (gapRow.start === "far" ? n < gap : n > gap)) - 1];
	await go(phone, hashOf(gapRow), '[data-key="done"]');
	const toGap = async () => {
		await phone.click("more");
		await phone.click("goto");
		for (const d of String(walk[walk.indexOf(last) - 2])) await phone.click(`digit-${d}`);
		await phone.click("stand-keep");
		await poll("the vine", () => counter(phone), (n) => n === walk[walk.indexOf(last) - 2]);
		await phone.work(3);
		await phone.page.waitForSelector('[data-key="gap-yes"]');
	};
	await toGap();
	assert.match((await phone.page.textContent(".question")) ?? "", new RegExp(`\\b${gap}\\b`));
	await phone.page.reload();
	await phone.page.waitForSelector('[data-key="gap-no"]');
	await phone.click("gap-no");
	const stand = walk[walk.indexOf(last) - 1];
	for (const d of String(stand)) await phone.click(`digit-${d}`);
	await phone.click("stand-keep");
	await poll("the place that was said", () => phone.state("at"), (n) => n === String(stand));
	await phone.settled();
	const made = await log();
	assert.deepEqual(made.map((e) => e.kind), ["pruned", "pruned", "pruned", "note"], "nothing was moved or taken back");
	assert.match(made[3].value.text, /^to check: counting was off between/);
	assert.equal(made[3].vines.length, 2, "those since the place that was named");
	await phone.click("more");
	await phone.click("check");
	const right = phone.page.locator('[data-key^="wrong-"]');
	await right.first().waitFor();
	assert.equal(await right.count(), 1);
	await right.evaluate((b) => b.click());
	await poll("the stretch to be settled", () => phone.page.locator('[data-key^="wrong-"]').count(), (n) => n === 0);
	await phone.settled();
	const after = await log();
	assert.deepEqual(after.slice(4).map((e) => e.kind), ["void", "void"]);
	assert.deepEqual(await difference(estate.server.address, after, await all()), { recorded: 6, lost: [], doubled: [] });
});

test("done to here, marks with one tap completed later, what was left, a note, the whole row", async () => {
	const { phone, log } = await sharedPhone();
	const row = rowOf(3);
	await go(phone, hashOf(row), '[data-key="done"]');
	await phone.click("more");
	await phone.click("done-to");
	await phone.page.waitForSelector('[data-key="done-to-keep"]');
	await phone.click("to-post");
	const to = async () => Number(await phone.page.textContent(".stepper output"));
	const post = await to();
	await phone.click("to-more");
	assert.equal(Math.abs((await to()) - post), 1, "one more than to the post");
	await phone.click("to-less");
	const text = (await phone.page.textContent('[data-key="done-to-keep"]')) ?? "";
	assert.equal(Number(/\d+/.exec(text)?.[0]), post, "the button says where the number stands");
	const n = Number(/\((\d+) vines\)/.exec(text)?.[1]);
	assert.ok(n >= 5, text);
	await phone.click("done-to-keep");
	await poll("the row", () => phone.state("screen"), (s) => s === "row");
	if (await phone.page.locator('[data-key="gap-yes"]').count()) await phone.click("gap-yes");
	await phone.page.waitForSelector('[data-key="mark"]');
	const missing = await counter(phone);
	await phone.click("mark");
	await phone.click("mark-missing");
	await poll("the next vine", () => phone.state("at"), (v) => v !== String(missing));
	const sick = await counter(phone);
	await phone.click("mark");
	await phone.click("mark-sick");
	await poll("the row", () => phone.state("screen"), (s) => s === "row");
	assert.equal(await counter(phone), sick, "a sick vine is still to be pruned");
	assert.match((await phone.page.textContent(".what")) ?? "", /sick: clean the shears/);
	await phone.click("other");
	await phone.click("nodes-more");
	await phone.click("reason-weak_wood");
	await phone.click("left-keep");
	await poll("the next vine", () => phone.state("at"), (v) => v !== String(sick));
	await phone.click("skip");
	await phone.page.waitForSelector('[data-key="more"]');
	await phone.click("more");
	await phone.click("note");
	await phone.page.fill("#note", "wire is loose");
	await phone.click("note-row");
	await poll("the row", () => phone.state("screen"), (s) => s === "row");
	await phone.click("back");
	await phone.click("back");
	await phone.click("todo");
	await phone.page.locator('[data-key^="todo-"]').first().evaluate((b) => /** @type {HTMLElement} */ (b).click());
	await phone.click("cause-frost");
	await poll("one mark left", async () => [await phone.state("screen"), await phone.page.locator('[data-key^="todo-"]').count()], ([screen, k]) => screen === "todo" && k === 1);
	await go(phone, hashOf(row), '[data-key="more"]');
	await phone.click("more");
	await phone.click("whole");
	await phone.click("whole-keep");
	await phone.page.waitForSelector('[data-key="next-row"]');
	await phone.settled();
	const made = await log();
	assert.deepEqual(made.map((e) => e.kind), ["pruned", "condition", "condition", "pruned", "work", "note", "condition", "pruned"]);
	assert.equal(made[0].vines.length, n);
	assert.deepEqual([made[1].value, made[2].value, made[4].value, made[6].value], [{ condition: "missing" }, { condition: "diseased" }, { operation: "pruning", progress: "skipped" }, { condition: "missing", cause: "frost" }]);
	assert.equal(made[3].value.reason, "weak wood");
	assert.equal(made[5].vines, undefined, "the whole row");
	const detail = await ask(estate.server.address, `/api/blocks/${estate.block.id}?season=${estate.season}`);
	const held = detail.row_list.find((/** @type {any} */ r) => r.id === row.row);
	assert.equal(held.to_do, 0, "all living vines of the row are done at the server");
	const held1 = await heldBy(estate.server.address, made[1].vines, made[0].device);
	assert.deepEqual(held1.map((e) => e.value.cause ?? "").sort(), ["", "", "frost"], "both sightings and the note");
	await phone.click("undo");
	await phone.page.waitForSelector('[data-key="done"]');
});

test("the bundle is read again by its tag; a row is opened by tag and by number; hands are mirrored", async () => {
	const { phone } = await sharedPhone();
	/** @type {number[]} */
	const answers = [];
	phone.page.on("response", (r) => r.url().includes("/api/field") && answers.push(r.status()));
	const listKept = () => poll("the list to be kept", () => phone.state("asking"), (v) => v === "");
	await listKept();
	answers.length = 0;
	await phone.click("refresh"); // other phones may have worked since the first list
	await poll("an answer", async () => answers, (a) => a.length === 1);
	await listKept();
	await phone.click("refresh");
	await poll("another", async () => answers, (a) => a.length === 2);
	assert.equal(answers[1], 304);
	await phone.click("type");
	for (const d of rowOf(4).label) await phone.click(`digit-${d}`);
	await phone.click("type-open");
	await phone.page.waitForSelector('[data-key="done"]');
	assert.match(await phone.page.evaluate(() => location.hash), new RegExp(`row=${rowOf(4).row}&`));
	const side = async () => /** @type {any} */ (await phone.page.locator('[data-key="done"]').boundingBox()).x;
	const right = await side();
	await go(phone, "#about", '[data-key="about-hand"]');
	await phone.click("about-hand");
	await phone.page.goto(`${line.address}/field#row=${rowOf(5).row}&end=near`);
	await phone.page.waitForSelector('[data-key="done"]');
	assert.equal(await counter(phone), 1, "a tag at the near end: the walk begins there, whatever the order says");
	assert.ok((await side()) < right, "the main button is at the other thumb");
});

test("the position warns of a wrong block and sets nothing", async () => {
	const phone = await phoneWith({ options: { permissions: ["geolocation"], geolocation: { longitude: 0, latitude: 0, accuracy: 8 } } });
	await phone.context.grantPermissions(["geolocation"], { origin: line.address });
	await go(phone, hashOf(rowOf(6)), '[data-key="done"]');
	const at = await counter(phone);
	assert.equal(await phone.page.isVisible("#place-news"), false, "off unless switched on");
	await go(phone, "#about", '[data-key="about-gps"]');
	await phone.click("about-gps");
	await go(phone, hashOf(rowOf(6)), '[data-key="done"]');
	await phone.page.waitForSelector("#place-news:not([hidden])");
	assert.match((await phone.page.textContent("#place-news")) ?? "", /likely error 8 m/);
	assert.equal(await counter(phone), at);
	const [lon, lat] = gapRow.center;
	await phone.context.setGeolocation({ longitude: lon, latitude: lat, accuracy: 8 });
	await poll("the warning to go", () => phone.page.isVisible("#place-news"), (v) => !v);
	await phone.close();
});

/** Every screen by its address. */
const screens = () => ["#language", "#name", "#", `#order=${estate.orders[0].id}`, "#type", "#about", "#waiting", "#todo", "#crew", ...["", "more", "mark", "left", "note", "to", "whole", "off", "goto", "check"].map((at) => `${hashOf(rowOf(7))}${at ? `&at=${at}` : ""}`)];

test("in all languages at 320 px: every text fits its button, targets are large, axe finds nothing", async () => {
	const phone = await phoneWith({ width: 320, height: 640 });
	await go(phone, hashOf(rowOf(7)), '[data-key="done"]');
	await phone.click("mark");
	await phone.click("mark-look");
	await poll("the row", () => phone.state("screen"), (s) => s === "row");
	for (const language of Object.keys(LANGUAGES)) {
		await go(phone, "#language", `[data-key="language-${language}"]`);
		await phone.click(`language-${language}`);
		await phone.page.waitForSelector('[data-key="about-gps"]');
		for (const hash of screens()) {
			await phone.page.evaluate((h) => (location.hash = h), hash);
			await poll("the screen to be drawn", () => phone.page.evaluate(() => document.documentElement.dataset.hash === location.hash), Boolean);
			const bad = await phone.page.evaluate(() => {
				const out = [];
				if (document.documentElement.scrollWidth > innerWidth) out.push(`page is ${document.documentElement.scrollWidth} wide`);
				const targets = [...document.querySelectorAll("button, a, input, textarea, select")];
				for (const t of targets) {
					const r = t.getBoundingClientRect();
					const name = /** @type {HTMLElement} */ (t).dataset.key ?? t.id;
					if (r.width < 48 || r.height < 48) out.push(`${name} is ${r.width} × ${r.height}`);
					if (t.classList.contains("tap") && (r.width < 63 || r.height < 63)) out.push(`${name} is ${r.width} × ${r.height}, less than 64`);
					if (t.classList.contains("main") && r.height < 96) out.push(`main ${name} is ${r.height} high`);
					if (t.scrollWidth > t.clientWidth + 1 || t.scrollHeight > t.clientHeight + 1) if (t.tagName === "BUTTON") out.push(`text of ${name} is ${t.scrollWidth} × ${t.scrollHeight} in ${t.clientWidth} × ${t.clientHeight}`);
					const words = t.tagName === "BUTTON" && t.querySelector("span");
					if (words && parseFloat(getComputedStyle(words).fontSize) < 20) out.push(`${name} has small letters`);
				}
				for (const e of document.querySelectorAll(".counter .huge, .where > h1, .head > h1, .slot")) {
					const style = getComputedStyle(e);
					if (parseFloat(style.fontSize) < 28 || Number(style.fontWeight) < 700) out.push(`${e.className} ${style.fontSize} ${style.fontWeight}`);
				}
				const dock = document.querySelector(".dock .hand .main");
				if (dock && dock.getBoundingClientRect().top < innerHeight / 2) out.push("the main action is in the upper half");
				return out;
			});
			assert.deepEqual(bad, [], `${language} ${hash}`);
			if (language === "en" || hash === "#") {
				await phone.page.evaluate(axe);
				const found = await phone.page.evaluate(async () => (await /** @type {any} */ (window).axe.run()).violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target).join(" ")}`));
				assert.deepEqual(found, [], `${language} ${hash}`);
			}
		}
	}
	await phone.close();
});

/** Bytes of an answer as they travel. @param {string} address */
function travelled(address) {
	return new Promise((resolve, reject) => {
		http.get(address, { headers: { "Accept-Encoding": "gzip" } }, (answer) => {
			/** @type {Buffer[]} */
			const parts = [];
			answer.on("data", (p) => parts.push(p));
			answer.on("end", () => {
				const body = Buffer.concat(parts);
				resolve({ bytes: body.length, text: (answer.headers["content-encoding"] === "gzip" ? gunzipSync(body) : body).toString() });
			});
			answer.on("error", reject);
		}).on("error", reject);
	});
}

test("the first load is under 400 kB, nothing comes from elsewhere, the tags name their rows", async () => {
	const { text } = await travelled(`${estate.server.address}/field/sw.js`);
	const shell = JSON.parse(/self\.SHELL = (.*);\n/.exec(text)?.[1] ?? "");
	let bytes = 0;
	for (const [address] of shell.files) bytes += (await travelled(estate.server.address + address)).bytes;
	assert.ok(shell.files.length > 30);
	assert.ok(bytes < 400_000, `${bytes} bytes`);
	console.log(`first load of the phone page: ${shell.files.length} files, ${bytes} bytes compressed`);

	const page = await (await sharedPhone()).phone.context.newPage();
	/** @type {string[]} */
	const foreign = [];
	page.on("request", (r) => new URL(r.url()).host !== new URL(line.address).host && !r.url().startsWith("data:") && foreign.push(r.url()));
	await page.goto(`${line.address}/field/tags`);
	await poll("the tags", () => page.evaluate(() => document.documentElement.dataset.tags), Boolean);
	assert.equal(await page.locator(".tag").count(), 2 * estate.block.row_list.length);
	const first = estate.block.row_list[0].id;
	assert.equal(await page.getAttribute(".tag svg >> nth=1", "aria-label"), `${line.address}/field#row=${first}&end=far`);
	await page.evaluate(axe);
	assert.deepEqual(await page.evaluate(async () => (await /** @type {any} */ (window).axe.run()).violations.map((/** @type {any} */ v) => v.id)), []);
	assert.deepEqual(foreign, []);
	await page.close();
});
