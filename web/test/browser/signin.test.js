// Signing in and joining a crew, in a real browser: with and without JavaScript, by
// keyboard, on a small phone, and by the rules that axe-core checks.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
const password = "vier Reben am Hang";

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;

/** @param {string} path @param {string} method @param {object} body @param {string} [cookie] */
const send = (path, method, body, cookie) =>
	fetch(server.address + path, { method, headers: { "Content-Type": "application/json", ...(cookie ? { Cookie: cookie } : {}) }, body: JSON.stringify(body) });

before(async () => {
	server = await serveDemo(["--vines", "500"]);
	// Where there are no users yet, whoever sits at the machine makes the first.
	assert.equal((await send("/api/users/Ada", "PUT", { role: "manager", password })).status, 201);
	browser = await launch();
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

/** @param {import("playwright-core").Page} page */
const shownTrouble = (page) => page.evaluate(() => [...document.querySelectorAll(".trouble")].filter((e) => /** @type {HTMLElement} */ (e).checkVisibility()).map((e) => e.textContent).join());

test("whoever is not signed in is asked, and then comes to where they wanted to go", async () => {
	const { page, context, noted } = await openPage(browser, `${server.address}/report?x=1#block=A1&season=2027`);
	assert.equal(await page.evaluate(() => location.pathname + location.search + location.hash), "/signin?then=%2Freport%3Fx%3D1#block=A1&season=2027");
	await page.keyboard.press("Tab");
	await page.keyboard.type("ada");
	await page.keyboard.press("Tab");
	await page.keyboard.type("not the password");
	await page.keyboard.press("Enter");
	await until(page, "what went wrong", () => !document.getElementById("wrong")?.hidden);
	assert.match(await shownTrouble(page), /not right/);
	assert.equal(await page.evaluate(() => document.activeElement?.id), "password");
	await page.fill("#password", password);
	await page.keyboard.press("Enter");
	await until(page, "the report", () => location.pathname === "/report");
	assert.match(await page.evaluate(() => location.search + location.hash), /^\?x=1#/);
	const [cookie] = await context.cookies();
	assert.equal(cookie.httpOnly, true);
	assert.equal(cookie.sameSite, "Lax");
	assert.equal(await page.evaluate(() => document.cookie), "", "no script sees it");
	assert.deepEqual(noted.foreign, []);
	assert.deepEqual(noted.policy, []);
	await context.close();
});

test("signing in works without JavaScript", async () => {
	const context = await browser.newContext({ javaScriptEnabled: false });
	const page = await context.newPage();
	await page.goto(`${server.address}/pruning`);
	await page.fill("#name", "Ada");
	await page.fill("#password", "not the password");
	await page.click("button");
	assert.equal(await page.isVisible("#wrong"), true);
	assert.equal(await page.isVisible("#often"), false);
	assert.equal(new URL(page.url()).search, "?then=%2Fpruning", "where they wanted to go is kept");
	await page.fill("#name", "Ada");
	await page.fill("#password", password);
	await page.click("button");
	assert.equal(new URL(page.url()).pathname, "/pruning");
	await context.close();
});

test("a phone joins a crew by its link, once", async () => {
	const signed = await send("/api/signin", "POST", { name: "Ada", password });
	const cookie = (signed.headers.get("set-cookie") ?? "").split(";")[0];
	const link = await (await send("/api/crew-links", "POST", { crew: "North" }, cookie)).json();
	const asked = /** @type {string[]} */ ([]);
	const { page, context } = await openPage(browser, server.address + link.path, { width: 320, height: 600, touch: true, before: (p) => p.on("request", (r) => void asked.push(r.url() + JSON.stringify(r.headers()))) });
	assert.equal(await shownTrouble(page), "");
	await page.fill("#device", "Ana's phone");
	await page.tap("button");
	await until(page, "the phone page", () => location.pathname === "/field");
	const me = await page.evaluate(async () => (await fetch("/api/me")).json());
	assert.deepEqual(me, { name: "Ana's phone", role: "crew", crew: "North" });
	assert.equal(await page.evaluate(async () => (await fetch("/api/estate")).status), 403);
	const code = link.path.split("#")[1];
	assert.equal(asked.filter((text) => text.includes(code)).length, 0, "the code stands in no address and no header");
	await context.close();

	const other = await openPage(browser, server.address + link.path);
	await other.page.fill("#device", "another");
	await other.page.click("button");
	await until(other.page, "the refusal", () => !document.getElementById("trouble")?.hidden);
	assert.match(await shownTrouble(other.page), /used already/);
	await other.context.close();
	const bare = await openPage(browser, `${server.address}/join`);
	assert.match(await shownTrouble(bare.page), /lacks the code/);
	await bare.context.close();
});

for (const ground of /** @type {const} */ (["light", "dark"])) {
	test(`axe-core finds nothing, all fits on a small phone, targets are large: ${ground}`, async () => {
		for (const path of ["/signin", "/join"]) {
			const { page, context, noted } = await openPage(browser, server.address + path, { width: 320, height: 600, ground });
			if (path === "/signin") await page.evaluate(() => document.querySelectorAll(".trouble").forEach((e) => ((/** @type {HTMLElement} */ (e)).hidden = false)));
			await page.evaluate(axe);
			const found = await page.evaluate(async () => {
				const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
				return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target).join(" ")}`);
			});
			assert.deepEqual(found, [], path);
			assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${path} is wider than the phone`);
			const small = await page.evaluate(() => [...document.querySelectorAll("input, button")].filter((e) => e.getBoundingClientRect().height < 48).map((e) => e.id || e.tagName));
			assert.deepEqual(small, [], path);
			assert.deepEqual(noted.policy, []);
			await context.close();
		}
	});
}
