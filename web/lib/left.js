// What a pruner left on a vine, arm by arm: the small parts of a record, begun,
// changed and added up. Lengths and diameters mm.

/**
 * @typedef {{nodes: number, length_mm?: number}} Cane
 * @typedef {{nodes: number, first_bud_faces?: string}} Spur
 * @typedef {{face: string, diameter_mm?: number}} Cut
 * @typedef {{name: string, canes?: Cane[], spurs?: Spur[], large_cuts?: Cut[], climb_mm?: number}} Arm
 */

/** Names of arms that go without saying, seen from the numbering end of the row. */
export const ARM_NAMES = ["left", "right", "head"];
export const FACES = ["upper", "lower", "side"];
export const BUD_FACES = ["below", "above", "side"];

/** An arm as it is often left: a spur of two, its bud not looked at. @param {string} name @returns {Arm} */
export function freshArm(name) {
	return { name, canes: [], spurs: [{ nodes: 2 }], large_cuts: [] };
}

/** A name that no arm has yet. @param {Arm[]} arms */
export function nextName(arms) {
	return ARM_NAMES.find((n) => !arms.some((a) => a.name === n)) ?? String(arms.length + 1);
}

/** An arm without what is empty, as it is recorded. @param {Arm} arm @returns {Arm} */
export function tidyArm({ name, canes, spurs, large_cuts, climb_mm }) {
	return {
		name,
		...(canes?.length ? { canes } : {}), ...(spurs?.length ? { spurs } : {}), ...(large_cuts?.length ? { large_cuts } : {}),
		...(climb_mm ? { climb_mm } : {}),
	};
}

/** Nodes, canes and spurs of all arms. @param {Arm[]} arms */
export function totalsOf(arms) {
	const canes = arms.flatMap((a) => a.canes ?? []);
	const spurs = arms.flatMap((a) => a.spurs ?? []);
	return { nodes: [...canes, ...spurs].reduce((n, p) => n + p.nodes, 0), canes: canes.length, spurs: spurs.length };
}
