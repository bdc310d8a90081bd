// Days of the calendar as the server writes them, 2027-01-12, apart from any zone.

/** @param {string} text */
export function isDay(text) {
	return /^\d{4}-\d{2}-\d{2}$/.test(text) && !Number.isNaN(Date.parse(`${text}T00:00:00Z`)) && new Date(`${text}T00:00:00Z`).toISOString().startsWith(text);
}

/** @param {string} day @param {number} n may be negative */
export function addDays(day, n) {
	const d = new Date(`${day}T00:00:00Z`);
	d.setUTCDate(d.getUTCDate() + n);
	return d.toISOString().slice(0, 10);
}

/** Days from one to another; 0 on the same day. @param {string} from @param {string} to */
export function daysBetween(from, to) {
	return Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / 86_400_000);
}

/**
 * The day it is at an instant where the clocks are those of a zone.
 * @param {string} zone such as Europe/Vienna; one that is not known counts as UTC
 * @param {Date} now
 */
export function dayIn(zone, now) {
	const { year, month, day } = partsIn(zone, now);
	return `${year}-${month}-${day}`;
}

/**
 * The instant when a clock of a zone shows so many hours on a day.
 * @param {string} day
 * @param {number} hour
 * @param {string} zone
 */
export function instantOf(day, hour, zone) {
	const wished = Date.parse(`${day}T00:00:00Z`) + hour * 3_600_000;
	let at = wished;
	for (let k = 0; k < 2; k++) {
		const p = partsIn(zone, new Date(at));
		at += wished - Date.parse(`${p.year}-${p.month}-${p.day}T${p.hour}:${p.minute}:00Z`);
	}
	return new Date(at);
}

/** @param {string} zone @param {Date} at @returns {Record<string, string>} */
function partsIn(zone, at) {
	/** @type {Intl.DateTimeFormatOptions} */
	const form = { year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
	let format;
	try {
		format = new Intl.DateTimeFormat("en-CA", { ...form, timeZone: zone });
	} catch {
		format = new Intl.DateTimeFormat("en-CA", { ...form, timeZone: "UTC" });
	}
	return Object.fromEntries(format.formatToParts(at).map((p) => [p.type, p.value]));
}

/**
 * A day in words.
 * @param {string} language
 * @param {string} day
 * @param {"short" | "long"} [form] short: Dec 18; long: Friday, December 18, 2026
 */
export function dayWords(language, day, form = "short") {
	if (!isDay(day)) return day;
	/** @type {Intl.DateTimeFormatOptions} */
	const how = form === "short" ? { month: "short", day: "numeric" } : { weekday: "long", year: "numeric", month: "long", day: "numeric" };
	return new Intl.DateTimeFormat(language, { ...how, timeZone: "UTC" }).format(new Date(`${day}T00:00:00Z`));
}
