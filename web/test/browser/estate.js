// The demo estate as the tests see it from outside, through the HTTP contract.

import { decodeStand } from "../../lib/stand.js";

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
		/** A block whose pruning is under way, else any. */
		get halfDone() {
			return blocks.find((/** @type {any} */ b) => b.totals.progress.done && b.totals.progress.not_started) ?? blocks[0];
		},
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
