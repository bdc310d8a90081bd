// What was worked out of the measures, on the map: where a vine's vigour is from,
// patches and their figures, change, and that new findings arrive by themselves.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { latOf, lonOf } from "../../lib/ground.js";
import { GLYPH } from "../../style/ground.js";
import { estateAt, viewOf } from "./estate.js";
import { poll } from "./fieldhelp.js";
import { apart, lens, readPicture } from "./picture.js";
import { atRest, launch, openPage, serveDemo, until } from "./start.js";

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;
/** The season after the dry summer, in which the demo's blocks have weak patches. */
let season = 0;
/** @type {any} a block with a weak patch, as its findings have it */
let found;
/** @type {any} */
let patch;

before(async () => {
	server = await serveDemo(["--vines", "6000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	season = demo.estate.season - 1;
	const end = Date.now() + 60_000;
	for (;;) {
		const all = await demo.json(`/api/findings?season=${season}`);
		const ready = all.blocks.every((/** @type {any} */ b) => b.state === "ready");
		const best = all.blocks.filter((/** @type {any} */ b) => b.weak && b.mean_kg_m).sort((/** @type {any} */ a, /** @type {any} */ b) => b.weak_vines - a.weak_vines)[0];
		if (ready && best) {
			found = await demo.json(`/api/blocks/${best.block}/findings?season=${season}`);
			break;
		}
		assert.ok(Date.now() < end, `no block with a weak patch: ${JSON.stringify(all.blocks.slice(0, 2))}`);
		await new Promise((resolve) => setTimeout(resolve, 300));
	}
	patch = found.patches.list.filter((/** @type {any} */ p) => p.kind === "weak").sort((/** @type {any} */ a, /** @type {any} */ b) => b.vines - a.vines)[0];
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

/** A vine of the patch and where it is. */
async function vineInPatch() {
	const stand = await demo.stand(found.block, season);
	const far = (/** @type {number} */ i) => Math.hypot(lonOf(stand.wx[i]) - patch.center[0], latOf(stand.wy[i]) - patch.center[1]);
	let best = -1;
	for (let i = 0; i < stand.count; i++) if (stand.patch[i] === 2 && (best < 0 || far(i) < far(best))) best = i;
	assert.ok(best >= 0, "the stand marks the vines of the patch");
	return { stand, i: best, at: [lonOf(stand.wx[best]), latOf(stand.wy[best])] };
}

test("a weighed vine has a point in its middle, an estimated one is smaller", async () => {
	const stand = await demo.stand(found.block, season);
	const i = stand.basis.findIndex((b, k) => b === 1 && stand.condition[k] === 1 && k > 20);
	assert.ok(i > 0, "some vine of the block was weighed");
	/** Bytes of the stand, every second vine made an estimate. */
	const change = async (/** @type {import("playwright-core").Route} */ route) => {
		const response = await route.fetch();
		const body = await response.body();
		if (body.toString("latin1", 0, 4) !== "CRSN") return route.fulfill({ response });
		const head = JSON.parse(body.toString("utf8", 8, 8 + body.readUInt32LE(4)));
		const { offset } = head.columns.find((/** @type {any} */ c) => c.name === "basis");
		for (let k = 0; k < head.count; k++) body[offset + k] = k === i ? 1 : 3;
		return route.fulfill({ response, body });
	};
	const at = [lonOf(stand.wx[i]), latOf(stand.wy[i]), 20.4];
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "vigour", at }), { width: 1160, height: 640, before: (p) => p.route("**/stand/**", change) });
	await atRest(page);
	const picture = readPicture(await page.screenshot());
	const { onScreen } = await lens(page);
	const p = onScreen(stand.wx[i], stand.wy[i]);
	assert.ok(apart(picture.at(p.x, p.y), GLYPH.ink) < 40, `the point: ${picture.at(p.x, p.y)}`);
	const wide = (/** @type {number} */ k) => {
		const cls = demo.legends.vigour.classes.find((/** @type {any} */ c) => c.code === stand.vigour[k]);
		const q = onScreen(stand.wx[k], stand.wy[k]);
		let n = 0;
		for (let dx = -12; dx <= 12; dx++) if (apart(picture.at(q.x + dx, q.y - 6), cls.light) < 25) n++;
		return n;
	};
	const other = [i + 1, i - 1, i + 2, i - 2].find((k) => stand.condition[k] === 1 && stand.vigour[k]) ?? -1;
	assert.ok(other > 0 && wide(other) > 0 && wide(i) >= wide(other) + 6, `${wide(i)} px against ${wide(other)}`);
	assert.match((await page.textContent(".legend-basis")) ?? "", /measured 1.*estimated/s);
	const { blocks } = await demo.json(`/api/blocks?season=${season}`);
	const sum = (/** @type {(t: any) => number} */ of) => blocks.reduce((/** @type {number} */ n, /** @type {any} */ b) => n + of(b.totals), 0);
	const [living, weighed] = [sum((b) => b.to_prune), sum((b) => b.weighed)];
	assert.ok(weighed > 0 && weighed < living / 2, "most vines have no weight");
	const line = (await page.textContent(".estate-line")) ?? "";
	assert.ok(line.includes(`${Math.max(1, Math.round((100 * weighed) / living))}% weighed`) && !/measured/.test(line), `only weights count as measured: ${line}`);
	await page.click('[data-key="side-doubt"]');
	await until(page, "the legend of how sure", `location.hash.includes("theme=doubt") && document.querySelectorAll("#legend [data-code]").length === ${demo.legends.doubt.classes.length}`);
	assert.ok(await page.isChecked("#theme-vigour"), "it stays a side of vigour");
	await context.close();
});

test("a patch is outlined, and a click opens its figures", async () => {
	const at = [...patch.center, 15.6];
	const { page, context, noted } = await openPage(browser, viewOf(server.address, { season, theme: "patches", at }), { width: 1160, height: 640 });
	await atRest(page);
	const { onScreen } = await lens(page);
	const { stand, i } = await vineInPatch();
	const p = onScreen(stand.wx[i], stand.wy[i]);
	// Tiles that are just being read anew have nothing to press on: then once more.
	await poll("the patch", async () => {
		await page.mouse.click(p.x, p.y);
		return page.waitForSelector("#patch .facts", { timeout: 2_000 }).then(() => true, () => false);
	}, Boolean, 60_000);
	const text = (await page.textContent("#patch")) ?? "";
	assert.match(text, new RegExp(`Weak patch in ${found.code}, ${new Intl.NumberFormat("en").format(patch.vines)} vines`));
	assert.match(text, /Tested vine by vine/);
	assert.match(text, new RegExp(`${patch.gaps} \\(`));
	assert.match(await page.evaluate(() => location.hash), /patch=/);
	assert.match((await page.textContent("#places")) ?? "", /weak patch/);
	await page.keyboard.press("Escape");
	await until(page, "the panel to close", () => document.getElementById("patch")?.hidden === true);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("near, a vine of a patch is looked at, and leads to its patch", async () => {
	const { stand, i, at } = await vineInPatch();
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "patches", at: [...at, 19.6] }), { width: 1160, height: 640 });
	await atRest(page);
	const { onScreen } = await lens(page);
	const p = onScreen(stand.wx[i], stand.wy[i]);
	await page.mouse.click(p.x, p.y);
	await until(page, "the vine", () => document.documentElement.dataset.vine === "shown");
	assert.match((await page.textContent(".vine-found")) ?? "", /Weak patch/);
	await page.click('[data-key="to-patch"]');
	await page.waitForSelector("#patch .facts");
	assert.ok(await page.isHidden("#vine"));
	await context.close();
});

