// What the tests of the phone page share: orders on a demo estate, a line to the
// server that can be cut, broken and listened to, phones that can be killed.

import { existsSync, mkdtempSync, rmSync } from "node:fs";
import http from "node:http";
import { tmpdir } from "node:os";
import path from "node:path";
import { chromium } from "playwright-core";
import { BROWSERS, PATIENCE_MS, serveDemo, slowDown } from "./start.js";

/** @param {string} address @param {string} path @param {string} [method] @param {object} [body] */
export async function ask(address, path, method = "GET", body) {
	const answer = await fetch(address + path, body ? { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) } : { method });
	if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${await answer.text()}`);
	return answer.status === 204 ? null : answer.json();
}

/** Today as orders write it. */
export function day() {
	const d = new Date();
	return `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, "0")}-${String(d.getDate()).padStart(2, "0")}`;
}

/** A demo estate with a pruning plan, a crew and orders for it. @param {number} [vines] @param {Parameters<typeof serveDemo>[1]} [database] */
export async function serveOrders(vines = 3000, database = null) {
	const server = await serveDemo(["--vines", String(vines)], database);
	const { address } = server;
	const { season } = await ask(address, "/api/estate");
	const { blocks } = await ask(address, `/api/blocks?season=${season}`);
	const block = await ask(address, `/api/blocks/${blocks[0].id}?season=${season}`);
	await ask(address, "/api/crews/Valley", "PUT", { name: "Valley", people: 4, hours_per_day: 8, skilled: true, language: "es" });
	await ask(address, `/api/blocks/${block.id}/standards`, "PUT", { by: "Test", standards: { rows: { vines_per_section: 5 } } });
	await ask(address, `/api/blocks/${block.id}/pruning`, "POST", { season, by: "Test", standards: null, options: {} });
	const rows = block.row_list.slice(2, 18).map((/** @type {any} */ r, /** @type {number} */ i) => ({ row: r.id, label: r.label, from: 0, to: 0, start: i % 2 ? "far" : "near", side: "" }));
	const order = (/** @type {any} */ more) => ({ season, operation: "pruning", block: block.id, code: block.code, crew: "Valley", day: day(), note: "Ladder at the shed", rows, sick: false, state: "open", ...more });
	const { orders } = await ask(address, "/api/orders", "POST", { by: "Test", orders: [order({}), order({ operation: "tying", day: "", note: "", rows: rows.slice(0, 2) })] });
	return { server, season, block, orders };
}

/**
 * A line between phone and server. What it does is said by its fields.
 * @param {{address: string}} server
 */
export async function openLine(server) {
	const line = {
		address: "",
		/** so many answers are lost after the server has stored */
		lose: 0,
		/** so many batches are answered with 503, unstored */
		busy: 0,
		/** nothing gets through */
		cut: false,
		/** added to the version of the page */
		version: "",
		/** @type {((ids: string[]) => any) | null} called before a batch is passed on */
		before: null,
		/** @type {(() => any) | null} called when a batch is at the server, before its answer */
		during: null,
		/** ids that are answered as refused */
		refuse: /** @type {Set<string>} */ (new Set()),
		/** @type {Map<string, number>} how often each record came */
		received: new Map(),
		batches: /** @type {number[]} */ ([]),
		close: () => new Promise((resolve) => {
			proxy.close(resolve);
			proxy.closeAllConnections();
		}),
	};
	const proxy = http.createServer(async (request, response) => {
		if (line.cut) return request.socket.destroy();
		const chunks = [];
		for await (const chunk of request) chunks.push(chunk);
		let body = Buffer.concat(chunks);
		const batch = request.url === "/api/events" && request.method === "POST";
		if (batch) {
			const sent = JSON.parse(body.toString());
			line.batches.push(sent.events.length);
			if (line.busy > 0) {
				line.busy--;
				response.writeHead(503, { "Content-Type": "application/problem+json" }).end(JSON.stringify({ title: "busy", status: 503 }));
				return;
			}
			for (const e of sent.events) line.received.set(e.id, (line.received.get(e.id) ?? 0) + 1);
			await line.before?.(sent.events.map((/** @type {any} */ e) => e.id));
			sent.events = sent.events.filter((/** @type {any} */ e) => !line.refuse.has(e.id));
			body = Buffer.from(JSON.stringify(sent));
		}
		const to = new URL(server.address);
		const headers = { ...request.headers, ...(batch ? { "content-length": String(body.length) } : {}), ...(request.url === "/field/sw.js" || batch ? { "accept-encoding": "identity" } : {}) };
		const up = http.request({ host: to.hostname, port: to.port, path: request.url, method: request.method, headers }, async (answer) => {
			const parts = [];
			try {
				for await (const part of answer) parts.push(part);
			} catch {
				return request.socket.destroy();
			}
			let text = Buffer.concat(parts);
			if (batch && line.lose > 0) {
				line.lose--;
				return request.socket.destroy();
			}
			if (batch && line.refuse.size && answer.statusCode === 200) {
				const said = JSON.parse(text.toString());
				for (const id of line.refuse) said.results.push({ id, result: "refused", reason: "no such row" });
				text = Buffer.from(JSON.stringify(said));
			}
			if (request.url === "/field/sw.js" && line.version) text = Buffer.from(text.toString().replace(/"version":"[^"]*"/, (v) => `${v.slice(0, -1)}${line.version}"`));
			const out = { ...answer.headers };
			delete out["content-length"];
			delete out["transfer-encoding"];
			if (request.url === "/field/sw.js") delete out.etag;
			response.writeHead(answer.statusCode ?? 502, answer.statusCode === 304 ? out : { ...out, "content-length": text.length }).end(text);
		});
		up.on("error", () => request.socket.destroy());
		up.end(body);
		if (batch) await line.during?.();
	});
	await new Promise((resolve) => proxy.listen(0, "127.0.0.1", () => resolve(null)));
	line.address = `http://127.0.0.1:${/** @type {import("node:net").AddressInfo} */ (proxy.address()).port}`;
	return line;
}

