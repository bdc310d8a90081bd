// What the page of work is about, in its address:
// #season=2027&operation=pruning&show=orders

import { readAbout } from "../lib/reporthash.js";

/**
 * @typedef {"progress" | "orders" | "new" | "crews" | "checks" | "sheet"} WorkPart
 * @typedef {object} WorkAbout
 * @property {number} season
 * @property {string} operation
 * @property {WorkPart} part
 * @property {string} order id of the order whose sheet is typed in; empty: none chosen
 */

/** The first one is shown where the address names none. */
export const PARTS = /** @type {const} */ (["progress", "orders", "new", "crews", "checks", "sheet"]);

/**
 * Reads what an address says; what it says wrongly is left out.
 * @param {string} hash with or without #
 * @returns {Partial<WorkAbout>}
 */
export function readWork(hash) {
	const words = new URLSearchParams(hash.replace(/^#/, ""));
	/** @type {Partial<WorkAbout>} */
	const about = {};
	const { season } = readAbout(hash);
	if (season) about.season = season;
	const operation = words.get("operation");
	if (operation && operation.length <= 60) about.operation = operation;
	const part = PARTS.find((p) => p === words.get("show"));
	if (part) about.part = part;
	const order = words.get("order");
	if (order && /^[0-9a-fA-F-]{1,60}$/.test(order)) about.order = order;
	return about;
}

/** @param {WorkAbout} about @returns {string} with # */
export function writeWork({ season, operation, part, order }) {
	const words = [`season=${season}`, `operation=${encodeURIComponent(operation)}`];
	if (part !== PARTS[0]) words.push(`show=${part}`);
	if (part === "sheet" && order) words.push(`order=${order}`);
	return `#${words.join("&")}`;
}

/**
 * The address of sheets to print.
 * @param {number} season
 * @param {{day?: string, crew?: string, order?: string}} which left out: all open orders
 */
export function sheetsPath(season, { day, crew, order }) {
	const words = [`season=${season}`];
	if (day) words.push(`day=${day}`);
	if (crew) words.push(`crew=${encodeURIComponent(crew)}`);
	if (order) words.push(`order=${order}`);
	return `/print/orders?${words.join("&")}`;
}

/**
 * Where something is on the map, by progress.
 * @param {number} season
 * @param {number} block
 * @param {{row?: number, vine?: number, at?: [number, number, number]}} what at: lon, lat, zoom
 */
export function mapPath(season, block, { row, vine, at }) {
	const words = [`season=${season}`, "theme=progress", `block=${block}`];
	if (row) words.push(`row=${row}`);
	if (vine) words.push(`vine=${vine}`);
	if (at) words.push(`at=${at[0].toFixed(6)},${at[1].toFixed(6)},${at[2].toFixed(1)}`);
	return `/#${words.join("&")}`;
}
