import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { test } from "node:test";
import { textsIn } from "../../lib/text.js";
import { CONDITIONS, PROGRESS } from "../../lib/model.js";
import { en } from "../../text/en.js";

const t = textsIn(en, "en");
/** @type {{name: string, code: string}[]} */
const sources = [];
for (const room of ["map", "report", "pruning", "replants", "work", "zones", "people", "ground", "import", "style", "lib"]) {
	const folder = new URL(`../../${room}/`, import.meta.url);
	for (const f of readdirSync(folder).filter((f) => f.endsWith(".js"))) sources.push({ name: f, code: readFileSync(new URL(f, folder), "utf8") });
}
const pages = ["index.html", "report.html", "pruning.html", "replants.html", "work.html", "zones.html", "people.html", "ground.html", "import.html", "work/sheets.html"].map((f) => readFileSync(new URL(`../../${f}`, import.meta.url), "utf8")).join("\n");

test("plural forms and numbers", () => {
	assert.equal(t("app.vines", { n: 1 }), "1 vine");
	assert.equal(t("app.vines", { n: 60078 }), "60,078 vines");
	assert.throws(() => t("no.such"), /no text/);
});

test("shares are never rounded to all or nothing", () => {
	assert.equal(t.percent(1, 10_000), "1%");
	assert.equal(t.percent(9_999, 10_000), "99%");
	assert.equal(t.percent(0, 10), "0%");
	assert.equal(t.percent(10, 10), "100%");
	assert.equal(t.percent(0, 0), "–");
});

test("every text that is asked for is in the table", () => {
	const asked = [...pages.matchAll(/data-(?:text|label)="([^"]+)"/g)].map((m) => m[1]);
	for (const { code } of sources) for (const m of code.matchAll(/\bt\("([a-z_]+\.[a-z_]+)"/g)) asked.push(m[1]);
	assert.ok(asked.length > 150);
	for (const key of asked) assert.ok(key in en, key);
	for (const c of CONDITIONS) assert.ok(`condition.${c}` in en, c);
	for (const p of PROGRESS) assert.ok(`progress.${p}` in en, p);
});

test("no text lies in the table unused", () => {
	const all = sources.map((s) => s.code).join("\n") + pages;
	const built = /^(condition|progress|vigour|quantity|unit|flag|theme|head\.(ground|map|plan|table|page)|choose\.(run|row|box|hint)|record\.(left|arm|cane|spur|cut|kind|scale|rootstock|clone|batch)|saved|legend\.pieces|line|basis|patch\.(title|on_map|how)|doubt|change|patches|load|follow-ups|set|why|word|in|group|rule|stage|bound|lean|renewal\.(left|use|remove|done)|path|arm|face|when|budburst|source|pruning\.(part|hist|each|by|col|caution)|runs\.(goal|hint|change|limit)|report\.(state|asked|part|kind|effect|file)|weigh\.passed|operation|way|act\.|replants\.(part|heading|none|suspected|doubtful|dead|above_graft|missing|to_replace|ordered|hole_dug|planted|took|failed)|gaps\.(state|source)|limit|money|assume\.(set|value|low|high)|step\.|what\.|reason\.|places\.(by|file)|order\.(set|clone|rootstock|potted|whole)|role|wood\.(on|verdict|out|base|internode|diameter|sound)|people\.(part|role|may)|work\.(minutes|part|language|rule|class|odd|fault|hours)|import\.(mark|kind|opt|hint|word|count|point|became|new|changed|go|return)|zones\.(none|part|group|layer|method|kind|aim|rule|saving|sure|file)|ground\.(part|side|fault|group|row|vine|headland|start|end|did|carry))[._]?/;
	for (const key of Object.keys(en)) if (!built.test(key)) assert.ok(all.includes(`"${key}"`), key);
});

test("plural texts have every form that English has", () => {
	for (const [key, text] of Object.entries(en)) if (typeof text === "object") assert.deepEqual(Object.keys(text).sort(), ["one", "other"], key);
});
