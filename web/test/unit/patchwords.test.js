// Words on patches: only where these are wide enough on the screen.

import assert from "node:assert/strict";
import { test } from "node:test";
import { roomForWords } from "../../map/patchpoints.js";

test("words come with the zoom, the large patches first", () => {
	// 1 ha is a square of 100 m; at the equator a pixel of zoom 16 is 40,075,016.7 / (512 × 65,536) = 1.194 m (OGC 17-083r4, WebMercatorQuad, whose tiles of 256 px have it at zoom 17).
	assert.equal(roomForWords(1, 0, 16), true, "84 px");
	assert.equal(roomForWords(1, 0, 15), false, "42 px");
	assert.equal(roomForWords(0.25, 0, 16), false, "42 px");
	assert.equal(roomForWords(0.25, 0, 17), true, "84 px");
	assert.equal(roomForWords(1, 60, 15), true, "at 60 degrees a metre takes twice the pixels");
});
