// Texts of the sheets on paper and the cautions that go with each operation, in
// all languages.

import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { test } from "node:test";
import { GENERAL, hazardsOf } from "../../lib/cautions.js";
import { operationOf } from "../../sheet/paper.js";
import { SHEETS, sheetTexts } from "../../sheet/texts.js";
import { LANGUAGES } from "../../text/field/index.js";

const folder = new URL("../../sheet/", import.meta.url);
const code = readdirSync(folder).filter((f) => f.endsWith(".js")).map((f) => readFileSync(new URL(f, folder), "utf8")).join("\n");
const words = (/** @type {any} */ text) => [...new Set(Object.values(typeof text === "string" ? { text } : text).flatMap((t) => [...String(t).matchAll(/\{(\w+)\}/g)].map((m) => m[1])))].sort();

test("sheets speak every language of the phones, with the same texts and all plural forms", () => {
	assert.deepEqual(Object.keys(SHEETS), Object.keys(LANGUAGES));
	for (const [language, table] of Object.entries(SHEETS)) {
		const forms = new Intl.PluralRules(language).resolvedOptions().pluralCategories.sort();
		assert.deepEqual(Object.keys(table), Object.keys(SHEETS.en), language);
		for (const [key, text] of Object.entries(table)) {
			assert.equal(typeof text, typeof SHEETS.en[key], `${language} ${key}`);
			assert.deepEqual(words(text).filter((w) => w !== "n"), words(SHEETS.en[key]).filter((w) => w !== "n"), `${language} ${key}`);
			if (typeof text === "object") assert.deepEqual(Object.keys(text).sort(), forms, `${language} ${key}`);
			assert.ok(!(key in LANGUAGES.en.table), `${key} is in the phone's table too`);
		}
	}
});

test("what a sheet asks for is in its tables, and nothing lies there unused", () => {
	const t = sheetTexts("en");
	const asked = [...code.matchAll(/"((?:sheet|caution|order)\.[a-z_]+)"/g)].map((m) => m[1]);
	assert.ok(asked.length > 25);
	for (const key of asked) assert.ok(t.has(key), key);
	for (const key of Object.keys(SHEETS.en)) if (!/^way\./.test(key)) assert.ok(code.includes(`"${key}"`), key);
});

test("an unknown language is English; an operation of the estate's own keeps its name", () => {
	assert.equal(sheetTexts("xx").language, "en");
	assert.equal(sheetTexts("").language, "en");
	assert.equal(operationOf(sheetTexts("fr"), "shoot thinning"), "Ébourgeonnage");
	assert.equal(operationOf(sheetTexts("es"), "pre-pruning"), "Prepoda");
	assert.equal(operationOf(sheetTexts("pt"), "mowing"), "Mowing");
});

test("an order without hazards has the general ones; words that are not known are left out", () => {
	const { has } = sheetTexts("en");
	assert.deepEqual(hazardsOf({}, has), GENERAL);
	assert.deepEqual(hazardsOf({ cautions: [] }, has), GENERAL);
	assert.deepEqual(hazardsOf({ cautions: ["digging", "of a later version", "rules"] }, has), ["digging", "rules"]);
	for (const k of GENERAL) assert.ok(has(`caution.${k}`), k);
});

test("what is a figure in a caution says what it rests on", () => {
	for (const [language, { table }] of Object.entries(LANGUAGES))
		for (const [key, text] of Object.entries(table))
			if (key.startsWith("caution.") && /\d/.test(String(text))) assert.match(String(text), /common practice|práctica común|pratique courante|prática comum|Wine Australia/, `${language} ${key}`);
});
