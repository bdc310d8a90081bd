import assert from "node:assert/strict";
import { test } from "node:test";
import { uuid7Maker } from "../../lib/uuid7.js";

// RFC 9562, appendix A.6: 0x017F22E279B0 is Tuesday, 22 February 2022, 2:22:22.00 PM GMT-05:00.
test("time, version and variant of the RFC's example", () => {
	const id = uuid7Maker({ now: () => Date.parse("2022-02-22T14:22:22.00-05:00"), random: (b) => b.fill(0xff) })();
	assert.equal(id.slice(0, 13), "017f22e2-79b0");
	assert.match(id, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
});

test("ids rise, also within a millisecond and when the clock goes back", () => {
	const times = [1000, 1000, 1000, 990, 2000, 2000];
	let k = 0;
	const make = uuid7Maker({ now: () => times[Math.min(k++, times.length - 1)] });
	const ids = Array.from({ length: 9000 }, make);
	assert.deepEqual([...ids].sort(), ids);
	assert.equal(new Set(ids).size, ids.length);
});
