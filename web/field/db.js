// The phone page's own store in the browser's database: the bundle, where one is
// in each row, what this phone has recorded, marks to be completed. Records that
// wait for the server are not here but in the outbox, which all pages share.

const NAME = "courson-field";
/** @typedef {"kept" | "log" | "todo"} Room */
/** @typedef {{room: Room, put?: any, key?: string, remove?: string}} Write */

/**
 * @param {IDBFactory} factory
 */
export async function openFieldDb(factory) {
	let db = await open(factory);
	/**
	 * @template T
	 * @param {(db: IDBDatabase) => Promise<T>} work
	 */
	const again = async (work) => {
		try {
			return await work(db);
		} catch (error) {
			if (!(error instanceof DOMException) || error.name !== "InvalidStateError") throw error;
			db = await open(factory); // the browser dropped the connection
			return work(db);
		}
	};
	return {
		/** @param {string} key @returns {Promise<any>} */
		get: (key) => again((d) => result(d.transaction("kept").objectStore("kept").get(key))),
		/** @param {"log" | "todo"} room @returns {Promise<any[]>} */
		all: (room) => again((d) => result(d.transaction(room).objectStore(room).getAll())),
		/** Everything or nothing, and on the disk when it resolves. @param {Write[]} writes @returns {Promise<void>} */
		write: (writes) =>
			again(
				(d) =>
					new Promise((resolve, reject) => {
						if (!writes.length) return resolve();
						const tx = d.transaction([...new Set(writes.map((w) => w.room))], "readwrite", { durability: "strict" });
						for (const w of writes) {
							const room = tx.objectStore(w.room);
							if (w.remove !== undefined) room.delete(w.remove);
							else if (w.key !== undefined) room.put(w.put, w.key);
							else room.put(w.put);
						}
						tx.oncomplete = () => resolve();
						tx.onerror = () => reject(tx.error);
						tx.onabort = () => reject(tx.error ?? new Error("the browser's database gave up"));
					}),
			),
	};
}

/** @typedef {Awaited<ReturnType<typeof openFieldDb>>} FieldDb */

/** @param {IDBFactory} factory @returns {Promise<IDBDatabase>} */
function open(factory) {
	return new Promise((resolve, reject) => {
		const request = factory.open(NAME, 1);
		request.onupgradeneeded = () => {
			request.result.createObjectStore("kept");
			request.result.createObjectStore("log", { keyPath: "id" });
			request.result.createObjectStore("todo", { keyPath: "id" });
		};
		request.onsuccess = () => {
			request.result.onversionchange = () => request.result.close();
			resolve(request.result);
		};
		request.onerror = () => reject(request.error);
		request.onblocked = () => reject(new Error("another page keeps an older store open; close it"));
	});
}

/** @param {IDBRequest} request @returns {Promise<any>} */
function result(request) {
	return new Promise((resolve, reject) => {
		request.onsuccess = () => resolve(request.result);
		request.onerror = () => reject(request.error);
	});
}
