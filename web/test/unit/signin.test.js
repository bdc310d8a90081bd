import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { placeAfter } from "../../signin/after.js";
import { enSignin } from "../../text/ensignin.js";

/** @param {string} name */
const source = (name) => readFileSync(new URL(`../../${name}`, import.meta.url), "utf8");

test("the pages hold the words of the table", () => {
	let seen = 0;
	for (const page of ["signin.html", "join.html"]) {
		for (const [, key, words] of source(page).matchAll(/data-text="([^"]+)">([^<]*)</g)) {
			assert.equal(words, enSignin[key], key);
			seen++;
		}
	}
	assert.equal(seen, 12);
	const code = ["signin.html", "join.html", "signin/join.js"].map(source).join("\n");
	for (const key of Object.keys(enSignin)) assert.ok(code.includes(`"${key}"`), key);
});

test("signing in leads to this server only", () => {
	const here = "https://vines.example";
	const go = (/** @type {string} */ then) => placeAfter(`?then=${encodeURIComponent(then)}`, here);
	assert.equal(placeAfter("", here), "/");
	assert.equal(go("/report?x=1"), "/report?x=1");
	assert.equal(go("/field"), "/field");
	for (const evil of ["//evil.example", "/\\evil.example", "https://evil.example", "javascript:alert(1)", "/\t/evil.example", "/\n/evil.example", "\\\\evil.example", "evil.example", "/..//evil.example", "/.//evil.example", ""]) {
		assert.equal(go(evil), "/", evil);
	}
});
