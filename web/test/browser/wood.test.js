// Choosing spur and cane at a vine from the shoots that stand there: what is typed
// goes to the real server, and its answer is shown in words.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { estateAt } from "./estate.js";
import { launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
let vineAddress = "";

before(async () => {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	const demo = await estateAt(server.address);
	const { season } = demo.estate;
	const block = [...demo.blocks].sort((a, b) => a.vines - b.vines)[0];
	const stand = await demo.stand(block.id, season);
	const id = stand.id[stand.condition.findIndex((c, k) => c === 1 && k > 9)];
	vineAddress = `${server.address}/#season=${season}&theme=load&block=${block.id}&vine=${id}`;
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

/** The form, open. @param {object} [options] */
async function openForm(options = {}) {
	const opened = await openPage(browser, vineAddress, { width: 1280, height: 900, ...options });
	await until(opened.page, "the line", () => document.querySelector(".plan-large") !== null);
	await opened.page.click(".why summary");
	await opened.page.click('[data-key="wood"]');
	await opened.page.waitForSelector("#wood0-name");
	return opened;
}

/** @param {import("playwright-core").Page} page @param {string} shoot @param {Record<string, string>} values */
async function fill(page, shoot, { faces, ...values }) {
	if (faces) await page.selectOption(`#${shoot}-faces`, faces);
	for (const [name, value] of Object.entries(values)) await page.fill(`#${shoot}-${name}`, value);
}

/** @param {import("playwright-core").Page} page */
async function choose(page) {
	await page.click('[data-key="wood-choose"]');
	await until(page, "the answer", () => document.querySelector(".wood-arm") !== null && !(/** @type {HTMLElement} */ (document.querySelector(".wood-answer")).dataset.state));
}

test("first bud on top: the second takes its part, with its climb, its follow-up and the other ways", async () => {
	const { page, context, noted } = await openForm();
	await fill(page, "wood0-shoot0", { faces: "above", base_mm: "8", internode_mm: "30", diameter_mm: "8.4" });
	await fill(page, "wood0-shoot1", { faces: "below", out_mm: "55", base_mm: "12", internode_mm: "70", diameter_mm: "9.5" });
	await fill(page, "wood1-shoot0", { faces: "below", base_mm: "10", diameter_mm: "7" });
	await fill(page, "wood1-shoot1", { faces: "below", out_mm: "40", base_mm: "10", diameter_mm: "11" });
	await page.selectOption("#wood-canes", "1");
	await choose(page);
	const left = (await page.textContent('[data-arm="left"]')) ?? "";
	assert.match(left, /Shoot 1: spur of 3 nodes/);
	assert.match(left, /climbs 38/);
	assert.match(left, /Shoot 2: the cane\. Adequate: 9\.5 mm/);
	assert.match(left, /At shoot thinning keep the second and third shoots/);
	assert.match(left, /Other ways.*base bud.*; but /s);
	assert.match((await page.textContent(".wood-keep")) ?? "", /right/, "the stronger cane stays");
	assert.match((await page.textContent(".wood-answer")) ?? "", /work-safety rules apply/);

	// A tighter limit leaves the base bud; a shoot taken away goes from the answer.
	await page.fill("#wood-climb", "20");
	await choose(page);
	await until(page, "the other spur", () => /spur of 1 node/.test(document.querySelector('[data-arm="left"]')?.textContent ?? ""));
	assert.deepEqual(noted.errors, []);
	await context.close();
});

test("what cannot be meant is said beside its field; nothing measured gives the rule's question", async () => {
	const { page, context, noted } = await openForm();
	await page.fill("#wood0-shoot0-diameter_mm", "900");
	await page.click('[data-key="wood-choose"]');
	await until(page, "the fault", () => /between 0 and 60/.test(document.querySelector("#wood0-shoot0-diameter_mm-fault")?.textContent ?? ""));
	assert.equal(await page.locator(".wood-arm").count(), 0);
	await page.fill("#wood0-shoot0-diameter_mm", "");
	await page.click('[data-key="wood0-more"]');
	await page.waitForSelector("#wood0-shoot2-on");
	await page.selectOption("#wood0-shoot2-on", "old wood");
	await choose(page);
	const left = (await page.textContent('[data-arm="left"]')) ?? "";
	assert.match(left, /nobody has looked where its first clear bud faces/);
	assert.match(left, /water shoot/, "old wood is for rebuilding only");
	assert.deepEqual(noted.errors, []);
	await context.close();
});

for (const [name, options] of /** @type {const} */ ([["light", { ground: "light" }], ["dark", { ground: "dark" }], ["320 px", { width: 320, height: 700 }]]))
	test(`axe-core finds nothing, nothing is cut off: ${name}`, async () => {
		const { page, context } = await openForm(options);
		await fill(page, "wood0-shoot0", { faces: "above", base_mm: "8", internode_mm: "30" });
		await choose(page);
		await page.evaluate(axe);
		const found = await page.evaluate(async () => (await /** @type {any} */ (globalThis).axe.run(".wood-form")).violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target).join(" ")}`));
		assert.deepEqual(found, []);
		const wide = await page.$$eval(".wood-form *", (all) => all.filter((e) => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX === "visible" && e.clientWidth > 0).map((e) => e.className || e.tagName));
		assert.deepEqual(wide, []);
		await context.close();
	});