test("patches are outlined over vigour when that is wished", async () => {
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "vigour", at: [...patch.center, 19] }), { width: 1160, height: 640 });
	await atRest(page);
	const dark = async () => {
		const picture = readPicture(await page.screenshot());
		const { box } = await lens(page);
		let n = 0;
		for (let y = box.top + 60; y < box.top + box.height - 40; y++) for (let x = box.left + 320; x < box.left + box.width - 80; x++) if (apart(picture.at(x, y), "#1a1f1c") < 12) n++;
		return n;
	};
	const before = await dark();
	await page.check("#outlines");
	await until(page, "it in the address", () => location.hash.includes("outlines=1"));
	await atRest(page);
	const after = await dark();
	assert.ok(after > before + 150, `${before} dark pixels, then ${after}`);
	await context.close();
});

test("a vine weighed elsewhere changes its findings on an open map by itself", async () => {
	const { stand, i, at } = await vineInPatch();
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "vigour", at: [...at, 20] }), { width: 1160, height: 640 });
	await atRest(page);
	const k = [...stand.basis.keys()].find((n) => stand.basis[n] === 2 && stand.condition[n] === 1 && Math.abs(n - i) < 6) ?? -1;
	assert.ok(k >= 0, "a calibrated vine nearby");
	const count = async () => Number(/measured (\d+)/.exec((await page.textContent(".legend-basis")) ?? "")?.[1]);
	const before = await count();
	const posted = await demo.post({ id: crypto.randomUUID().replace(/^(.{14})4/, "$17"), device: "scales", seq: 1, at: new Date().toISOString(), season, block: found.block, vines: [stand.id[k]], kind: "measure", value: { quantity: "pruning_weight", unit: "g", value: 431 } });
	assert.equal(posted.results[0].result, "stored", JSON.stringify(posted));
	await until(page, "one more measured", `Number(/measured (\\d+)/.exec(document.querySelector(".legend-basis")?.textContent ?? "")?.[1]) === ${before + 1}`, 60_000);
	await context.close();
});

test("change: the table of vines has it in words", async () => {
	const { stand, i } = await vineInPatch();
	const row = stand.rows.find((r) => i >= r.first && i < r.first + r.count);
	const { page, context } = await openPage(browser, viewOf(server.address, { season, theme: "change", more: `&show=table&block=${found.block}&row=${row?.id}` }), { width: 1160, height: 640 });
	await page.waitForSelector('#table [data-key^="look-"]');
	const heads = await page.$$eval("#table thead th", (list) => list.map((e) => e.textContent));
	const cells = await page.$$eval(`#table tr[data-vine="${stand.id[i]}"] > *`, (list) => list.map((e) => e.textContent?.toLowerCase()));
	const word = (/** @type {string} */ theme, /** @type {number} */ code) => demo.legends[theme].classes.find((/** @type {any} */ c) => c.code === code).label.toLowerCase();
	assert.equal(cells[heads.indexOf("Change")], word("change", stand.change[i]));
	assert.equal(cells[heads.indexOf("Patches")], word("patches", stand.patch[i]));
	assert.match(cells[heads.indexOf("Vigour is")] ?? "", /measured|from another measure/);
	await context.close();
});
