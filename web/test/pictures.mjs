// Makes the pictures of the README from a running demo estate:
//
//	node test/pictures.mjs http://127.0.0.1:8480 ../testdata/pictures [names…]
//
// A person then looks at them.
import path from "node:path";
import { worldX, worldY } from "../lib/ground.js";
import { lens } from "./browser/picture.js";
import { atRest, launch, openPage, until } from "./browser/start.js";

const [address, folder, ...only] = process.argv.slice(2);
if (!address || !folder) {
	console.error("say where the server is and which folder takes the pictures");
	process.exit(2);
}
const get = async (/** @type {string} */ url) => (await fetch(address + url)).json();
const { season } = await get("/api/estate");
const { blocks } = await get(`/api/blocks?season=${season}`);
await foundEverywhere();
const browser = await launch();

/** Waits until everything is worked out that the pictures show. */
async function foundEverywhere() {
	for (const s of [season, season - 1])
		for (let left = 240; left > 0; left--) {
			const { blocks } = await get(`/api/findings?season=${s}`);
			if (blocks.every((/** @type {any} */ b) => b.state === "ready")) break;
			await new Promise((resolve) => setTimeout(resolve, 500));
		}
}

const half = blocks.find((/** @type {any} */ b) => b.totals.progress.done && b.totals.progress.not_started) ?? blocks[0];
const untouched = blocks.find((/** @type {any} */ b) => !b.totals.progress.done) ?? blocks[0];
/** With structure enough for zones. */
const patchy = blocks.find((/** @type {any} */ b) => b.code === "B4") ?? half;
/** @param {any} block @param {number} zoom */
const at = (block, zoom) => `&at=${block.center[0]},${block.center[1]},${zoom}`;

/** @type {Record<string, (take: (url: string, act?: (page: import("playwright-core").Page) => Promise<any>, more?: object) => Promise<void>) => Promise<void>>} */
const pictures = {
	pruning: (take) => take(`/#season=${season}&theme=progress`),
	vigour: (take) => take(`/#season=${season - 1}&theme=vigour`),
	patches: (take) => take(`/#season=${season - 1}&theme=patches${at(half, 17.6)}`),
	condition: (take) => take(`/#season=${season}&theme=condition${at(half, 18.6)}`),
	vine: async (take) => {
		const { vines } = await get(`/api/vines?find=${half.code}/9/31`);
		await take(`/#season=${season}&theme=condition&vine=${vines[0].id}&at=${vines[0].lon},${vines[0].lat},19.4`);
	},
	marking: async (take) => {
		const ends = await Promise.all([12, 27].map(async (n) => (await get(`/api/vines?find=${half.code}/40/${n}`)).vines[0]));
		const middle = [ends[0].lon / 2 + ends[1].lon / 2, ends[0].lat / 2 + ends[1].lat / 2];
		await take(`/#season=${season}&theme=progress&at=${middle},19.6`, async (page) => {
			await page.click(".map-buttons button:last-child");
			const { onScreen } = await lens(page);
			for (const v of ends) {
				const p = onScreen(worldX(v.lon), worldY(v.lat));
				await page.mouse.click(p.x, p.y);
			}
		});
	},
	plan: (take) => take(`/pruning#block=${untouched.code}&season=${season}`, (page) => until(page, "the plan", () => document.documentElement.dataset.pruning === "ready")),
	replants: (take) => take(`/replants#block=${untouched.code}&season=${season}&show=compare`, (page) => until(page, "the sums", () => document.documentElement.dataset.replants === "ready")),
	zones: (take) => take(`/zones#block=${patchy.code}&season=${season}`, (page) => until(page, "the zones", () => document.documentElement.dataset.cut === "ready")),
	work: (take) => take(`/work#season=${season}&operation=pruning&show=progress`, (page) => until(page, "progress", () => document.documentElement.dataset.work === "ready")),
	field: (take) =>
		take("/field", async (page) => {
			const press = async (/** @type {string} */ key) => {
				await page.waitForSelector(`[data-key="${key}"]`);
				await page.waitForTimeout(400);
				await page.click(`[data-key="${key}"]`);
			};
			await press("language-en");
			await page.fill("#name", "Ana");
			await press("name-keep");
			await press("crew-North");
			for (const list of ["order", "row"]) {
				await page.waitForSelector(`[data-key^="${list}-"]`);
				await page.waitForTimeout(400);
				await page.click(`[data-key^="${list}-"]`);
			}
			await page.waitForSelector('[data-key="done"], [data-key="gap-yes"]');
			await page.waitForTimeout(600);
		}, { width: 390, height: 800 }),
	report: (take) => take(`/report#block=${half.code}&season=${season - 1}`, (page) => until(page, "the report", () => document.documentElement.dataset.report === "ready")),
};

for (const [name, make] of Object.entries(pictures)) {
	if (only.length && !only.includes(name)) continue;
	await make(async (url, act, more) => {
		const { page, context } = await openPage(browser, address + url, { width: 1280, height: 800, ...more });
		const map = url.startsWith("/#");
		if (map) await atRest(page);
		await act?.(page);
		if (map) await atRest(page);
		await page.screenshot({ path: path.join(folder, `${name}.png`), timeout: 180_000 });
		await context.close();
	});
}
await browser.close();
