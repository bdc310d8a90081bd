import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { asker, linksOf, pagesFor, signOut, whoami } from "../../lib/whoami.js";
import { textsIn } from "../../lib/text.js";
import { actText, clockText, dayBeside, dayText, endText, linkState, madeUpPassword, onlyHere, partOf, partsFor, sameName, targetOf, whoIn } from "../../people/words.js";
import { en } from "../../text/en.js";

const t = textsIn(en, "en");
const act = (more = {}) => ({ time: "2027-01-20T23:59:01Z", user: "Ada", role: "manager", method: "PUT", route: "/api/users/{name}", target: "/api/users/Ben", status: 200, request: "r", ...more });
/** @param {number} status @param {object} body */
const answers = (status, body) => /** @type {typeof fetch} */ (async () => new Response(JSON.stringify(body), { status }));

test("who is signed in: nobody where the server is open, refuses or is not there", async () => {
	const ada = { name: "Ada", role: "manager", crew: "" };
	assert.deepEqual(await whoami(answers(200, ada)), ada);
	assert.equal(await whoami(answers(200, { name: "", role: "open", crew: "" })), null);
	assert.equal((await asker(answers(200, { name: "", role: "open", crew: "" })))?.role, "open");
	assert.equal(await asker(answers(401, {})), null);
	assert.deepEqual(pagesFor("open"), ["work", "field", "import", "ground", "people"]);
	assert.deepEqual([pagesFor("agronomist"), pagesFor("viewer"), pagesFor("crew")], [["work", "field", "import"], ["work", "field"], ["field"]]);
	assert.equal(await whoami(answers(401, {})), null);
	assert.equal(await whoami(async () => { throw new TypeError("no network"); }), null);
	assert.equal(linksOf({ name: "Ada", role: "manager", crew: "" }).people, "/people");
	for (const role of /** @type {const} */ (["agronomist", "viewer", "crew"])) assert.equal(linksOf({ name: "B", role, crew: "" }).people, "");
});

test("signing out says so where the server was not reached or refused", async () => {
	/** @type {any[]} */
	const asked = [];
	await signOut(/** @type {any} */ (async (/** @type {any[]} */ ...args) => { asked.push(args); return new Response(null, { status: 204 }); }), true);
	assert.equal(asked[0][0], "/api/signout");
	assert.deepEqual(JSON.parse(asked[0][1].body), { everywhere: true });
	await assert.rejects(signOut(answers(500, {})), /500/);
	await assert.rejects(signOut(async () => { throw new TypeError("no network"); }), /no network/);
});

test("each role sees its parts", () => {
	assert.deepEqual(partsFor("open", true), ["users"]);
	assert.deepEqual(partsFor("open", false), ["users", "links", "tokens", "log"], "nobody is signed in who could have an account");
	assert.deepEqual(partsFor("manager", false), ["users", "links", "tokens", "log", "me"]);
	for (const role of ["agronomist", "viewer", "crew"]) assert.deepEqual(partsFor(role, false), ["me"]);
	assert.equal(partOf("#show=log", partsFor("manager", false)), "log");
	assert.equal(partOf("#show=log", partsFor("viewer", false)), "me", "not what the role may not see");
	assert.equal(partOf("#people", partsFor("manager", false)), "users");
});

test("the same name, however it is written", () => {
	// RFC 8266, section 2: blanks at the ends go, several count as one, letter case does not matter, NFKC.
	assert.ok(sameName("  Ada   Weber ", "ada weber"));
	assert.ok(sameName("Ａda", "ada"));
	assert.ok(!sameName("Ada", "Ada W"));
});

