// What the page works out itself, without the page: who is meant by a name, what a
// link is good for, which lines of the log are wished for.

/**
 * @typedef {import("../lib/text.js").Texts} Texts
 * @typedef {import("./api.js").Act} Act
 * @typedef {"users" | "links" | "tokens" | "log" | "me"} PeoplePart
 */

export const ROLES = /** @type {const} */ (["manager", "agronomist", "viewer", "crew"]);

/** Which parts somebody may see. first: there are no users yet. @param {string} role @param {boolean} first @returns {PeoplePart[]} */
export function partsFor(role, first) {
	if (first) return ["users"];
	if (role === "open") return ["users", "links", "tokens", "log"];
	return role === "manager" ? ["users", "links", "tokens", "log", "me"] : ["me"];
}

/** The part an address names, else the first. @param {string} hash @param {PeoplePart[]} parts */
export function partOf(hash, parts) {
	const wish = new URLSearchParams(hash.replace(/^#/, "")).get("show");
	return parts.find((p) => p === wish) ?? parts[0];
}

/** Letter case and blanks make no other name (RFC 8266, Nickname). @param {string} a @param {string} b */
export function sameName(a, b) {
	const plain = (/** @type {string} */ s) => s.normalize("NFKC").trim().replace(/\s+/g, " ").toLowerCase();
	return plain(a) === plain(b);
}

/** Without letters that are taken for others: l, I, 1, O, 0, u and v. */
const LETTERS = "abcdefghijkmnpqrstwxyz23456789";

/**
 * A password that is easily read out: four groups of four signs, 78 bits.
 * @param {(n: number) => Uint8Array} random that many random bytes
 */
export function madeUpPassword(random) {
	let signs = "";
	while (signs.length < 16) for (const byte of random(32)) if (byte < 240 && signs.length < 16) signs += LETTERS[byte % 30];
	return (signs.match(/.{4}/g) ?? []).join("-");
}

/** @param {import("./api.js").Link} link @param {number} now ms @returns {"waiting" | "over" | "joined" | "ended"} */
export function linkState({ joined, until }, now) {
	const open = Date.parse(until) > now;
	if (joined) return open ? "joined" : "ended";
	return open ? "waiting" : "over";
}

/** This machine only, which no phone reaches. @param {string} url */
export function onlyHere(url) {
	return /^(localhost|127(\.\d+){3}|\[::1\])$/.test(new URL(url).hostname);
}

/** The day before or after among the days that have lines; empty: none. @param {string[]} days rising @param {string} day @param {1 | -1} way */
export function dayBeside(days, day, way) {
	const rest = days.filter((d) => (way < 0 ? d < day : d > day));
	return (way < 0 ? rest.at(-1) : rest[0]) ?? "";
}

/** Who stands in the log, in order of name. @param {Act[]} acts */
export function whoIn(acts) {
	return [...new Set(acts.map((a) => a.user))].sort((a, b) => a.localeCompare(b));
}

/** What was done, in words where there are some. @param {Texts} t @param {Act} act */
export function actText(t, { method, route }) {
	const key = `act.${method} ${route}`;
	return t.has(key) ? t(key) : `${method} ${route}`;
}

/** How the log names what was made by these routes.
 * @type {Record<string, string>}
 */
const NAMED = { "/api/tokens": "token ", "/api/tokens/{id}": "token ", "/api/crew-links": "link for crew ", "/api/crew-links/{id}": "link for crew " };

/**
 * What it was done to: of a path only what stands in the places of the route, of
 * tokens and links the name without the word that says what it is.
 * @param {Act} act
 */
export function targetOf({ route, target }) {
	const named = NAMED[route];
	if (named && target.startsWith(named)) return target.slice(named.length);
	const to = target.split("/");
	const parts = route.split("/");
	if (to.length !== parts.length || parts.some((p, k) => !p.startsWith("{") && p !== to[k])) return target;
	return to.filter((_, k) => parts[k].startsWith("{")).join(" · ");
}

/** How it ended. @param {Texts} t @param {Act} act */
export function endText(t, { route, status }) {
	if (status < 400) return t("people.end_done");
	if (status === 401 && route.endsWith("/signin")) return t("people.end_password");
	if (status < 500) return t("people.end_refused", { status: String(status) });
	return t("people.end_failed", { status: String(status) });
}

/** Day and time as the reader's clock has it. @param {string} language @param {string} time RFC 3339 */
export function whenText(language, time) {
	return new Intl.DateTimeFormat(language, { weekday: "short", day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(new Date(time));
}

/** A day of the log, which is one of UTC. @param {string} language @param {string} day 2027-01-20 */
export function dayText(language, day) {
	return new Intl.DateTimeFormat(language, { weekday: "short", day: "numeric", month: "short", year: "numeric", timeZone: "UTC" }).format(new Date(`${day}T00:00:00Z`));
}

/** @param {string} language @param {string} time */
export function clockText(language, time) {
	return new Intl.DateTimeFormat(language, { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23", timeZone: "UTC" }).format(new Date(time));
}
