// Texts from one table per language, with plural forms and numbers by Intl.

/**
 * @typedef {string | {one: string, other: string, many?: string}} Text
 * @typedef {Record<string, Text>} Table
 */

/**
 * @param {Table} table
 * @param {string} language
 */
export function textsIn(table, language) {
	const plural = new Intl.PluralRules(language);
	const numbers = new Intl.NumberFormat(language);
	/**
	 * The text for a key with its {words} filled in. `n` chooses the plural form.
	 * @param {string} key
	 * @param {Record<string, string | number>} [words]
	 */
	const t = (key, words = {}) => {
		const entry = table[key];
		if (entry === undefined) throw new Error(`no text for ${key}`);
		const form = typeof entry === "string" ? entry : (entry[/** @type {"one"} */ (plural.select(Number(words.n)))] ?? entry.other);
		return form.replace(/\{(\w+)\}/g, (_, word) => {
			const value = words[word];
			return typeof value === "number" ? numbers.format(value) : (value ?? "");
		});
	};
	return Object.assign(t, {
		language,
		/** With as many decimals always, so that columns stand in line. @param {number} n @param {number} digits */
		fixed: (n, digits) => new Intl.NumberFormat(language, { maximumFractionDigits: digits, minimumFractionDigits: digits }).format(n),
		/** @param {string} key */
		has: (key) => key in table,
		/** @param {number} n @param {number} [digits] */
		number: (n, digits = 0) => new Intl.NumberFormat(language, { maximumFractionDigits: digits }).format(n),
		/** Share as a whole number of hundredths; never 0 % or 100 % unless it is exactly that. @param {number} part @param {number} whole */
		percent(part, whole) {
			if (!whole) return "–";
			let p = Math.round((100 * part) / whole);
			if (p === 0 && part > 0) p = 1;
			if (p === 100 && part < whole) p = 99;
			return new Intl.NumberFormat(language, { style: "percent" }).format(p / 100);
		},
	});
}

/** @typedef {ReturnType<typeof textsIn>} Texts */
