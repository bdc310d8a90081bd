// Keeps the report up with the server: findings that are ready, and how far those
// under way are.

import { Stream } from "../lib/stream.js";

/**
 * @param {{app: import("../map/app.js").App, about: import("../lib/signal.js").Signal<any>}} page of one block
 * @param {{onLine: (state: import("../lib/stream.js").LineState) => void, reload: () => void}} parts
 */
export function follow({ app, about }, { onLine, reload }) {
	const mine = (/** @type {number} */ block) => app.blocks.get().list.some((b) => b.id === block && (b.code === about.get().block || String(b.id) === about.get().block));
	const stream = new Stream({
		connect: () => new EventSource("/api/stream"),
		onChange: (c) => {
			if (mine(c.block)) reload();
		},
		onFound: (f) => {
			if (mine(f.block)) reload();
		},
		onHello: (version, again) => {
			if (!again) return;
			reload();
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
