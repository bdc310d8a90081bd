// Who is signed in, and the way out, for all pages alike.

/** @typedef {{name: string, role: "manager" | "agronomist" | "viewer" | "crew" | "open", crew: string}} Me */

/**
 * Who asks, also where the server is open; null where it cannot be asked now.
 * @param {typeof fetch} fetcher
 * @returns {Promise<Me | null>}
 */
export async function asker(fetcher) {
	try {
		const answer = await fetcher("/api/me");
		return answer.ok ? await answer.json() : null;
	} catch {
		return null;
	}
}

/**
 * Null where there is nobody to name: the server is open, or cannot be asked now.
 * @param {typeof fetch} fetcher
 * @returns {Promise<Me | null>}
 */
export async function whoami(fetcher) {
	const me = await asker(fetcher);
	return me?.role === "open" ? null : me;
}

/** Where to who is signed in is led from the heads of the pages. @param {Me} me */
export function linksOf({ role }) {
	return { people: role === "manager" ? "/people" : "", own: "/people#show=me" };
}

/** Pages beside the map that a role may use; whoever is signed in has the own page behind the own name. @param {Me["role"]} role @returns {("work" | "field" | "import" | "ground" | "people")[]} */
export function pagesFor(role) {
	if (role === "crew") return ["field"];
	if (role === "viewer") return ["work", "field"];
	return role === "agronomist" ? ["work", "field", "import"] : ["work", "field", "import", "ground", "people"];
}

/**
 * Ends the session of this browser, or all of the user. It throws where the server
 * was not reached: then the session lives on, which must be said.
 * @param {typeof fetch} fetcher
 * @param {boolean} [everywhere]
 */
export async function signOut(fetcher, everywhere = false) {
	const answer = await fetcher("/api/signout", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ everywhere }) });
	if (!answer.ok) throw new Error(`the server answered ${answer.status}`);
}
