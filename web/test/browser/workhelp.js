// What the tests of crews and their work share: the demo estate, two days of work in
// it, and orders put there by the contract.

import assert from "node:assert/strict";
import { uuid7Maker } from "../../lib/uuid7.js";
import { estateAt } from "./estate.js";
import { launch, openPage, serveDemo, until } from "./start.js";

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
export let server;
/** @type {import("playwright-core").Browser} */
export let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
export let demo;
export let season = 0;

/** To be called before the tests of a file. */
export async function begin() {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	season = demo.estate.season;
	await prune();
}
/** To be called after them. */
export async function end() {
	await browser?.close();
	await server?.stop();
}

export const address = (show = "progress", more = "", operation = "pruning") => `${server.address}/work#season=${season}&operation=${encodeURIComponent(operation)}&show=${show}${more}`;
export const state = (/** @type {import("playwright-core").Page} */ page, /** @type {string} */ word) => until(page, `the page to be ${word}`, `document.documentElement.dataset.work === "${word}"`);
export const open = async (/** @type {string} */ path, options = {}) => {
	const opened = await openPage(browser, path, { width: 1160, height: 800, ...options });
	await state(opened.page, "ready");
	return opened;
};
export const orders = async () => (await demo.json(`/api/orders?season=${season}`)).orders;
export const number = (/** @type {number} */ n) => new Intl.NumberFormat("en").format(n);
export const clean = { foreign: [], policy: [], errors: [] };

/** Two crews at work on two days, vine by vine, in the last rows of the first block. */
async function prune() {
	const block = demo.blocks[0];
	const stand = await demo.stand(block.id, season);
	const id = uuid7Maker();
	const events = [];
	for (const [d, day] of ["2026-07-06", "2026-07-07"].entries())
		for (const [c, by] of ["North: Ana", "South: Leo"].entries()) {
			const row = stand.rows[stand.rows.length - 1 - 2 * d - c];
			for (let k = 0; k < Math.min(60, row.count); k++)
				events.push({ id: id(), device: `test-${c}`, seq: events.length + 1, at: new Date(Date.parse(`${day}T12:00:00Z`) + 130_000 * k).toISOString(), by, season, block: block.id, row: row.id, vines: [stand.id[row.first + k]], kind: "pruned", value: {} });
		}
	const answer = await (await fetch(`${server.address}/api/events`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ sent_at: new Date().toISOString(), events }) })).json();
	assert.ok(answer.results.every((/** @type {any} */ r) => r.result === "stored"), JSON.stringify(answer.results.find((/** @type {any} */ r) => r.result !== "stored")));
}

/** Puts an order there, by the contract. @param {object} more */
export async function makeOrder(more) {
	const block = demo.blocks[0];
	const detail = await demo.json(`/api/blocks/${block.id}?season=${season}`);
	const rows = detail.row_list.filter((/** @type {any} */ r) => r.vines > 0);
	const order = { season, operation: "pruning", block: block.id, code: block.code, crew: "North", day: "2026-08-03", note: "", sick: false, state: "open", rows: rows.slice(0, 3).map((/** @type {any} */ r, /** @type {number} */ k) => ({ row: r.id, label: r.label, from: 0, to: 0, start: k % 2 ? "far" : "near", side: "" })), ...more };
	const answer = await fetch(`${server.address}/api/orders`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ by: "test", orders: [order] }) });
	assert.equal(answer.status, 201, await answer.clone().text());
	return (await answer.json()).orders[0];
}
export const withdraw = (/** @type {string} */ id) => fetch(`${server.address}/api/orders/${id}`, { method: "DELETE" });
