// Starts what the browser tests need: the built program on a fresh demo estate,
// and the system's Chromium.

import { execFileSync, spawn } from "node:child_process";
import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import path from "node:path";
import { chromium } from "playwright-core";

const root = path.resolve(import.meta.dirname, "../../..");
/** The one without windows comes first: the same engine, and a page costs a third less. */
export const BROWSERS = [process.env.CHROMIUM, "/usr/bin/chromium-headless-shell", "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

/** Flags for machines without a graphics chip; kept so that a change of default does no harm. */
const FLAGS = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist", "--force-color-profile=srgb", "--hide-scrollbars"];

/** How long a state may take on a machine that does other work too; a test that fails takes that long. */
export const PATIENCE_MS = 120_000;

/**
 * COURSON_TEST_SLOW=6 makes every page's processor that many times slower, as an old
 * phone or a busy machine would be: to find what depends on speed.
 * @param {import("playwright-core").Page} page
 */
export async function slowDown(page) {
	page.setDefaultTimeout(PATIENCE_MS);
	const rate = Number(process.env.COURSON_TEST_SLOW ?? 1);
	if (!(rate > 1)) return;
	const devtools = await page.context().newCDPSession(page);
	await devtools.send("Emulation.setCPUThrottlingRate", { rate });
}

/** @param {string[]} [more] flags */
export function launch(more = []) {
	const executablePath = BROWSERS.find((p) => p && existsSync(p));
	if (!executablePath) throw new Error("no Chromium found: install it, or name it in CHROMIUM");
	return chromium.launch({ executablePath, args: [...FLAGS, ...more] });
}

/**
 * A page in a profile of its own, with everything noted that must not happen:
 * requests to others, refusals of the content policy, errors.
 * @param {import("playwright-core").Browser} browser
 * @param {string} address
 * @param {{width?: number, height?: number, ground?: "light" | "dark", before?: (page: import("playwright-core").Page) => any, touch?: boolean, zoom?: number}} [options]
 */
export async function openPage(browser, address, { width = 800, height = 500, ground = "light", before, touch = false } = {}) {
	const context = await browser.newContext({ viewport: { width, height }, colorScheme: ground, reducedMotion: "reduce", hasTouch: touch, serviceWorkers: "block" });
	const page = await context.newPage();
	await slowDown(page);
	const noted = { foreign: /** @type {string[]} */ ([]), policy: /** @type {string[]} */ ([]), errors: /** @type {string[]} */ ([]) };
	const home = new URL(address).host;
	page.on("request", (r) => {
		const url = new URL(r.url());
		if (url.protocol.startsWith("http") && url.host !== home) noted.foreign.push(r.url());
	});
	page.on("console", (m) => {
		if (/Content Security Policy|Content-Security-Policy/i.test(m.text())) noted.policy.push(m.text());
		else if (m.type() === "error") noted.errors.push(m.text());
	});
	page.on("pageerror", (e) => noted.errors.push(String(e)));
	await page.addInitScript(() => document.addEventListener("securitypolicyviolation", (e) => console.log(`Content Security Policy: ${e.violatedDirective} ${e.blockedURI}`)));
	if (before) await before(page);
	await page.goto(address);
	return { page, context, noted };
}

/**
 * Waits until a condition on the page's own marks holds. Polls from here: a
 * condition inside the page that is a promise would count as true.
 * @param {import("playwright-core").Page} page
 * @param {string} what
 * @param {() => any} test runs in the page
 * @param {number} [ms]
 */
export async function until(page, what, test, ms = PATIENCE_MS) {
	const end = Date.now() + ms;
	for (;;) {
		const got = await page.evaluate(test).catch(() => null);
		if (got) return got;
		if (Date.now() > end) throw new Error(`waited ${ms} ms for ${what}; marks: ${JSON.stringify(await page.evaluate(() => ({ ...document.documentElement.dataset })).catch(() => null))}`);
		await new Promise((resolve) => setTimeout(resolve, 50));
	}
}

/**
 * The map is at rest, what is in view has been loaded, and nothing new is on its way.
 * @param {import("playwright-core").Page} page
 */
export async function atRest(page) {
	const rests = () => until(page, "the map to rest", () => {
		const { map, mapState, nearby, news } = document.documentElement.dataset;
		return !news && (map === "none" || (map === "ready" && mapState === "idle" && ["ready", "quiet", "none"].includes(nearby ?? "")));
	});
	await rests();
	// What is put off to the next frame, such as bringing a vine into view, moves it once more.
	await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => setTimeout(() => resolve(true)))));
	await rests();
}

/** The program to test: COURSON_BIN, or built now. */
function program(folder) {
	if (process.env.COURSON_BIN) return process.env.COURSON_BIN;
	const bin = path.join(folder, "courson");
	execFileSync("go", ["build", "-o", bin, "./cmd/courson"], { cwd: root, stdio: "inherit" });
	return bin;
}

/**
 * A demo estate of its own, served on a free port.
 * @param {string[]} [more] arguments
 * @param {{url: string, drop: () => Promise<void>} | null} [database] where the estate is kept; else in a GeoPackage
 */
export async function serveDemo(more = [], database = null) {
	const folder = mkdtempSync(path.join(tmpdir(), "courson-web-"));
	const bin = program(folder);
	const data = database?.url ?? path.join(folder, "demo.gpkg");
	const server = { address: "", bin, data, kill, restart, stop };
	/** @type {import("node:child_process").ChildProcess | null} */
	let child = null;

	/** @param {string[]} args */
	const run = (args) =>
		new Promise((resolve, reject) => {
			const started = spawn(bin, args, { stdio: ["ignore", "pipe", "pipe"] });
			child = started;
			let text = "";
			const listen = (/** @type {Buffer} */ chunk) => {
				text += chunk;
				const found = /https?:\/\/[0-9.:a-z[\]]+/i.exec(text);
				if (found) resolve(found[0]);
			};
			started.stdout?.on("data", listen);
			started.stderr?.on("data", listen);
			started.on("exit", (code) => reject(new Error(`the program ended with ${code}: ${text}`)));
		});
	/** As a power cut would. */
	async function kill() {
		const gone = new Promise((resolve) => child?.once("exit", resolve));
		child?.kill("SIGKILL");
		await gone;
	}
	async function restart() {
		server.address = await run(["serve", "--data", data, "--addr", new URL(server.address).host]);
	}
	async function stop() {
		if (child && child.exitCode === null && child.signalCode === null) await kill();
		await database?.drop();
		rmSync(folder, { recursive: true, force: true });
	}
	try {
		server.address = await run(["demo", "--addr", "127.0.0.1:0", "--data", data, ...more]);
	} catch (error) {
		await stop();
		throw error;
	}
	return server;
}

/** Shows the map, the plan or the table, by way of the menu where there is no room for the choice in the head. @param {import("playwright-core").Page} page @param {"map" | "plan" | "table"} pane */
export async function choosePane(page, pane) {
	if (!(await page.isVisible(`[for=pane-${pane}]`))) await page.click(".more-toggle");
	await page.click(`[for=pane-${pane}]`);
}