/**
 * A phone: a browser with a profile of its own that outlives its process.
 * @param {string} address
 * @param {{width?: number, height?: number, language?: string, options?: object, init?: (context: import("playwright-core").BrowserContext) => any}} [how]
 */
export async function newPhone(address, { width = 360, height = 740, language = "en", options = {}, init } = {}) {
	const profile = mkdtempSync(path.join(tmpdir(), "courson-phone-"));
	const phone = {
		/** @type {import("playwright-core").BrowserContext} */
		context: /** @type {any} */ (null),
		/** @type {import("playwright-core").Page} */
		page: /** @type {any} */ (null),
		errors: /** @type {string[]} */ ([]),
		profile, open, kill, close, work, tap, settled, state, log, vines, setUp, click, drawn, go,
	};
	/** Starts the browser; without a signal if so wished. */
	async function open({ offline = false, hash = "" } = {}) {
		const executablePath = BROWSERS.find((p) => p && existsSync(p));
		phone.context = await chromium.launchPersistentContext(profile, { executablePath, args: ["--no-sandbox"], viewport: { width, height }, hasTouch: true, isMobile: true, reducedMotion: "reduce", ...options });
		await init?.(phone.context);
		if (offline) await phone.context.setOffline(true);
		phone.page = phone.context.pages()[0] ?? (await phone.context.newPage());
		await slowDown(phone.page);
		phone.page.on("pageerror", (e) => phone.errors.push(String(e)));
		phone.page.on("console", (m) => /Content.Security.Policy/i.test(m.text()) && phone.errors.push(m.text()));
		await phone.page.goto(`${address}/field${hash}`);
		await poll("the page", () => state("page"), (v) => v === "ready");
	}
	/** Language, name, crew, and the list of work. */
	async function setUp() {
		await click(`language-${language}`);
		await phone.page.fill("#name", "Ana");
		await click("name-keep");
		await phone.page.waitForSelector('[data-key="crew-Valley"]');
		await click("crew-Valley");
		await phone.page.waitForSelector(".card");
		await phone.page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
		await poll("the service worker", () => phone.page.evaluate(() => !!navigator.serviceWorker.controller), Boolean);
	}
	/** As the phone's power going. */
	async function kill() {
		const session = await /** @type {import("playwright-core").Browser} */ (phone.context.browser()).newBrowserCDPSession();
		const { processInfo } = await session.send("SystemInfo.getProcessInfo");
		const gone = new Promise((resolve) => phone.context.once("close", resolve));
		process.kill(/** @type {any} */ (processInfo.find((/** @type {any} */ p) => p.type === "browser")).id, "SIGKILL");
		await gone;
	}
	async function close() {
		await phone.context?.close().catch(() => {});
		try {
			rmSync(profile, { recursive: true, force: true, maxRetries: 5, retryDelay: 100 });
		} catch {
			// A browser that ends slowly may write there still: the system clears its folder of such files.
		}
	}
	/** @param {string} key */
	function state(key) {
		return phone.page.evaluate((k) => document.documentElement.dataset[k] ?? "", key);
	}
	/** A click without a place, as a keyboard makes it, on a screen that shows what came before. @param {string} key */
	async function click(key) {
		await poll(`the button ${key}`, () => phone.page.evaluate((k) => {
			const { keeping, hash } = document.documentElement.dataset;
			const button = /** @type {HTMLElement | null} */ (document.querySelector(`[data-key="${k}"]`));
			if (!button || keeping || hash !== location.hash) return false;
			button.click();
			return true;
		}, key), Boolean);
	}
	/** The screen shows what was tapped last: it is kept, and the screen of the address is drawn. */
	async function drawn() {
		await poll("the screen to be drawn", () => phone.page.evaluate(() => !document.documentElement.dataset.keeping && document.documentElement.dataset.hash === location.hash), Boolean);
	}
	/** Another screen, drawn. @param {string} hash @param {string} wait for what is on it */
	async function go(hash, wait) {
		await phone.page.evaluate((h) => (location.hash = h), hash);
		await drawn();
		await phone.page.waitForSelector(wait);
	}
	/** A finger; waits so long that it counts as a tap of its own. @param {string} key */
	async function tap(key) {
		await phone.page.waitForTimeout(310);
		await phone.page.tap(`[data-key="${key}"]`);
	}
	/** Works on as many vines as told, row after row, agreeing to gaps; on fewer where the last row ends. @param {number} number */
	async function work(number) {
		const { done, finished } = await phone.page.evaluate(async (number) => {
			const rest = () => new Promise((resolve) => setTimeout(resolve, 1));
			const button = (/** @type {string} */ key) => /** @type {HTMLButtonElement | null} */ (document.querySelector(`[data-key="${key}"]`));
			let done = 0;
			const end = performance.now() + 60_000 + 1_000 * number;
			while (done < number && !button("finished") && performance.now() < end) {
				const yes = button("gap-yes") ?? button("next-row");
				const main = button("done");
				const pressed = yes ?? main;
				if (!pressed) {
					await rest();
					continue;
				}
				const recorded = () => Number(document.documentElement.dataset.recorded);
				const had = recorded();
				pressed.click();
				// A click while the one before is being kept does nothing: then once more.
				const patience = performance.now() + 400;
				while ((yes ? document.contains(pressed) : recorded() === had) && performance.now() < patience) await rest();
				if (!yes && recorded() > had) {
					done++;
					while (document.contains(pressed) && performance.now() < end) await rest();
				}
			}
			return { done, finished: !!button("finished") };
		}, number);
		if (done !== number && !finished) throw new Error(`worked on ${done} vines of ${number}`);
	}
	/** Nothing is being kept at this moment: what was tapped stands in the log. */
	async function quiet() {
		await poll("what was tapped to be kept", () => state("keeping"), (v) => v === "");
	}
	/** Everything that was tapped is kept, and everything that waits is sent. @param {number} [ms] */
	async function settled(ms = PATIENCE_MS) {
		await quiet();
		await poll("all to be sent", async () => [await state("waiting"), await state("trouble"), await phone.page.evaluate(() => [navigator.onLine, document.visibilityState, document.querySelector("#bar")?.textContent].join(" "))], ([n]) => n === "0", ms);
	}
	/** What this phone recorded, by its own log. */
	async function log() {
		await quiet();
		return phone.page.evaluate(() => new Promise((resolve, reject) => {
			const open = indexedDB.open("courson-field");
			open.onerror = () => reject(open.error);
			open.onsuccess = () => {
				const all = open.result.transaction("log").objectStore("log").getAll();
				all.onsuccess = () => (open.result.close(), resolve(all.result.map((/** @type {any} */ l) => l.event)));
			};
		}));
	}
	/** Ids of all vines in its records. */
	async function vines() {
		return [...new Set((/** @type {any[]} */ (await log())).flatMap((e) => e.vines ?? []))];
	}
	return phone;
}

