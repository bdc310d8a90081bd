import assert from "node:assert/strict";
import { test } from "node:test";
import { boxOf, penShapes, rowShapes } from "../../lib/drawnshapes.js";
import { Pen, readDegrees } from "../../lib/pen.js";

test("corners are set, closed, opened again and taken back", () => {
	const pen = new Pen("area");
	let told = 0;
	pen.on(() => told++);
	assert.equal(pen.close(), false, "nothing to close");
	for (const p of /** @type {[number, number][]} */ ([[1, 2], [1, 2], [1.1, 2], [1.1, 2.1]])) pen.add(p);
	assert.equal(pen.points.length, 3, "one press is one point");
	assert.equal(pen.ready, false);
	assert.equal(pen.close(), true);
	assert.equal(pen.ready, true);
	assert.equal(pen.add([3, 3]), false, "closed is closed");
	pen.undo();
	assert.deepEqual([pen.closed, pen.points.length], [false, 3], "what was taken back is the closing");
	pen.undo();
	assert.equal(pen.points.length, 2);
	pen.add([1.123456789, 2.1]);
	assert.deepEqual(pen.points[2], [1.12345679, 2.1], "to the millimetre");
	pen.close();
	pen.move(0, [0, 0]);
	pen.remove(1);
	assert.deepEqual([pen.closed, pen.points.length], [false, 2], "two corners are no area");
	pen.clear();
	pen.undo();
	assert.equal(told, 11);
});

test("a line is ready with two points", () => {
	const pen = new Pen("line");
	pen.add([1, 2]);
	assert.equal(pen.ready, false);
	pen.add([1, 3]);
	assert.deepEqual([pen.ready, pen.close()], [true, false]);
});

// Degrees, minutes and seconds by hand: 49 + 12/60 + 37/3600 = 49.2102777…
test("coordinates as people write them", () => {
	for (const [text, which, want] of /** @type {[string, "lon" | "lat", number | null][]} */ ([
		["49.2103", "lat", 49.2103], ["49,2103", "lat", 49.2103], [" -8.5 ", "lon", -8.5], ["49°12'37\"N", "lat", 49.21027777777778], ["8° 7' 12\" W", "lon", -8.12],
		["33°30'S", "lat", -33.5], ["49.2° N", "lat", 49.2], ["49.2 E", "lat", null], ["91", "lat", null], ["181", "lon", null], ["-49 S", "lat", null],
		["49°61'", "lat", null], ["49.5°30'", "lat", null], ["north", "lat", null], ["", "lon", null], ["49.2, 8.1", "lat", null],
	])) {
		const got = readDegrees(text, which);
		if (want === null) assert.equal(got, null, text);
		else assert.ok(got !== null && Math.abs(got - want) < 1e-9, `${text}: ${got}`);
	}
});

test("what is drawn", () => {
	const pen = new Pen("area");
	assert.deepEqual(penShapes(pen).features, []);
	for (const p of /** @type {[number, number][]} */ ([[0, 0], [1, 0], [1, 1]])) pen.add(p);
	assert.deepEqual(penShapes(pen).features.map((f) => f.properties.kind), ["line", "point", "point", "point"]);
	pen.close();
	const [area] = penShapes(pen).features;
	assert.deepEqual(area.geometry.coordinates, [[[0, 0], [1, 0], [1, 1], [0, 0]]]);
	const shown = rowShapes({ rows: [{ label: "1", line: [[[0, 0], [0, 1]]] }], points: [[[0, 0.2]]], outline: [] });
	assert.deepEqual(shown.features.map((f) => f.properties), [{ kind: "row" }, { kind: "first", label: "1" }, { kind: "vine" }]);
	assert.deepEqual(boxOf([[1, 2], [0, 5]]), [0, 2, 1, 5]);
	assert.equal(boxOf([]), null);
});
