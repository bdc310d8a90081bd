// Fetches what a phone needs for a week and keeps it. The server's tag tells
// whether anything is new.

/** @typedef {import("./app.js").App} App */

const LIMIT_MS = 30_000;
/** The question under way. @type {{crew: string, done: Promise<void>} | null} */
let running = null;

/**
 * Asks the server once; what it says is kept before it shows. Where another crew was
 * chosen meanwhile, its list is asked for after the one under way.
 * @param {App} app
 * @returns {Promise<void>}
 */
export function refresh(app) {
	const crew = crewOf(app);
	if (running && running.crew === crew) return running.done;
	const before = running?.done ?? Promise.resolve();
	const mine = { crew, done: before.then(() => ask(app, crew)).finally(() => {
		if (running === mine) running = null;
	}) };
	running = mine;
	return mine.done;
}

/** @param {App} app */
const crewOf = (app) => app.settings.crew ?? "";

/** @param {App} app @param {string} crew */
async function ask(app, crew) {
	const known = app.kept && app.kept.crew === crew ? app.kept : null;
	const sent = app.ledger.sentIds();
	app.net.set({ loading: true });
	/** The list of a crew that is no longer the one chosen is not shown in its place. */
	const late = () => crew !== crewOf(app);
	try {
		/** @type {Record<string, string>} */
		const headers = known?.etag ? { "If-None-Match": known.etag } : {};
		const answer = await fetch(`/api/field${crew ? `?crew=${encodeURIComponent(crew)}` : ""}`, { cache: "no-store", headers, signal: AbortSignal.timeout(LIMIT_MS) });
		if (late()) return app.net.set({ loading: false });
		if (answer.status === 304 && known) {
			await keep(app, { ...known, at: Date.now() }, []);
		} else if (answer.ok) {
			const bundle = await answer.json();
			if (late()) return app.net.set({ loading: false });
			await keep(app, { crew, etag: answer.headers.get("ETag") ?? "", at: Date.now(), bundle }, sent);
		} else {
			app.net.set({ loading: false, trouble: await said(answer), status: answer.status });
			return;
		}
		app.net.set({ loading: false, trouble: "", status: 200 });
	} catch (error) {
		app.net.set({ loading: false, trouble: error instanceof Error ? error.message : String(error), status: 0 });
	}
}

/** @param {App} app @param {import("./types.js").KeptBundle} kept @param {string[]} sent what the server had when it was asked */
async function keep(app, kept, sent) {
	if (!Array.isArray(kept.bundle?.orders) || !Array.isArray(kept.bundle.texts)) throw new Error("the server's answer is no list of orders");
	const cover = app.ledger.coverage(sent, Date.now());
	const { changed, dropped } = cover;
	await app.db.write([{ room: "kept", key: "bundle", put: kept }, ...changed.map((put) => /** @type {const} */ ({ room: "log", put })), ...dropped.map((remove) => /** @type {const} */ ({ room: "log", remove }))]);
	// Both at once: in between, what is done would show as open.
	app.ledger.cover(cover);
	app.kept = kept;
	// A phone that joined a crew by its link gets that crew's work only: nothing to choose.
	if (app.settings.crew === null && kept.bundle.crew && kept.crew === "") {
		app.set({ crew: kept.bundle.crew.name });
		kept.crew = kept.bundle.crew.name;
	}
	app.news();
}

/** @param {Response} answer */
async function said(answer) {
	try {
		const body = await answer.json();
		return body.detail || body.title || String(answer.status);
	} catch {
		return String(answer.status);
	}
}
