// A proposal of orders while a manager changes it: rows move to another crew or
// day, or are dropped; what each crew then has is added up again. Nothing here is
// kept until it is sent.

/**
 * @typedef {"near" | "far"} Start which end the walk begins at; near is where vine 1 stands
 * @typedef {{row: number, label: string, from: number, to: number, start: Start, side: string}} OrderRow
 *
 * @typedef {object} Draft an order that is not kept yet
 * @property {number} season
 * @property {string} operation
 * @property {number} block
 * @property {string} code
 * @property {string} crew
 * @property {string} day
 * @property {string} note
 * @property {OrderRow[]} rows in walking order
 * @property {boolean} sick
 *
 * @typedef {{name: string, vines: number, hours: number, rows: number}} CrewShare
 *
 * @typedef {object} Entry one row of a draft
 * @property {string} key
 * @property {number} season
 * @property {string} operation
 * @property {number} block
 * @property {string} code
 * @property {string} crew
 * @property {string} day
 * @property {string} note
 * @property {boolean} sick
 * @property {OrderRow} row
 * @property {number} vines about, until it is weighed
 * @property {number} hours of one person, about, until it is weighed
 *
 * @typedef {{index: number, dx: number, dy: number}} RowLine where a row lies in its block, and which way its numbers run
 * @typedef {(block: number, row: number) => RowLine} LineOf
 */

/**
 * The rows of a proposal. What the server says of each crew is spread over its
 * rows by their vines until the server has weighed each row; see weighed.
 * @param {Draft[]} orders
 * @param {CrewShare[]} crews
 * @param {(block: number, row: OrderRow, sick: boolean) => number} weigh vines there are in a row, about
 * @returns {Entry[]}
 */
export function entriesOf(orders, crews, weigh) {
	const entries = orders.flatMap((o) => {
		const { rows, ...rest } = o;
		return rows.map((row) => ({ ...rest, row, key: keyOf(o, row), vines: Math.max(1, weigh(o.block, row, o.sick)), hours: 0 }));
	});
	for (const crew of crews) {
		const own = entries.filter((e) => e.crew === crew.name);
		const sum = own.reduce((n, e) => n + e.vines, 0);
		for (const e of own) {
			e.hours = (crew.hours * e.vines) / sum;
			e.vines = (crew.vines * e.vines) / sum;
		}
	}
	return entries;
}

/**
 * Gives rows to another crew or day and puts the rows of each list that gained or
 * lost some into walking order again.
 * @param {Entry[]} entries
 * @param {Set<string>} keys
 * @param {{crew?: string, day?: string}} to what is left out stays
 * @param {LineOf} lineOf
 * @param {boolean} everyOther
 */
export function moveRows(entries, keys, { crew, day }, lineOf, everyOther) {
	const touched = new Set();
	const moved = entries.map((e) => {
		if (!keys.has(e.key)) return e;
		const now = { ...e, crew: crew || e.crew, day: day || e.day };
		touched.add(listOf(e)).add(listOf(now));
		return now;
	});
	return rewalk(moved, touched, lineOf, everyOther);
}

/** @param {Entry[]} entries @param {Set<string>} keys @param {LineOf} lineOf @param {boolean} everyOther */
export function dropRows(entries, keys, lineOf, everyOther) {
	const touched = new Set(entries.filter((e) => keys.has(e.key)).map(listOf));
	return rewalk(entries.filter((e) => !keys.has(e.key)), touched, lineOf, everyOther);
}

/** The lists in order, each with its rows. @param {Entry[]} entries @returns {Entry[][]} */
export function listsOf(entries) {
	/** @type {Map<string, Entry[]>} */
	const lists = new Map();
	for (const e of entries) {
		const list = lists.get(listOf(e));
		if (list) list.push(e);
		else lists.set(listOf(e), [e]);
	}
	return [...lists.values()];
}

/** Rows of one list make one order. @param {Entry} e */
export function listOf(e) {
	return [e.day, e.crew, e.code, e.block, e.sick ? 1 : 0].join("\u0000");
}

