// The service worker of the phone page. SHELL (version and files with their
// digests) is put before this by the server. It keeps the whole shell or nothing,
// and never what the server says under /api: that is the page's own to keep.

const worker = /** @type {any} */ (self);
/** @type {{version: string, files: [address: string, digest: string][]}} */
const shell = worker.SHELL;
const PREFIX = "courson-field-";
const NAME = PREFIX + shell.version;
const addresses = new Set(shell.files.map(([address]) => address));

worker.addEventListener("install", (/** @type {any} */ event) => event.waitUntil(keep()));

// A digest that does not fit fails the whole: a server that changes its files in
// the middle must not leave half of each on the phone.
async function keep() {
	const cache = await caches.open(NAME);
	await Promise.all(
		shell.files.map(async ([address, integrity]) => {
			const answer = await fetch(new Request(address, { cache: "no-cache", integrity, credentials: "same-origin" }));
			if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
			await cache.put(address, answer);
		}),
	);
}

worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(takeOver()));

async function takeOver() {
	for (const name of await caches.keys()) if (name.startsWith(PREFIX) && name !== NAME) await caches.delete(name);
	await worker.clients.claim();
}

worker.addEventListener("fetch", (/** @type {any} */ event) => {
	const request = /** @type {Request} */ (event.request);
	const address = new URL(request.url);
	if (request.method !== "GET" || address.origin !== location.origin || !addresses.has(address.pathname)) return;
	event.respondWith(answer(request, address.pathname));
});

/** @param {Request} request @param {string} address */
async function answer(request, address) {
	const cache = await caches.open(NAME);
	return (await cache.match(address)) ?? fetch(request);
}

worker.addEventListener("message", (/** @type {any} */ event) => {
	if (event.data === "take over") worker.skipWaiting();
	if (event.data === "version") event.ports[0]?.postMessage(shell.version);
});
