// The page of people and devices, against the real program with users: users, a
// phone that joins by a link and is withdrawn, tokens, the log, the own account; what
// other roles see; light and dark, on a small phone.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
const password = "vier Reben am Hang";
const clean = { foreign: [], policy: [], errors: [] };

/** @typedef {import("playwright-core").Page} Page */
/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;

/** @param {string} path @param {string} method @param {object} body @param {string} [cookie] */
const send = (path, method, body, cookie) =>
	fetch(server.address + path, { method, headers: { "Content-Type": "application/json", ...(cookie ? { Cookie: cookie } : {}) }, body: JSON.stringify(body) });

before(async () => {
	server = await serveDemo(["--vines", "500"]);
	browser = await launch();
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

const ready = (/** @type {Page} */ page) => until(page, "the page to be read", () => document.documentElement.dataset.people === "ready");
const said = (/** @type {Page} */ page, /** @type {string} */ words) => until(page, words, `document.getElementById("announce").textContent.includes(${JSON.stringify(words)})`);

/** Signs in and opens a part. @param {string} name @param {string} part @param {Parameters<typeof openPage>[2]} [options] */
async function open(name, part, options = {}, word = password) {
	const opened = await openPage(browser, `${server.address}/signin?then=%2Fpeople#show=${part}`, { width: 1000, height: 800, ...options });
	await opened.page.fill("#name", name);
	await opened.page.fill("#password", word);
	await opened.page.click("button");
	await until(opened.page, "the page of people", () => location.pathname === "/people");
	await ready(opened.page);
	return opened;
}

/** @param {Page} page */
async function judge(page, what = "") {
	await page.evaluate(axe);
	const found = await page.evaluate(async () => {
		const { violations } = await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] });
		return violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`);
	});
	assert.deepEqual(found, [], what);
}

/** @param {Page} page */
async function makeLink(page) {
	await page.waitForSelector("#link-crew option[value=North]", { state: "attached" });
	await page.selectOption("#link-crew", "North");
	await page.click("#new-link [type=submit]");
}

test("without users the page says so and makes the first manager; no other page names anybody", async () => {
	const { page, context, noted } = await openPage(browser, `${server.address}/work`, { width: 1000, height: 700 });
	await until(page, "the head", () => document.querySelector("#head .report-estate"));
	assert.equal(await page.isVisible(".whoami"), false);
	await page.goto(`${server.address}/people#show=log`);
	await ready(page);
	assert.match((await page.textContent("#people")) ?? "", /only this machine.*courson user add/s);
	assert.equal(await page.locator("#head nav").count(), 0, "nothing else to choose");
	await judge(page);
	assert.deepEqual(noted, clean);
	await page.fill("#new-name", "Ada");
	await page.fill("#new-password", "short");
	await page.click("#new-user [type=submit]");
	await until(page, "the refusal", () => document.getElementById("new-password-fault")?.textContent);
	assert.match((await page.textContent("#new-password-fault")) ?? "", /at least 12 characters/, "in the server's words, beside the field");
	assert.equal(await page.evaluate(() => document.activeElement?.id), "new-password");
	await page.fill("#new-password", password);
	await page.keyboard.press("Enter");
	await page.waitForSelector('a[href^="/signin"]');
	await page.keyboard.press("Enter");
	await until(page, "the way in", () => location.pathname === "/signin");
	const signed = await send("/api/signin", "POST", { name: "Ada", password });
	const cookie = (signed.headers.get("set-cookie") ?? "").split(";")[0];
	assert.equal((await send("/api/crews/North", "PUT", { people: 4, hours_per_day: 7, skilled: true, language: "" }, cookie)).status, 200);
	await context.close();
});

