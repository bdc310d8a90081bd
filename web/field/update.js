// The service worker, and new versions of the page. A waiting version is taken at
// the start, or when nothing waits and nobody is in a row; else it is told.

import { h, tap } from "./ui.js";

/** @typedef {import("./app.js").App} App */

const CHECK_MS = 30 * 60_000;

/** @param {App} app */
export async function keepVersion(app) {
	if (!("serviceWorker" in navigator)) return;
	const had = navigator.serviceWorker.controller;
	let registration;
	try {
		registration = await navigator.serviceWorker.register("/field/sw.js", { scope: "/field", updateViaCache: "none" });
	} catch {
		return; // no signal at a first start, or no secure address: "about this phone" says so
	}
	if (!registration) return; // switched off in this browser
	if (had && registration.waiting && navigator.serviceWorker.controller) {
		await takeOver(registration.waiting);
		location.reload();
		await new Promise(() => {}); // nothing of the old version is shown any more
	}
	void askVersion(app);
	const found = (/** @type {ServiceWorker} */ worker) => {
		worker.addEventListener("statechange", () => {
			if (worker.state === "installed" && navigator.serviceWorker.controller) tell(app, worker);
			if (worker.state === "activated") void askVersion(app);
		});
	};
	if (registration.installing) found(registration.installing);
	registration.addEventListener("updatefound", () => registration.installing && found(registration.installing));
	const check = () => void registration.update().catch(() => {});
	setInterval(check, CHECK_MS);
	addEventListener("online", check);
	document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && check());
}

/** @param {App} app */
async function askVersion(app) {
	const registration = await navigator.serviceWorker.ready;
	const channel = new MessageChannel();
	channel.port1.onmessage = (e) => {
		app.version = e.data;
		document.documentElement.dataset.version = e.data;
		channel.port1.close();
	};
	registration.active?.postMessage("version", [channel.port2]);
}

/** @param {ServiceWorker} worker */
function takeOver(worker) {
	return new Promise((resolve) => {
		navigator.serviceWorker.addEventListener("controllerchange", resolve, { once: true });
		worker.postMessage("take over");
	});
}

/** @param {App} app @param {ServiceWorker} worker */
function tell(app, worker) {
	const place = document.getElementById("version-news");
	if (!place) return;
	let going = false;
	const load = async () => {
		if (going) return;
		going = true;
		await takeOver(worker);
		location.reload();
	};
	const show = () => {
		const n = app.outbox.waiting.length;
		document.documentElement.dataset.update = n ? "waits" : "ready";
		place.hidden = false;
		place.replaceChildren(h("p", {}, app.t(n ? "update.waits" : "update.ready")), n ? "" : tap(app.t("update.load"), "turn", load, { key: "update" }));
		if (!n && ["", "#"].includes(location.hash)) void load();
	};
	app.update = show;
	addEventListener("hashchange", show);
	show();
}
