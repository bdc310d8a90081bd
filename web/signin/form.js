// What both pages share: sending a form as JSON, once at a time.

/** @param {string} id */
export const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** @param {string} id */
export const typed = (id) => /** @type {HTMLInputElement} */ (document.getElementById(id)).value;

/**
 * Takes over a form. While an answer is awaited nothing is sent again.
 * @param {() => Promise<void>} send
 */
export function takeOver(send) {
	let waiting = false;
	at("form").addEventListener("submit", (event) => {
		event.preventDefault();
		if (waiting) return;
		waiting = true;
		void send().finally(() => (waiting = false));
	});
}

/**
 * The answer's status, and why not where there was a reason. Status 0: the server was not reached.
 * @param {string} path @param {object} body
 * @returns {Promise<{status: number, why: string}>}
 */
export async function post(path, body) {
	let response;
	try {
		response = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
	} catch {
		return { status: 0, why: "" };
	}
	if (response.ok) return { status: response.status, why: "" };
	/** @type {{detail?: string}} */
	const problem = await response.json().catch(() => ({}));
	return { status: response.status, why: problem.detail ?? "" };
}
