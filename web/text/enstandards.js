// The texts of what a grower sets for pruning: every setting, what it means, and
// where its first value is from.

/** @type {import("../lib/text.js").Table} */
export const enStandards = {};
