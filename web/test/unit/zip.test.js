import assert from "node:assert/strict";
import { test } from "node:test";
import { crc32, zipOf } from "../../lib/zip.js";

test("the check value of CRC-32 is that of the catalogue: 0xCBF43926 for 123456789", () => {
	assert.equal(crc32(new TextEncoder().encode("123456789")), 0xcbf43926);
	assert.equal(crc32(new Uint8Array()), 0);
});

test("heads, sizes and places of the files are where the format has them", async () => {
	const bytes = new TextEncoder().encode("hello");
	const zip = Buffer.from(await zipOf([{ name: "a.xml", bytes }, { name: "\u00e9.bin", bytes: new Uint8Array([1, 2]) }]).arrayBuffer());
	const end = zip.length - 22;
	assert.equal(zip.readUInt32LE(end), 0x06054b50);
	assert.equal(zip.readUInt16LE(end + 10), 2);
	const list = zip.readUInt32LE(end + 16);
	assert.equal(zip.readUInt32LE(end + 12), end - list);
	assert.equal(zip.readUInt32LE(list), 0x02014b50);
	const second = list + 46 + 5;
	assert.equal(zip.readUInt32LE(second), 0x02014b50);
	const at = zip.readUInt32LE(second + 42);
	assert.equal(zip.readUInt32LE(at), 0x04034b50);
	assert.equal(zip.readUInt32LE(at + 14), crc32(new Uint8Array([1, 2])));
	assert.equal(zip.toString("utf8", at + 30, at + 30 + zip.readUInt16LE(at + 26)), "\u00e9.bin");
	assert.deepEqual([...zip.subarray(at + 30 + 6, at + 30 + 8)], [1, 2]);
	assert.equal(zip.toString("utf8", 30 + 5, 30 + 10), "hello");
});
