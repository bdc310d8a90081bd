// The report of one block begins here: what its measures say, and which vines to
// weigh next.

import { readAbout, writeAbout } from "../lib/reporthash.js";
import { at, openBlockPage } from "./blockpage.js";
import { mountHead } from "./head.js";
import { mountReport } from "./page.js";
import { mountWeighing } from "./weighing.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/reporthash.js").About} About
 * @typedef {import("../lib/signal.js").Signal<About>} AboutSignal
 * @typedef {import("./blockpage.js").BlockPage<About>} Report what all parts of the page share
 */

openBlockPage(/** @type {import("./blockpage.js").How<About>} */ ({
	read: readAbout, write: writeAbout, plain: { since: null, part: "report" }, head: mountHead,
	body: (report) => {
		const page = mountReport(report, at("report"));
		const weighing = mountWeighing(report, at("report"));
		return {
			reload() {
				page.reload();
				weighing.reload();
			},
		};
	},
}));
