// Points set one by one on a map: the corners of an area, or a line.

/** @typedef {[number, number]} LonLat degrees */

/** Points nearer than this to the last one are the same press twice, degrees. */
const SAME = 1e-7;

export class Pen {
	/** @param {"area" | "line"} kind */
	constructor(kind) {
		this.kind = kind;
		/** @type {LonLat[]} */
		this.points = [];
		this.closed = false;
		/** @type {(() => void)[]} */
		this.listeners = [];
	}

	/** @param {() => void} listener */
	on(listener) {
		this.listeners.push(listener);
	}

	/** How many points it needs. */
	get least() {
		return this.kind === "area" ? 3 : 2;
	}

	/** Whether there is enough to go on with. */
	get ready() {
		return this.points.length >= this.least && (this.kind === "line" || this.closed);
	}

	/** Sets a point; false where it is the last one again, or the area is closed. @param {LonLat} p */
	add(p) {
		const last = this.points.at(-1);
		if (this.closed || (last && Math.abs(last[0] - p[0]) < SAME && Math.abs(last[1] - p[1]) < SAME)) return false;
		this.points.push(rounded(p));
		this.#changed();
		return true;
	}

	/** Takes the last step back: of a closed area that it was closed. */
	undo() {
		if (this.closed) this.closed = false;
		else if (!this.points.pop()) return;
		this.#changed();
	}

	/** @param {number} at */
	remove(at) {
		this.points.splice(at, 1);
		if (this.points.length < this.least) this.closed = false;
		this.#changed();
	}

	/** @param {number} at @param {LonLat} to */
	move(at, to) {
		this.points[at] = rounded(to);
		this.#changed();
	}

	/** Closes an area that has its corners. */
	close() {
		if (this.kind !== "area" || this.closed || this.points.length < this.least) return false;
		this.closed = true;
		this.#changed();
		return true;
	}

	clear() {
		this.points = [];
		this.closed = false;
		this.#changed();
	}

	#changed() {
		for (const listener of this.listeners) listener();
	}
}

/** To 8 decimals of a degree, 1 mm. @param {LonLat} p @returns {LonLat} */
function rounded([lon, lat]) {
	return [Number(lon.toFixed(8)), Number(lat.toFixed(8))];
}

/**
 * A coordinate as a person types it: degrees with a decimal mark, or degrees, minutes
 * and seconds, with N, S, E or W. Null where it is none.
 * @param {string} text
 * @param {"lon" | "lat"} which
 */
export function readDegrees(text, which) {
	const side = /[NSEW]$/i.exec(text.trim())?.[0].toUpperCase() ?? "";
	if (side && !(which === "lat" ? "NS" : "EW").includes(side)) return null;
	const bare = text.trim().replace(/[NSEW]$/i, "").trim();
	const parts = /^(-?)(\d{1,3}(?:[.,]\d+)?)(?:\s*°\s*(?:(\d{1,2}(?:[.,]\d+)?)\s*['′]\s*(?:(\d{1,2}(?:[.,]\d+)?)\s*["″]\s*)?)?)?$/.exec(bare);
	if (!parts || (parts[1] && side)) return null;
	const [degrees, minutes, seconds] = [parts[2], parts[3], parts[4]].map((p) => Number((p ?? "0").replace(",", ".")));
	if (minutes >= 60 || seconds >= 60 || (parts[3] && !Number.isInteger(degrees))) return null;
	const value = (parts[1] || side === "S" || side === "W" ? -1 : 1) * (degrees + minutes / 60 + seconds / 3600);
	return Math.abs(value) <= (which === "lat" ? 90 : 180) ? value : null;
}
