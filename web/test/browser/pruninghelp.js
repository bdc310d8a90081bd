// What the tests of a pruning plan share: the demo estate, its smallest block, and the
// states in which its pages are waited for.

import { estateAt } from "./estate.js";
import { launch, openPage, serveDemo, until } from "./start.js";

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
export let server;
/** @type {import("playwright-core").Browser} */
export let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
export let demo;
export let season = 0;
/** @type {any} the smallest block */
export let block;

/** To be called before the tests of a file. */
export async function begin() {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	season = demo.estate.season;
	block = [...demo.blocks].sort((a, b) => a.vines - b.vines)[0];
}
/** To be called after them. */
export async function end() {
	await browser?.close();
	await server?.stop();
}

export const number = (/** @type {number} */ n) => new Intl.NumberFormat("en").format(n);
export const address = (more = "", code = block.code, s = season) => `${server.address}/pruning#block=${code}&season=${s}${more}`;
export const ready = (/** @type {import("playwright-core").Page} */ page, state = "ready") => until(page, `the page to be ${state}`, `document.documentElement.dataset.pruning === "${state}"`, 60_000);
export const previewed = (/** @type {import("playwright-core").Page} */ page, state = "ready") => until(page, `the preview to be ${state}`, `document.documentElement.dataset.preview === "${state}"`, 60_000);
export const json = (/** @type {string} */ method, /** @type {string} */ path, /** @type {any} */ body) =>
	fetch(server.address + path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
export const preview = async (/** @type {any} */ standards = null) => (await json("POST", `/api/blocks/${block.code}/pruning/preview`, { season, standards, options: { drought: false, untreated_every: 0 } })).json();

/** The plan part, worked out. @param {object} [options] @param {string} [to] */
export async function openPlan(options = {}, to = address()) {
	const opened = await openPage(browser, to, { width: 1280, height: 900, ...options });
	await ready(opened.page);
	await previewed(opened.page);
	return opened;
}

/** A vine on the map, with what it is to be left with, as the server works it out. @param {import("playwright-core").Page} page */
export const lineShown = (page) => until(page, "the line", () => document.documentElement.dataset.vine === "shown" && document.querySelector('.vine-plan[data-state="ready"] .plan-large') !== null);

/** Unfolds a group of the form. @param {import("playwright-core").Page} page @param {string} group */
export const unfold = (page, group) => page.$eval(`[data-group="${group}"]`, (d) => d.setAttribute("open", ""));