test("made-up passwords: four groups, every sign equally likely, none mistaken for another", () => {
	/** @type {Record<string, number>} */
	const seen = {};
	let from = -16;
	const counting = (/** @type {number} */ n) => {
		from += 16; // a password uses 16 bytes where none is left out
		return Uint8Array.from({ length: n }, (_, k) => (from + k) % 256);
	};
	for (let k = 0; k < 240; k++) {
		const password = madeUpPassword(counting);
		assert.match(password, /^[a-z2-9]{4}(-[a-z2-9]{4}){3}$/);
		for (const c of password.replaceAll("-", "")) seen[c] = (seen[c] ?? 0) + 1;
	}
	assert.equal(Object.keys(seen).length, 30);
	assert.ok(!/[lou01]/.test(Object.keys(seen).join("")));
	const counts = Object.values(seen);
	assert.ok(Math.max(...counts) <= 1.2 * Math.min(...counts), `${Math.min(...counts)} to ${Math.max(...counts)}`);
});

test("what a link is good for", () => {
	const now = Date.parse("2027-01-20T12:00:00Z");
	const link = (/** @type {string | null} */ joined, /** @type {string} */ until) => linkState(/** @type {any} */ ({ joined, until }), now);
	assert.equal(link(null, "2027-01-20T12:00:01Z"), "waiting");
	assert.equal(link(null, "2027-01-20T12:00:00Z"), "over");
	assert.equal(link("2027-01-19T12:00:00Z", "2027-02-01T00:00:00Z"), "joined");
	assert.equal(link("2027-01-01T12:00:00Z", "2027-01-15T12:00:00Z"), "ended");
	for (const url of ["http://127.0.0.1:8480/join#x", "http://localhost/join", "http://[::1]:8480/join", "http://127.1.2.3/"]) assert.ok(onlyHere(url), url);
	for (const url of ["https://vines.example/join#x", "http://192.168.1.5:8480/join", "http://127.example/"]) assert.ok(!onlyHere(url), url);
});

test("the log: days beside, persons, words, what it was done to, how it ended", () => {
	const days = ["2027-01-10", "2027-01-12", "2027-01-20"];
	assert.equal(dayBeside(days, "2027-01-20", -1), "2027-01-12");
	assert.equal(dayBeside(days, "2027-01-11", 1), "2027-01-12", "from a day without lines too");
	assert.equal(dayBeside(days, "2027-01-20", 1), "");
	assert.equal(dayBeside(days, "2027-01-10", -1), "");
	assert.deepEqual(whoIn([act(), act({ user: "Ben" }), act()]), ["Ada", "Ben"]);
	assert.equal(actText(t, act()), "added or changed a user");
	assert.equal(actText(t, act({ method: "PATCH", route: "/api/other" })), "PATCH /api/other", "nothing is hidden for want of words");
	assert.equal(targetOf(act()), "Ben");
	assert.equal(targetOf(act({ route: "/api/signin", target: "/api/signin" })), "");
	assert.equal(targetOf(act({ route: "/api/tokens", target: "token Weather" })), "Weather");
	assert.equal(targetOf(act({ method: "POST", route: "/api/tokens", target: "/api/tokens" })), "", "refused");
	assert.equal(targetOf(act({ route: "/api/crew-links", target: "link for crew North" })), "North");
	assert.equal(targetOf(act({ method: "DELETE", route: "/api/tokens/{id}", target: "token Weather" })), "Weather");
	assert.equal(targetOf(act({ method: "DELETE", route: "/api/crew-links/{id}", target: "link for crew North, phone Ana’s" })), "North, phone Ana’s");
	assert.equal(endText(t, act({ status: 204 })), "done");
	assert.equal(endText(t, act({ route: "/api/signin", status: 401 })), "wrong password");
	assert.equal(endText(t, act({ status: 403 })), "refused (403)");
	assert.equal(endText(t, act({ status: 500 })), "failed (500)");
	assert.equal(clockText("en", "2027-01-20T23:59:01Z"), "23:59:01", "UTC, as the days are");
	assert.match(dayText("en", "2027-01-20"), /Wed.*20/);
});

test("the words of the log are of routes that there are", () => {
	const { paths } = JSON.parse(readFileSync(new URL("../../../server/openapi.json", import.meta.url), "utf8"));
	for (const key of Object.keys(en).filter((k) => k.startsWith("act."))) {
		const [method, path] = key.slice(4).split(" ");
		assert.ok(paths[path]?.[method.toLowerCase()], key);
	}
});
