// The page of zones and rates of one block begins here.

import { readZones, writeZones } from "../lib/zonehash.js";
import { at, openBlockPage } from "../report/blockpage.js";
import { zonesApi } from "./api.js";
import { mountHead } from "./head.js";
import { mountPage } from "./page.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/zonehash.js").ZonesAbout} ZonesAbout
 * @typedef {import("../report/blockpage.js").BlockPage<ZonesAbout>} Page
 * @typedef {Page & {ask: import("./api.js").ZonesApi, begin: {order: import("../lib/zones.js").Order | null}}} ZonesPage what all parts of the page share; begin: an order to go on with
 */

openBlockPage(/** @type {import("../report/blockpage.js").How<ZonesAbout>} */ ({
	read: readZones, write: writeZones, plain: { part: "cut", open: null, compared: null }, head: mountHead,
	body: (page) => mountPage({ ...page, ask: zonesApi((input, init) => fetch(input, init)), begin: { order: null } }, at("zones")),
}));
