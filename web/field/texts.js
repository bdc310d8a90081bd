// Texts, ordinals, days and times in the person's language.

import { textsIn } from "../lib/text.js";
import { LANGUAGES } from "../text/field/index.js";

/** @param {string} language */
export function textsFor(language) {
	const known = LANGUAGES[language] ? language : "en";
	const t = textsIn(LANGUAGES[known].table, known);
	const ordinals = new Intl.PluralRules(known, { type: "ordinal" });
	const clock = new Intl.DateTimeFormat(known, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
	const day = new Intl.DateTimeFormat(known, { weekday: "long", day: "numeric", month: "long", timeZone: "UTC" });
	const dated = new Intl.DateTimeFormat(known, { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });
	const short = new Intl.DateTimeFormat(known, { day: "numeric", month: "short" });
	return Object.assign(t, {
		/** 3 as 3rd. @param {number} n */
		ordinal(n) {
			const key = `ordinal.${ordinals.select(n)}`;
			return t(t.has(key) ? key : "ordinal.other", { n });
		},
		/** Hour and minute; with the day where it is not today. @param {number} ms @param {number} [now] */
		time(ms, now = Date.now()) {
			const at = new Date(ms);
			const time = clock.format(at);
			return at.toDateString() === new Date(now).toDateString() ? time : `${short.format(at)}, ${time}`;
		},
		/** A day such as 2027-01-12. @param {string} iso */
		day: (iso) => day.format(new Date(`${iso}T12:00:00Z`)),
		/** The same with its year and without its weekday. @param {string} iso */
		date: (iso) => dated.format(new Date(`${iso}T12:00:00Z`)),
		/** Runs of numbers: 3–5, 9. @param {[number, number][]} runs */
		runs: (runs) => new Intl.ListFormat(known, { type: "unit" }).format(runs.map(([a, b]) => (a === b ? String(a) : `${a}–${b}`))),
	});
}

/** @typedef {ReturnType<typeof textsFor>} FieldTexts */

/** The phone's own language, where there is a table of it; else English. @param {readonly string[]} wishes */
export function likelyLanguage(wishes) {
	for (const wish of wishes) {
		const base = wish.slice(0, 2).toLowerCase();
		if (LANGUAGES[base]) return base;
	}
	return "en";
}
