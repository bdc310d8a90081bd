// The outbox in the browser's own database (IndexedDB), shared by all pages of
// this computer. Writes ask for strict durability: a record is "kept" only when
// it is on the disk.

/**
 * @typedef {import("./outbox.js").OutboxStore} OutboxStore
 * @typedef {import("./outbox.js").Entry} Entry
 */

const NAME = "courson";
const RECORDS = "records";
const COUNTERS = "counters";

/**
 * @param {IDBFactory} factory
 * @returns {Promise<OutboxStore>}
 */
export async function openOutbox(factory) {
	let db = await open(factory);
	/**
	 * Runs work in one transaction; opens the database again if the browser has
	 * dropped the connection.
	 * @template T
	 * @param {IDBTransactionMode} mode
	 * @param {(tx: IDBTransaction) => () => T} work gives a function that reads the result when all is done
	 * @returns {Promise<T>}
	 */
	const run = async (mode, work) => {
		try {
			return await transact(db, mode, work);
		} catch (error) {
			if (!(error instanceof DOMException) || error.name !== "InvalidStateError") throw error;
			db = await open(factory);
			return transact(db, mode, work);
		}
	};
	return {
		add: (drafts) =>
			run("readwrite", (tx) => {
				/** @type {import("./model.js").FieldEvent[]} */
				const events = [];
				const counters = tx.objectStore(COUNTERS);
				const last = counters.get("seq");
				last.onsuccess = () => {
					let seq = last.result ?? 0;
					for (const draft of drafts) {
						const event = { ...draft, seq: ++seq };
						events.push(event);
						tx.objectStore(RECORDS).add({ id: event.id, seq, event });
					}
					counters.put(seq, "seq");
				};
				return () => events;
			}),
		list: () =>
			run("readonly", (tx) => {
				const all = tx.objectStore(RECORDS).index("seq").getAll();
				return () => all.result.map((/** @type {any} */ r) => ({ event: r.event, refused: r.refused }));
			}),
		remove: (ids) =>
			run("readwrite", (tx) => {
				for (const id of ids) tx.objectStore(RECORDS).delete(id);
				return () => {};
			}),
		refuse: (id, reason) =>
			run("readwrite", (tx) => {
				const records = tx.objectStore(RECORDS);
				const found = records.get(id);
				found.onsuccess = () => {
					if (found.result) records.put({ ...found.result, refused: reason });
				};
				return () => {};
			}),
	};
}

/** @param {IDBFactory} factory @returns {Promise<IDBDatabase>} */
function open(factory) {
	return new Promise((resolve, reject) => {
		const request = factory.open(NAME, 1);
		request.onupgradeneeded = () => {
			const records = request.result.createObjectStore(RECORDS, { keyPath: "id" });
			records.createIndex("seq", "seq");
			request.result.createObjectStore(COUNTERS);
		};
		request.onsuccess = () => {
			request.result.onversionchange = () => request.result.close();
			resolve(request.result);
		};
		request.onerror = () => reject(request.error);
		request.onblocked = () => reject(new Error("another page keeps an older outbox open; close it"));
	});
}

/**
 * @template T
 * @param {IDBDatabase} db
 * @param {IDBTransactionMode} mode
 * @param {(tx: IDBTransaction) => () => T} work
 * @returns {Promise<T>}
 */
function transact(db, mode, work) {
	return new Promise((resolve, reject) => {
		const tx = db.transaction([RECORDS, COUNTERS], mode, { durability: mode === "readwrite" ? "strict" : "default" });
		const result = work(tx);
		tx.oncomplete = () => resolve(result());
		tx.onerror = () => reject(tx.error);
		tx.onabort = () => reject(tx.error ?? new Error("the browser's database gave up"));
	});
}
