// The service worker, and new versions of the page. A waiting version is taken at
// the start, or when nothing waits and nobody is in a row; else it is told.

import { h, tap } from "./ui.js";

/** @typedef {import("./app.js").App} App */

const CHECK_MS = 30 * 60_000;
/** A new version that does not take over in this time is left for later: the page must open in any case. */
const TAKE_MS = 15_000;
/** The newest version that waits. @type {ServiceWorker | null} */
let newest = null;

/** @param {App} app */
export async function keepVersion(app) {
	if (!("serviceWorker" in navigator)) return;
	const had = navigator.serviceWorker.controller;
	const registering = navigator.serviceWorker.register("/field/sw.js", { scope: "/field", updateViaCache: "none" });
	// At the first start there is nothing to wait for: on a slow line the page would stay empty.
	if (had) await follow(app, registering, true);
	else void follow(app, registering, false);
}

/** @param {App} app @param {Promise<ServiceWorkerRegistration>} registering @param {boolean} had a version was in charge before */
async function follow(app, registering, had) {
	let registration;
	try {
		registration = await registering;
	} catch {
		return; // no signal at a first start, or no secure address: "about this phone" says so
	}
	if (!registration) return; // switched off in this browser
	if (had && registration.waiting && navigator.serviceWorker.controller && (await takeOver(registration.waiting))) {
		location.reload();
		await new Promise(() => {}); // nothing of the old version is shown any more
	}
	void askVersion(app);
	/** @type {WeakSet<ServiceWorker>} */
	const followed = new WeakSet();
	const found = (/** @type {ServiceWorker} */ worker) => {
		if (followed.has(worker)) return;
		followed.add(worker);
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

/** True once it is in charge; false where it does not come to that. @param {ServiceWorker} worker @returns {Promise<boolean>} */
function takeOver(worker) {
	return new Promise((resolve) => {
		navigator.serviceWorker.addEventListener("controllerchange", () => resolve(true), { once: true });
		setTimeout(() => resolve(false), TAKE_MS);
		worker.postMessage("take over");
	});
}

/** @param {App} app @param {ServiceWorker} worker */
function tell(app, worker) {
	const place = document.getElementById("version-news");
	if (!place) return;
	const first = newest === null;
	newest = worker;
	if (!first) return app.update?.();
	let going = false;
	const load = async () => {
		if (going || !newest) return;
		going = true;
		if (await takeOver(newest)) location.reload();
		going = false;
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
