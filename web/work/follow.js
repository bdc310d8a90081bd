// Keeps the page up with the server: what crews record shows in the figures a
// moment later.

import { Stream } from "../lib/stream.js";

/** Many records come in a row; the figures are asked for once after them. */
const GATHER_MS = 1_500;

/**
 * @param {import("./main.js").Work} work
 * @param {{onLine: (state: import("../lib/stream.js").LineState) => void, reload: () => void}} parts
 */
export function follow({ app }, { onLine, reload }) {
	let timer = 0;
	// Not put off by each new record: where many work, the figures would stand still all day.
	const soon = () => {
		timer ||= window.setTimeout(() => {
			timer = 0;
			reload();
		}, GATHER_MS);
	};
	const stream = new Stream({
		connect: () => new EventSource("/api/stream"),
		onChange: soon,
		onHello: (_version, again) => {
			if (!again) return;
			soon();
			void app.outbox.hurry();
		},
		onState: onLine,
	});
	stream.open();
	for (const [target, name] of /** @type {[EventTarget, string][]} */ ([[window, "online"], [document, "visibilitychange"]]))
		target.addEventListener(name, () => {
			if (name === "online") stream.renew();
			if (document.visibilityState !== "visible") return;
			stream.hurry();
			if (app.outbox.waiting.length) void app.outbox.hurry();
		});
}