test("users: added, another role, another password, removed; one manager stays", async () => {
	const { page, context, noted } = await open("Ada", "users");
	await page.fill("#new-name", " ada ");
	await page.fill("#new-password", "another long one");
	await page.click("#new-user [type=submit]");
	await until(page, "the refusal", () => document.getElementById("new-name-fault")?.textContent);
	assert.equal((await send("/api/signin", "POST", { name: "Ada", password })).status, 200, "adding a name that is there changes nobody");
	await page.fill("#new-name", "Ben");
	await page.selectOption("#new-role", "viewer");
	await page.click("#new-user .people-field button");
	const made = await page.inputValue("#new-password");
	assert.match(made, /^[a-z2-9]{4}(-[a-z2-9]{4}){3}$/);
	await page.click("#new-user [type=submit]");
	await page.waitForSelector("[data-user=Ben]");
	const ben = await send("/api/signin", "POST", { name: "Ben", password: made });
	assert.equal((await ben.json()).role, "viewer");

	await page.click("[data-user=Ben] [data-key^=role]");
	await page.selectOption("[data-user=Ben] select", "crew");
	await page.click("[data-user=Ben] [type=submit]");
	await until(page, "the refusal", () => document.querySelector("[data-user=Ben] [id$=crew-fault]")?.textContent);
	await page.selectOption("[data-user=Ben] select[id$=crew]", "North");
	await page.click("[data-user=Ben] [type=submit]");
	await until(page, "the crew", () => document.querySelector("[data-user=Ben]")?.textContent?.includes("Crew North"));

	await page.click("[data-user=Ben] [data-key^=password]");
	await page.fill("[data-user=Ben] input", "ganz neue Reben 27");
	await page.keyboard.press("Enter");
	await said(page, "Ben has a new password");
	assert.equal((await send("/api/signin", "POST", { name: "Ben", password: made })).status, 401);
	assert.equal((await send("/api/signin", "POST", { name: "Ben", password: "ganz neue Reben 27" })).status, 200);

	await page.click("[data-user=Ada] [data-key^=role]");
	await page.selectOption("[data-user=Ada] select", "viewer");
	await page.click("[data-user=Ada] [type=submit]");
	await until(page, "the refusal", () => document.querySelector("[data-user=Ada] .fault")?.textContent);
	assert.match((await page.textContent("[data-user=Ada]")) ?? "", /there must always be a manager/);
	await page.click("[data-user=Ada] [type=submit] + button");

	await page.click("[data-user=Ben] [data-key^=remove]");
	assert.equal(await page.evaluate(() => document.activeElement?.getAttribute("data-key")), "keep", "a slip of the finger removes nobody");
	await page.keyboard.press("Enter");
	await page.click("[data-user=Ben] [data-key^=remove]");
	await page.click("[data-user=Ben] [data-key=yes]");
	await until(page, "Ben to be gone", () => !document.querySelector("[data-user=Ben]"));
	assert.equal((await send("/api/signin", "POST", { name: "Ben", password: "ganz neue Reben 27" })).status, 401);
	assert.deepEqual({ ...noted, errors: noted.errors.filter((e) => !/ (409|422) /.test(e)) }, clean);
	await context.close();
});

test("a phone joins by the link that is shown once, and is refused once it is withdrawn", async () => {
	const { page, context } = await open("Ada", "links");
	await page.click("#new-link [type=submit]");
	await until(page, "the refusal", () => document.getElementById("link-crew-fault")?.textContent);
	await makeLink(page);
	await until(page, "the link", () => document.querySelector("#link-text"));
	const url = await page.inputValue("#link-text");
	assert.ok(url.startsWith(`${server.address}/join#`), url);
	assert.match((await page.textContent(".people-made")) ?? "", /shown only this once/);
	assert.match((await page.textContent(".people-made")) ?? "", /only to a person of crew North/);
	assert.ok(((await page.locator(".people-qr svg").boundingBox())?.width ?? 0) >= 300, "large enough to scan");
	await page.emulateMedia({ media: "print" });
	assert.equal(await page.isVisible(".people-qr svg"), true);
	assert.equal(await page.isVisible("#links-title"), false, "only the link is printed");
	await page.emulateMedia({ media: "screen" });

	const phone = await openPage(browser, url, { width: 320, height: 640, touch: true });
	await phone.page.fill("#device", "Ana's phone");
	await phone.page.tap("button");
	await until(phone.page, "the phone page", () => location.pathname === "/field");
	const asks = () => phone.page.evaluate(async () => (await fetch("/api/field")).status);
	assert.equal(await asks(), 200);
	await until(page, "the page to hear of it", () => document.querySelector(".people-made")?.textContent?.includes("has joined crew North"));
	assert.equal(await page.locator("#link-text").count(), 0, "a link that is used up is hidden");

	await page.click(`[data-phone="Ana's phone"] button`);
	await page.click(`[data-phone="Ana's phone"] [data-key=yes]`);
	await until(page, "the phone to be gone", () => !document.querySelector("[data-phone]"));
	assert.equal(await asks(), 401);
	await phone.context.close();

	await makeLink(page);
	await until(page, "another link", () => document.querySelector("#link-text"));
	const second = (await page.inputValue("#link-text")).split("#")[1];
	await page.waitForSelector("[data-link]");
	await page.click("[data-link] button");
	await until(page, "no link", () => !document.querySelector("[data-link]"));
	assert.equal((await send("/api/join", "POST", { code: second, device: "late" })).status, 403);
	await context.close();
});

