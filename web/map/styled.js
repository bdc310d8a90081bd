// Whether the map has its style. It has none before the first is loaded, nor
// between a lost graphics context and its return; changes wait until it has.

/** @param {import("./maplibre.js").MapLibreMap} map */
export function watchStyled(map) {
	let styled = false;
	/** @type {Set<() => void>} */
	const waiting = new Set();
	map.on("webglcontextlost", () => (styled = false));
	map.on("style.load", () => {
		styled = true;
		const due = [...waiting];
		waiting.clear();
		for (const act of due) act();
	});
	return {
		/** Does it now, or once there is a style; the same function once only. @param {() => void} act */
		when(act) {
			if (styled) act();
			else waiting.add(act);
		},
	};
}

/** @typedef {ReturnType<typeof watchStyled>} Styled */