/**
 * @template T
 * @param {string} what
 * @param {() => Promise<T>} get
 * @param {(got: T) => boolean} good
 * @param {number} [ms]
 */
export async function poll(what, get, good, ms = PATIENCE_MS) {
	const end = Date.now() + ms;
	let got;
	for (;;) {
		try {
			got = await get();
			if (good(got)) return got;
		} catch (error) {
			got = error;
		}
		if (Date.now() > end) throw new Error(`waited ${ms} ms for ${what}: ${got instanceof Error ? got.message : JSON.stringify(got)}`);
		await new Promise((resolve) => setTimeout(resolve, 40));
	}
}

/** What the server holds of these vines from one device (all, if none), each record once per vine. @param {string} address @param {number[]} vines @param {string} [device] */
export async function heldBy(address, vines, device) {
	/** @type {any[]} */
	const out = [];
	for (let i = 0; i < vines.length; i += 20) {
		const some = await Promise.all(vines.slice(i, i + 20).map((id) => ask(address, `/api/vines/${id}`)));
		for (const v of some) out.push(...v.events.filter((/** @type {any} */ e) => !device || e.device === device).map((/** @type {any} */ e) => ({ ...e, vine: v.id })));
	}
	return out;
}

/**
 * The server holds exactly what the phone recorded, once, on the vines of some of
 * its records.
 * @param {string} address
 * @param {any[]} made
 * @param {any[]} [all] that the phone ever recorded
 */
export async function difference(address, made, all = made) {
	const vines = [...new Set(made.flatMap((e) => e.vines ?? []))];
	const device = made[0]?.device;
	const wanted = all.flatMap((e) => (e.vines ?? []).filter((/** @type {number} */ v) => vines.includes(v)).map((/** @type {number} */ v) => `${v} ${e.id} ${e.kind}`)).sort();
	const held = (await heldBy(address, vines, device)).map((e) => `${e.vine} ${e.id} ${e.kind}`).sort();
	const count = (/** @type {string[]} */ list) => list.reduce((m, x) => m.set(x, (m.get(x) ?? 0) + 1), new Map());
	const [w, g] = [count(wanted), count(held)];
	return { recorded: made.length, lost: [...w].filter(([k, n]) => (g.get(k) ?? 0) < n).map(([k]) => k), doubled: [...g].filter(([k, n]) => n > (w.get(k) ?? 0)).map(([k]) => k) };
}
