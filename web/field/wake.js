// Keeps the screen on while somebody is in a row, where the phone can.

/** @type {WakeLockSentinel | null} */
let lock = null;
let wanted = false;
/** The browser was asked: a second lock would be forgotten, and keep the screen on for good. */
let asking = false;

/** @param {boolean} on */
export function awake(on) {
	wanted = on;
	if (!on) {
		void lock?.release().catch(() => {});
		lock = null;
	} else if (!lock) void take();
}

async function take() {
	if (asking || !("wakeLock" in navigator) || document.visibilityState !== "visible") return;
	asking = true;
	try {
		const got = await navigator.wakeLock.request("screen");
		got.addEventListener("release", () => {
			if (lock === got) lock = null;
		});
		lock = got;
		if (!wanted) awake(false);
	} catch {
		// Low battery, or not allowed: the screen goes off as usual.
	} finally {
		asking = false;
	}
}

document.addEventListener("visibilitychange", () => wanted && !lock && void take());
