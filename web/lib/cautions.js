// What to mind at an order: the server says which hazards belong to it, the pages
// have the words.

/** Of all work in the rows; for orders that came before hazards were sent along, or of operations of the estate's own. */
export const GENERAL = ["cold", "slope", "machines", "alone", "rules"];

/** @param {{cautions?: string[]}} order @param {(key: string) => boolean} has whether the table has a text */
export function hazardsOf({ cautions }, has) {
	const known = (cautions ?? []).filter((k) => has(`caution.${k}`));
	return known.length ? known : GENERAL;
}