/** @param {Entry[]} entries @param {Set<string>} touched @param {LineOf} lineOf @param {boolean} everyOther */
function rewalk(entries, touched, lineOf, everyOther) {
	return listsOf(entries)
		.sort((a, b) => (listOf(a[0]) < listOf(b[0]) ? -1 : 1))
		.flatMap((list) => (touched.has(listOf(list[0])) ? walked(list, lineOf, everyOther) : list));
}

/**
 * Up one row and down the next; every other row: out by every other, back by
 * those between. A row whose numbers run the other way is entered at its other
 * numbered end, so that up and down alternate on the ground.
 * @param {Entry[]} list of one order
 * @param {LineOf} lineOf
 * @param {boolean} everyOther
 * @returns {Entry[]}
 */
export function walked(list, lineOf, everyOther) {
	const sorted = [...list].sort((a, b) => lineOf(a.block, a.row.row).index - lineOf(b.block, b.row.row).index || a.row.from - b.row.from);
	const order = everyOther ? [...sorted.filter((_, k) => k % 2 === 0), ...sorted.filter((_, k) => k % 2 === 1).reverse()] : sorted;
	if (!order.length) return order;
	const first = lineOf(order[0].block, order[0].row.row);
	let side = order[0].row.start;
	return order.map((e) => {
		const line = lineOf(e.block, e.row.row);
		const opposed = first.dx * line.dx + first.dy * line.dy < 0;
		const start = opposed ? other(side) : side;
		side = other(side);
		return { ...e, row: { ...e.row, start } };
	});
}

/** @param {Start} s @returns {Start} */
function other(s) {
	return s === "near" ? "far" : "near";
}

/**
 * What each crew has.
 * @param {Entry[]} entries
 * @param {string[]} crews by name, in the order wished for
 */
export function totalsOf(entries, crews) {
	const names = [...crews, ...new Set(entries.map((e) => e.crew).filter((c) => !crews.includes(c)))];
	return names.map((name) => {
		const own = entries.filter((e) => e.crew === name);
		return {
			name,
			rows: new Set(own.map((e) => e.row.row)).size,
			vines: Math.round(own.reduce((n, e) => n + e.vines, 0)),
			hours: own.reduce((n, e) => n + e.hours, 0),
			days: new Set(own.map((e) => e.day)).size,
		};
	});
}

/** The orders to be kept. @param {Entry[]} entries @returns {Draft[]} */
export function ordersOf(entries) {
	/** @type {Map<string, Draft>} */
	const orders = new Map();
	for (const { key, row, vines, hours, ...rest } of entries) {
		const name = listOf(/** @type {Entry} */ ({ ...rest }));
		const order = orders.get(name) ?? { ...rest, rows: [] };
		order.rows.push(row);
		orders.set(name, order);
	}
	return [...orders.values()];
}

/**
 * The rows with what the server counts in each.
 * @param {Entry[]} entries
 * @param {Draft[]} orders of the entries, as they were sent
 * @param {import("./api.js").OrderWork[]} work in the same order
 * @returns {Entry[]}
 */
export function weighed(entries, orders, work) {
	/** @type {Map<string, {vines: number, hours: number}>} */
	const counted = new Map();
	orders.forEach((o, k) => o.rows.forEach((row, r) => counted.set(keyOf(o, row), work[k].rows[r])));
	return entries.map((e) => {
		const got = counted.get(e.key);
		return got ? { ...e, vines: got.vines, hours: got.hours } : e;
	});
}

/** @param {{block: number, sick: boolean}} order @param {OrderRow} row */
function keyOf({ block, sick }, row) {
	return `${block}.${row.row}.${sick ? 1 : 0}.${row.from}`;
}

/**
 * Rows that are in open orders of the same operation already.
 * @param {Entry[]} entries
 * @param {{operation: string, block: number, state: string, rows: {row: number, from: number, to: number}[]}[]} orders
 */
export function taken(entries, orders) {
	const open = orders.filter((o) => o.state === "open");
	return new Set(entries.filter((e) => open.some((o) => o.operation === e.operation && o.block === e.block && o.rows.some((r) => r.row === e.row.row && r.from <= e.row.to && r.to >= e.row.from))).map((e) => e.key));
}
