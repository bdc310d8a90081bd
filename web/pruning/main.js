// The pruning plan of one block begins here.

import { readPruning, writePruning } from "../lib/pruninghash.js";
import { at, openBlockPage } from "../report/blockpage.js";
import { mountHead } from "./head.js";
import { mountPage } from "./page.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/pruninghash.js").PruningAbout} PruningAbout
 * @typedef {import("../lib/signal.js").Signal<PruningAbout>} AboutSignal
 * @typedef {import("../report/blockpage.js").BlockPage<PruningAbout>} Pruning what all parts of the page share
 */

openBlockPage(/** @type {import("../report/blockpage.js").How<PruningAbout>} */ ({
	read: readPruning, write: writePruning, plain: { part: "plan", compared: null }, head: mountHead,
	body: (pruning) => mountPage(pruning, at("plan")),
}));
