import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { WORLD, extentOf, latOf, lonOf, metresPerUnit, nearestVine, neighbourTowards, rowBearing, vineStep, vinesInside, worldX, worldY } from "../../lib/ground.js";
import { decodeStand } from "../../lib/stand.js";
import { tilesOver } from "../../lib/tiles.js";
import { bytesOfStand } from "./make.js";

const RADIUS = 6378137; // semi-major axis of WGS 84, m

/** EPSG:3857 metres of a place on the world square. */
const metres = (/** @type {number} */ lon, /** @type {number} */ lat) => [(worldX(lon) / WORLD - 0.5) * 2 * Math.PI * RADIUS, (0.5 - worldY(lat) / WORLD) * 2 * Math.PI * RADIUS];

// PROJ (cs2cs, EPSG:4326 to EPSG:3857); see testdata/geodesy/README.md.
test("the world square is Web Mercator, to a tenth of a millimetre of PROJ", () => {
	const lines = readFileSync(new URL("../../../testdata/geodesy/webmercator.csv", import.meta.url), "utf8").trim().split("\n");
	assert.ok(lines.length > 5);
	for (const line of lines.slice(1)) {
		const [place, lon, lat, x, y] = line.split(",");
		const got = metres(Number(lon), Number(lat));
		assert.ok(Math.abs(got[0] - Number(x)) < 1e-4 && Math.abs(got[1] - Number(y)) < 1e-4, `${place}: ${got}`);
	}
});

// IOGP Guidance Note 373-07-02, Popular Visualisation Pseudo-Mercator, worked example (to the centimetre).
test("the worked example of the guidance note", () => {
	const got = metres(-(100 + 20 / 60), 24 + 22 / 60 + 54.433 / 3600);
	assert.ok(Math.abs(got[0] - -11169055.58) < 0.006 && Math.abs(got[1] - 2800000.0) < 0.006, String(got));
});

test("there and back", () => {
	for (const [lon, lat] of [[-66.4, -38.9], [4.5, 45.2], [179.999, 84], [0, 0]]) {
		assert.ok(Math.abs(lonOf(worldX(lon)) - lon) < 1e-9);
		assert.ok(Math.abs(latOf(worldY(lat)) - lat) < 1e-9);
	}
});

// Tile numbers of the readme of the Python library mercantile (BSD), from memory.
test("tiles that a place falls into", () => {
	assert.deepEqual(tilesOver([20.6852, 40.1222, 20.6852, 40.1222], 9, 9), [{ z: 9, x: 285, y: 193 }]);
	assert.equal(tilesOver([-180, -85, 180, 85], 0, 2).length, 1 + 4 + 16);
});

const stand = decodeStand(bytesOfStand({ rows: 4, vines: 6, step: 100, gap: 250 }));

test("the nearest vine within reach", () => {
	assert.deepEqual(nearestVine(stand, stand.wx[8] + 20, stand.wy[8] - 30, 60), { index: 8, distance: Math.hypot(20, 30) });
	assert.equal(nearestVine(stand, stand.wx[8] + 125, stand.wy[8], 60).index, -1);
});

test("vines inside a box, turned or not, whichever way it winds", () => {
	const box = /** @type {[number, number][]} */ ([[stand.wx[0] - 10, stand.wy[0] + 10], [stand.wx[6] + 10, stand.wy[0] + 10], [stand.wx[6] + 10, stand.wy[2] - 10], [stand.wx[0] - 10, stand.wy[2] - 10]]);
	const want = [0, 1, 2, 6, 7, 8];
	assert.deepEqual(vinesInside(stand, box), want);
	assert.deepEqual(vinesInside(stand, [...box].reverse()), want);
	const [x, y] = [stand.wx[7], stand.wy[7]];
	assert.deepEqual(vinesInside(stand, [[x, y - 50], [x + 50, y], [x, y + 50], [x - 50, y]]), [7]);
});

test("step, bearing and extent of straight rows to the north", () => {
	assert.equal(vineStep(stand), 100);
	assert.equal(rowBearing(stand), 0);
	assert.deepEqual(extentOf(stand), [2_000_000_000, 1_500_000_000 - 500, 2_000_000_750, 1_500_000_000]);
});

test("neighbours by direction, and none beyond the edge", () => {
	assert.equal(neighbourTowards(stand, 8, 0, -1), 9, "up the row");
	assert.equal(neighbourTowards(stand, 8, 0, 1), 7, "down the row");
	assert.equal(neighbourTowards(stand, 8, 1, 0), 14, "row to the right");
	assert.equal(neighbourTowards(stand, 8, -1, 0), 2, "row to the left");
	assert.equal(neighbourTowards(stand, 2, -1, 0), -1);
	assert.equal(neighbourTowards(stand, 5, 0, -1), -1);
});

// One unit is 9.3 mm at the equator (DEVELOPERS.md: 2^-32 of the equator of 40,075,016.7 m).
test("size of a unit", () => {
	assert.ok(Math.abs(metresPerUnit(0) - 0.00933) < 1e-5);
	assert.ok(Math.abs(metresPerUnit(60) / metresPerUnit(0) - 0.5) < 1e-12);
});