test("a token is shown once, works, and is revoked; the log has it all", async () => {
	const { page, context, noted } = await open("Ada", "tokens");
	await page.fill("#token-name", "Weather mast");
	await page.click("#new-token [type=submit]");
	await until(page, "the token", () => document.querySelector("#token-text"));
	const token = await page.inputValue("#token-text");
	const asks = async () => (await fetch(`${server.address}/api/estate`, { headers: { Authorization: `Bearer ${token}` } })).status;
	assert.equal(await asks(), 200);
	await page.reload();
	await page.waitForSelector('[data-token="Weather mast"]');
	assert.ok(!(await page.content()).includes(token), "only once");
	await page.click('[data-token="Weather mast"] button');
	await page.click('[data-token="Weather mast"] [data-key=yes]');
	await until(page, "the token to be gone", () => !document.querySelector("[data-token]"));
	assert.equal(await asks(), 401);

	await page.click('[data-key="part-log"]');
	await page.waitForSelector("#people tbody tr");
	const log = await page.locator("#people tbody tr").allInnerTexts();
	for (const words of [/Ada\s+added or changed a user\s+Ben\s+done/, /Ada\s+removed a user\s+Ben\s+done/, /Ada\s+made a link for a phone of crew\s+North/, /Ana's phone\s+joined a crew/,
		/Ada\s+withdrew the link or phone of crew\s+North, phone Ana's phone\s+done/, /Ada\s+made a token\s+Weather mast/, /Ada\s+revoked a token\s+Weather mast\s+done/, /Ada\s+added or changed a user\s+Ada\s+refused \(409\)/])
		assert.ok(log.some((line) => words.test(line)), `${words} in\n${log.join("\n")}`);
	assert.match(log[0], /revoked a token/, "the newest first");
	await page.selectOption("#log-who", "Ana's phone");
	assert.deepEqual((await page.locator("#people tbody tr").allInnerTexts()).map((line) => /joined a crew/.test(line)), [true]);
	assert.equal(await page.getAttribute('[data-key="log-after"]', "aria-disabled"), "true");
	assert.deepEqual(noted, clean);
	await context.close();
});

test("who is no manager sees the own account only, changes the password and signs out", async () => {
	const signed = await send("/api/signin", "POST", { name: "Ada", password });
	const cookie = (signed.headers.get("set-cookie") ?? "").split(";")[0];
	assert.equal((await send("/api/users/Cia", "PUT", { role: "viewer", password }, cookie)).status, 201);
	const { page, context, noted } = await open("Cia", "log");
	assert.match((await page.textContent("#people")) ?? "", /Signed in as Cia, viewer/);
	assert.equal(await page.locator("#head nav").count(), 0);
	assert.deepEqual(noted, clean, "nothing was asked that is refused");
	await page.fill("#me-now", "not the present one");
	await page.fill("#me-new", "Reben im Schnee 27");
	await page.click("#my-password [type=submit]");
	await until(page, "the refusal", () => document.getElementById("me-now-fault")?.textContent);
	await page.fill("#me-now", password);
	await page.click("#my-password [type=submit]");
	await said(page, "The password is changed");
	assert.equal((await send("/api/signin", "POST", { name: "Cia", password: "Reben im Schnee 27" })).status, 200);

	await page.goto(`${server.address}/work`);
	await page.waitForSelector(".whoami .who-name");
	assert.equal(await page.locator('.whoami [href="/people"]').count(), 0, "the link to people is for managers");
	const other = await open("Cia", "me", {}, "Reben im Schnee 27");
	await other.page.click("#out-all");
	await until(other.page, "the way in", () => location.pathname === "/signin");
	assert.equal(await page.evaluate(async () => (await fetch("/api/me")).status), 401, "everywhere");
	await other.context.close();
	await context.close();
});

test("every head names who is signed in, leads managers to people, and lets out", async () => {
	const { page, context } = await open("Ada", "users");
	for (const path of ["/report", "/pruning", "/work", "/"]) {
		await page.goto(server.address + path);
		await page.waitForSelector(".whoami .who-name", { state: "attached" });
		await page.waitForSelector(':is(.whoami, .page-links) [href="/people"]', { state: "attached" });
		if (!(await page.isVisible(".whoami"))) await page.click(".more-toggle");
		assert.equal(await page.textContent(".whoami .who-name"), "Ada", path);
		assert.equal(await page.isVisible(':is(.whoami, .page-links) [href="/people"]'), true, path);
	}
	await page.click('[data-key="sign-out"]');
	await until(page, "the way in", () => location.pathname === "/signin");
	assert.equal(await page.evaluate(async () => (await fetch("/api/me")).status), 401);
	await context.close();
});

for (const ground of /** @type {const} */ (["light", "dark"]))
	test(`axe-core finds nothing and nothing is cut off at 320 px, ${ground}`, async () => {
		const { page, context } = await open("Ada", "users", { width: 320, height: 640, ground });
		for (const part of ["users", "links", "tokens", "log", "me"]) {
			await page.click(`[data-key="part-${part}"]`);
			await until(page, part, `document.querySelector('[aria-current]')?.dataset.key === "part-${part}" && document.documentElement.dataset.people === "ready"`);
			if (part === "users") await page.click("[data-user=Cia] [data-key^=remove]");
			if (part === "links") {
				await makeLink(page);
				await page.waitForSelector("#link-text");
			}
			await judge(page, part);
			const { wide, small } = await page.evaluate(() => ({
				wide: document.documentElement.scrollWidth - innerWidth,
				small: [...document.querySelectorAll("button, select, a.button, input:not([type=checkbox])")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 43.5).map((e) => e.outerHTML),
			}));
			assert.ok(wide <= 0, `${part}: ${wide} px too wide`);
			assert.deepEqual(small, [], part);
		}
		await context.close();
	});
