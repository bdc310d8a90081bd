// Keeps the screen on while somebody is in a row, where the phone can.

/** @type {WakeLockSentinel | null} */
let lock = null;
let wanted = false;

/** @param {boolean} on */
export function awake(on) {
	wanted = on;
	if (!on) {
		void lock?.release().catch(() => {});
		lock = null;
	} else if (!lock) void take();
}

async function take() {
	if (!("wakeLock" in navigator) || document.visibilityState !== "visible") return;
	try {
		const got = await navigator.wakeLock.request("screen");
		got.addEventListener("release", () => (lock = null));
		lock = got;
		if (!wanted) awake(false);
	} catch {
		// Low battery, or not allowed: the screen goes off as usual.
	}
}

document.addEventListener("visibilitychange", () => wanted && !lock && void take());
