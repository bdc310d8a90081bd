// Images under the rows, against the real program: what is imported is offered,
// drawn in the colours of its legend pixel by pixel, and told with its pixel size.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, test } from "node:test";
import { worldX, worldY } from "../../lib/ground.js";
import { estateAt } from "./estate.js";
import { lens, readPicture } from "./picture.js";
import { atRest, launch, openPage, serveDemo, until } from "./start.js";
import { writeTiff } from "./tiff.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
const folder = mkdtempSync(path.join(tmpdir(), "courson-images-"));

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;
/** @type {import("../../lib/images.js").KeptImage} */
let image;
/** @type {any} */
let block;
/** @type {(lon: number, lat: number) => number} a value for each quarter of the estate, in steps across */
let value;

before(async () => {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	block = demo.blocks[0];
	const [w, s, e, n] = demo.estate.bounds;
	value = (lon, lat) => 0.15 + 0.7 * Math.floor(4 * ((lon - w) / (e - w))) / 4 + (lat > (s + n) / 2 ? 0.1 : 0);
	const file = path.join(folder, "canopy.tif");
	writeFileSync(file, writeTiff(demo.estate.bounds, 40, 40, value));
	execFileSync(server.bin, ["import", "--data", server.data, "--as", "raster", "--season", String(demo.estate.season), "--date", "2026-08-10", "--unit", "canopy_index=NDVI", "--sensor", "Kite", file], { stdio: "pipe" });
	({ images: [image] } = await demo.json("/api/images"));
});
after(async () => {
	await browser?.close();
	await server?.stop();
	rmSync(folder, { recursive: true, force: true });
});

/** @param {string} more @param {number} [zoom] */
const address = (more, zoom = 18) => `${server.address}/#season=${demo.estate.season}&theme=condition&at=${block.center.join()},${zoom}${more}`;
const shown = (/** @type {import("playwright-core").Page} */ page, /** @type {string} */ text) => until(page, text, `document.querySelector(".legend-image-facts")?.textContent.includes(${JSON.stringify(text)})`);

test("an image is offered, and lies under the rows in the colours of its legend; alone, rows and vines give way", async () => {
	const { page, context, noted } = await openPage(browser, address("", 17), { width: 1280, height: 800 });
	await until(page, "the choice", () => document.querySelectorAll("#map-image option").length === 2);
	assert.equal((await page.textContent("#map-image option:nth-child(2)"))?.trim(), "NDVI, Aug 10, 2026, Kite");
	await page.selectOption("#map-image", image.id);
	await shown(page, "band 1");
	assert.match(page.url(), new RegExp(`image=${image.id}`));
	const facts = (await page.textContent(".legend-image-facts")) ?? "";
	const size = image.pixel_m.toFixed(2);
	assert.ok(facts.includes(`pixels of ${size}`), `${size} in ${facts}`);
	assert.match(facts, /wider than a row: the image tells areas apart/);
	assert.equal(await page.locator(".image-classes li").count(), image.legend.classes.length);
	await page.check("#map-bare");
	await until(page, "the address to say so", () => /bare=1/.test(location.hash));
	await atRest(page);
	const look = await lens(page);
	const seen = readPicture(await page.screenshot());
	const [w, s, e, n] = image.bounds;
	const box = await page.locator("#legend").boundingBox();
	let told = 0;
	for (let i = 0; i < 12; i++)
		for (let j = 0; j < 12; j++) {
			const [lon, lat] = [w + ((i + 0.5) / 12) * (e - w), s + ((j + 0.5) / 12) * (n - s)];
			const { x, y } = look.onScreen(worldX(lon), worldY(lat));
			if (x < 350 || x > 1200 || y < 70 || y > 780 || (box && x < box.x + box.width + 10 && y > box.y - 10)) continue;
			const v = value(lon, lat);
			const cls = image.legend.classes.find((c) => v >= (c.from ?? -Infinity) && v < (c.to ?? Infinity));
			if (seen.at(x, y) === cls?.light) told++;
			else told -= 0.5;
		}
	assert.ok(told > 20, `${told} places in the colour of their class`);
	await page.goBack();
	await until(page, "rows again", () => !/bare=1/.test(location.hash) && !(/** @type {HTMLInputElement} */ (document.querySelector("#map-bare"))?.checked));
	await page.selectOption("#map-image", "");
	await until(page, "no image", () => !/image=/.test(location.hash) && document.querySelector(".image-classes") === null);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});

test("an image that is not kept any more is said to be gone; on a phone nothing hangs over; axe-core finds nothing", async () => {
	const { page, context } = await openPage(browser, address("&image=0-0"), { width: 320, height: 640, ground: "dark" });
	await shown(page, "not kept any more");
	await page.selectOption("#map-image", image.id);
	await shown(page, "have these colours");
	assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 320);
	await atRest(page);
	await page.evaluate(axe);
	const violations = await page.evaluate(async () => {
		const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
		return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
	});
	assert.deepEqual(violations, []);
	await context.close();
});

test("who may can take the image off the map, asked once and told what stays", async () => {
	const { page, context, noted } = await openPage(browser, address(`&image=${image.id}`), { width: 1280, height: 800 });
	await until(page, "the way to take it off", () => document.querySelector(".legend-image-remove [data-key=image-remove]") !== null && !(/** @type {HTMLElement} */ (document.querySelector(".legend-image-remove"))?.hidden));
	const state = (/** @type {string} */ want) => until(page, `removal ${want}`, `document.querySelector(".legend-image-remove")?.dataset.state === ${JSON.stringify(want)}`);
	await page.click("[data-key=image-remove]");
	await state("asked");
	assert.match((await page.textContent(".legend-image-remove")) ?? "", /canopy\.tif goes from the map, for everyone.*stay in their records/);
	await page.click("[data-key=image-keep]");
	await state("ready");
	assert.equal((await demo.json("/api/images")).images.length, 1, "kept");
	await page.click("[data-key=image-remove]");
	await state("asked");
	await page.click("[data-key=image-remove]");
	await until(page, "the choice to go", () => /** @type {HTMLElement} */ (document.querySelector(".legend-image")).hidden && !/image=/.test(location.hash));
	assert.deepEqual((await demo.json("/api/images")).images, []);
	assert.deepEqual(noted, { foreign: [], policy: [], errors: [] });
	await context.close();
});
