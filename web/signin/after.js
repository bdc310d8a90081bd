// Where to go after signing in: a path of this server, nothing else.

/**
 * @param {string} search of the page's address
 * @param {string} origin of this server
 */
export function placeAfter(search, origin) {
	const then = new URLSearchParams(search).get("then") ?? "/";
	if (!then.startsWith("/") || /^\/[/\\]|[\\\u0000-\u001f\u007f]/.test(then)) return "/";
	try {
		const url = new URL(then, origin);
		return url.origin === origin && !url.pathname.startsWith("//") ? url.pathname + url.search : "/";
	} catch {
		return "/";
	}
}
