// What this page asks the server for.

import { ApiError } from "../lib/api.js";

/**
 * @typedef {{option: string, of?: string, choices?: string[] | null}} Question
 * @typedef {{file?: string, feature?: number, line?: number, field?: string, what: string, wanted?: string, text: string, ask?: Question}} Problem
 * @typedef {{read: number, made: number, changed: number, unchanged: number, left_out: number}} Count
 * @typedef {{name: string, field: string, unit?: string, said: boolean, left: boolean, filled: number}} SeenColumn
 * @typedef {{feature?: number, line?: number, kind: string, values: string[] | null}} SeenLine
 * @typedef {{kind: "point" | "line" | "area", parts: number[][], label?: string}} Shape
 * @typedef {{name: string, form: string, system: string, encoding?: string, delimiter?: string, decimal?: string, read: number, columns: SeenColumn[], lines: SeenLine[], shapes: Shape[], drawn: number, placed: number}} Seen
 * @typedef {{file?: string, field?: string, text: string, count: number, features?: number[], lines?: number[]}} Notice
 * @typedef {{what: string, became: string, why?: string, file?: string, feature?: number, line?: number}} Item
 * @typedef {{became: string, why: string, name?: string, lon: number, lat: number, fix?: string, error_m?: number, nearest?: string, next?: string, file: string, feature?: number, line?: number}} PointItem
 * @typedef {{kind: string, read: number, sure: number, noticed: number, twice: number, doubtful: number, aside: number, outside: number, covered: number, without: number, made: number, replaced: number, unchanged: number, shift?: {text: string, taken_off: boolean}, items: PointItem[] | null, more_items?: number, no_point: string[] | null, more_no_point?: number}} Points
 * @typedef {object} Report
 * @property {string} [id]
 * @property {boolean} refused
 * @property {Shape[]} [near] what is stored where the places of the files lie
 * @property {Points} [points]
 * @property {number} [season]
 * @property {{name: string, read: number, form: string}[] | null} [files]
 * @property {Seen[]} [seen]
 * @property {Count} blocks
 * @property {Count} rows
 * @property {Count} vines
 * @property {{what: string, made: number, unchanged: number}[] | null} records
 * @property {number} plan_vines
 * @property {number} plan_nodes
 * @property {boolean} plan_made
 * @property {Item[] | null} items
 * @property {number} [more_items]
 * @property {Notice[] | null} notices
 * @property {Problem[] | null} problems
 * @property {number} [more_problems]
 *
 * @typedef {Record<string, any>} Order how files are to be read; see openapi.json
 * @typedef {{name: string, units: string[]}} Meaning
 *
 * @typedef {object} Taken an import that was taken in
 * @property {string} id
 * @property {string} made
 * @property {string} [by]
 * @property {string[] | null} files
 * @property {number} [season]
 * @property {Count} blocks
 * @property {Count} rows
 * @property {Count} vines
 * @property {{what: string, made: number}[] | null} records
 * @property {number} [plan_vines]
 * @property {number} [points]
 * @property {{at: string, by?: string}} [undone]
 *
 * @typedef {{gone: number, back: number}} WentBack
 * @typedef {{import: Taken, already: boolean, refused: boolean, built: {what: string, why: string, by?: string, at?: string}[], more_built?: number, blocks: WentBack, rows: WentBack, vines: WentBack, records: number, restored: number, plans: number, surveys: number, notes: string[]}} UndoReport
 */

/** @param {typeof fetch} fetcher */
export function importApi(fetcher) {
	/** @param {string} path @param {RequestInit} [init] */
	const call = async (path, init) => {
		try {
			return await fetcher(path, init);
		} catch (cause) {
			if (init?.signal?.aborted) throw cause;
			throw new ApiError("the server cannot be reached", 0, { cause });
		}
	};
	/** @param {Response} answer */
	const fault = async (answer) => {
		const said = await answer.json().catch(() => ({}));
		return new ApiError(said.detail ?? `the server answered ${answer.status}`, answer.status, { field: said.field });
	};
	/** @param {File[]} files @param {Order} order */
	const body = (files, order) => {
		const form = new FormData();
		form.append("order", JSON.stringify(order));
		for (const f of files) form.append("file", f);
		return form;
	};
	return {
		/** @returns {Promise<Meaning[]>} */
		async meanings() {
			const answer = await call("/api/imports");
			if (!answer.ok) throw await fault(answer);
			return (await answer.json()).fields;
		},
		/** What is in the files, and what an import would do. @param {File[]} files @param {Order} order @param {AbortSignal} signal @returns {Promise<Report>} */
		async look(files, order, signal) {
			const answer = await call("/api/imports/try", { method: "POST", body: body(files, order), signal });
			if (!answer.ok) throw await fault(answer);
			return answer.json();
		},
		/** Takes the files in; a refusal comes with its report. @param {File[]} files @param {Order} order @returns {Promise<Report>} */
		async take(files, order) {
			const answer = await call("/api/imports", { method: "POST", body: body(files, order) });
			if (answer.ok) return answer.json();
			const said = await answer.clone().json().catch(() => ({}));
			if (said.report) return said.report;
			throw await fault(answer);
		},
		/** What was imported, newest first. @returns {Promise<Taken[]>} */
		async done() {
			const answer = await call("/api/imports/done");
			if (!answer.ok) throw await fault(answer);
			return (await answer.json()).imports;
		},
		/** What taking an import back would do; or does it. @param {string} id @param {boolean} really @returns {Promise<UndoReport>} */
		async undo(id, really) {
			const answer = await call(`/api/imports/${id}/undo${really ? "" : "/try"}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" });
			if (answer.ok) return answer.json();
			const said = await answer.clone().json().catch(() => ({}));
			if (said.report) return said.report;
			throw await fault(answer);
		},
	};
}

/** @typedef {ReturnType<typeof importApi>} ImportApi */
