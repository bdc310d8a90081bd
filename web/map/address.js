// Keeps the view in the page's address. Moving the map replaces the entry;
// anything else makes a new one, so that the back button goes one step back.

import { readHash, writeHash } from "../lib/hash.js";
import { PLAIN, themeOf } from "./app.js";

/** @param {import("./app.js").App} app */
export function keepAddress(app) {
	let going = false;
	app.view.on((now, old) => {
		if (going) return;
		const { at: atNow, ...rest } = now;
		const { at: atOld, ...before } = old;
		const moved = JSON.stringify(rest) === JSON.stringify(before);
		const address = writeHash(now);
		if (address === location.hash) return;
		if (moved) history.replaceState(null, "", address);
		else history.pushState(null, "", address);
	});
	history.replaceState(null, "", writeHash(app.view.get()));
	addEventListener("popstate", () => {
		const from = readHash(location.hash);
		going = true;
		const { at, ...plain } = PLAIN;
		app.view.set({ ...plain, ...from, season: seasonOf(app, from.season), theme: themeOf(app.legends, from.theme) });
		going = false;
	});
}

/** @param {import("./app.js").App} app @param {number | undefined} season */
function seasonOf(app, season) {
	return season && app.estate.seasons.includes(season) ? season : app.estate.season;
}
