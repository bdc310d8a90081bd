// The gaps and replants of one block begin here.

import { readReplants, writeReplants } from "../lib/replants.js";
import { at, openBlockPage } from "../report/blockpage.js";
import { mountHead } from "./head.js";
import { mountPage } from "./page.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").ReplantAbout} ReplantAbout
 * @typedef {import("../report/blockpage.js").BlockPage<ReplantAbout>} ReplantsPage what all parts of the page share
 */

openBlockPage(/** @type {import("../report/blockpage.js").How<ReplantAbout>} */ ({
	read: readReplants, write: writeReplants, plain: { part: "gaps" }, head: mountHead,
	body: (page) => mountPage(page, at("replants")),
}));
