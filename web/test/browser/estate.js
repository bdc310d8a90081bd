// The demo estate as the tests see it from outside, through the HTTP contract.

import { decodeStand } from "../../lib/stand.js";
import { uuid7Maker } from "../../lib/uuid7.js";

/** @param {string} address */
export async function estateAt(address) {
	const json = async (/** @type {string} */ path) => (await fetch(address + path)).json();
	const estate = await json("/api/estate");
	const { blocks } = await json(`/api/blocks?season=${estate.season}`);
	return {
		estate,
		/** @type {import("../../lib/model.js").Block[]} */
		blocks,
		legends: await json("/api/legends"),
		json,
		/** @param {number} block @param {number} season */
		stand: async (block, season) => decodeStand(await (await fetch(`${address}/api/blocks/${block}/stand/${season}`)).arrayBuffer()),
		/** @param {object} event */
		post: async (event) =>
			(await fetch(`${address}/api/events`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ sent_at: new Date().toISOString(), events: [event] }) })).json(),
		/** Half of a block's rows pruned, with some vines in each other state, so that all marks are there. */
		async halfPrune(/** @type {any} */ block) {
			const detail = await json(`/api/blocks/${block.id}?season=${estate.season}`);
			const stand = decodeStand(await (await fetch(`${address}/api/blocks/${block.id}/stand/${estate.season}`)).arrayBuffer());
			const id = uuid7Maker();
			let seq = 0;
			const event = (/** @type {any} */ more) => ({ id: id(), device: "test", seq: ++seq, at: new Date().toISOString(), by: "test", season: estate.season, block: block.id, ...more });
			const events = detail.row_list.slice(0, detail.row_list.length >> 1).map((/** @type {any} */ row) => event({ row: row.id, kind: "pruned", value: {} }));
			const middle = stand.rows[stand.rows.length >> 1];
			["started", "to_redo", "skipped"].forEach((progress, k) =>
				events.push(event({ row: middle.id, vines: Array.from(stand.id.slice(middle.first + 9 * k, middle.first + 9 * k + 8)), kind: "work", value: { operation: "pruning", progress } })));
			const answer = await (await fetch(`${address}/api/events`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ sent_at: new Date().toISOString(), events }) })).json();
			const refused = answer.results.filter((/** @type {any} */ r) => r.result !== "stored");
			if (refused.length) throw new Error(JSON.stringify(refused));
		},
		/** The block that halfPrune is called for. */
		halfDone: blocks[0],
	};
}

/**
 * The address of a view.
 * @param {string} server
 * @param {{season: number, theme?: string, at?: number[], more?: string}} view
 */
export function viewOf(server, { season, theme = "condition", at, more = "" }) {
	return `${server}/#season=${season}&theme=${theme}${at ? `&at=${at.join(",")}` : ""}${more}`;
}
