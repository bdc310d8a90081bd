import assert from "node:assert/strict";
import { existsSync, readFileSync } from "node:fs";
import { test } from "node:test";
import { BYTE_COLUMNS, StandError, addressOf, applyDelta, decodeStand, indexOf, rowOf } from "../../lib/stand.js";
import { bytesOfStand } from "./make.js";

const golden = new URL("../../../testdata/stand/", import.meta.url);

// small.txt was written by a reader in Go that follows DEVELOPERS.md alone.
test("the golden stand reads as the Go reader reads it", () => {
	assert.ok(existsSync(new URL("small.stand", golden)), "testdata/stand/small.stand is there");
	const file = readFileSync(new URL("small.stand", golden));
	const lines = readFileSync(new URL("small.txt", golden), "utf8").trim().split("\n");
	const head = JSON.parse(lines[0]);
	const want = Object.fromEntries(lines.slice(1).map((l) => [l.slice(0, l.indexOf(":")), l.slice(l.indexOf(":") + 1).trim().split(" ").map(Number)]));
	const stand = decodeStand(file.buffer.slice(file.byteOffset, file.byteOffset + file.length));
	assert.deepEqual([stand.block, stand.code, stand.season, stand.revision, stand.groundRevision, stand.count], [head.block, head.code, head.season, head.revision, head.ground_revision, head.count]);
	for (const name of [...BYTE_COLUMNS, "id", "number", "weight"]) assert.deepEqual(Array.from(stand[name]), want[name], name);
	for (const row of head.rows) {
		let [x, y] = [row.x, row.y];
		for (let i = row.first; i < row.first + row.count; i++) {
			x += want.dx[i];
			y += want.dy[i];
			assert.deepEqual([stand.wx[i], stand.wy[i]], [x, y], `vine ${i}`);
		}
	}
});

test("a stand that is cut off anywhere is refused, never half read", () => {
	const whole = bytesOfStand();
	for (let n = 0; n < whole.byteLength; n += 3) {
		const cut = whole.slice(0, n);
		// The last column may end before the padding that closes the file.
		if (n >= whole.byteLength - 8) break;
		assert.throws(() => decodeStand(cut), StandError, `${n} bytes`);
	}
});

test("what is no stand, or of another version, is refused with a reason", () => {
	assert.throws(() => decodeStand(new TextEncoder().encode('{"type":"problem"}').buffer), /not a stand/);
	const other = new Uint8Array(bytesOfStand());
	const at = new TextDecoder().decode(other).indexOf('"version":1');
	other[at + 10] = 0x32;
	assert.throws(() => decodeStand(other.buffer), /version 2/);
});

test("addresses, rows and indexes", () => {
	const stand = decodeStand(bytesOfStand({ rows: 3, vines: 5 }));
	assert.equal(addressOf(stand, 7), "H3/2/3");
	assert.deepEqual([0, 4, 5, 14].map((i) => rowOf(stand, i)), [0, 0, 1, 2]);
	assert.equal(indexOf(stand, 1007), 7);
	assert.equal(indexOf(stand, 5), -1);
});

test("an empty row keeps its place", () => {
	const stand = decodeStand(bytesOfStand({ rows: 2, vines: 2 }));
	stand.rows.splice(1, 0, { id: 9, label: "1a", first: 2, count: 0 });
	assert.equal(rowOf(stand, 2), 2);
	assert.equal(addressOf(stand, 2), "H3/2/1");
});

test("a delta changes the base of the listed vines only", () => {
	const stand = decodeStand(bytesOfStand());
	const changed = applyDelta(stand, { revision: 9, index: [3, 8], progress: [2, 3], condition: [1, 4], leaf: [0, 0], vigour: [0, 5], flags: [0, 1], nodes: [255, 12], left: [10, 255] });
	assert.deepEqual(changed, [3, 8]);
	assert.equal(stand.revision, 9);
	assert.deepEqual([stand.base.progress[3], stand.base.progress[8], stand.base.left[3], stand.base.vigour[8]], [2, 3, 10, 5]);
	assert.equal(stand.base.progress.reduce((a, b) => a + b, 0), 5);
});

test("a stand of before pruning plans has no load and no jobs; a delta brings them", () => {
	const stand = decodeStand(bytesOfStand());
	assert.deepEqual([...stand.load, ...stand.follow].filter((n) => n), []);
	applyDelta(stand, { revision: 9, index: [3], load: [5], follow: [1] });
	assert.deepEqual([stand.base.load[3], stand.base.follow[3]], [5, 1]);
});
