// UUID version 7 (RFC 9562, section 5.7): 48 bits of milliseconds, then random
// bits. Within one millisecond a counter in rand_a keeps the order (method 1 of
// section 6.2).

/**
 * Makes a generator.
 * @param {{now?: () => number, random?: (bytes: Uint8Array<ArrayBuffer>) => Uint8Array}} [parts] clock and random source, for tests
 * @returns {() => string}
 */
export function uuid7Maker({ now = Date.now, random = (b) => crypto.getRandomValues(b) } = {}) {
	let last = -1;
	let counter = 0;
	return () => {
		const bytes = random(new Uint8Array(16));
		let time = Math.floor(now());
		if (time > last) {
			counter = ((bytes[6] & 0x07) << 8) | bytes[7]; // begins in the lower half, so that it has room
		} else {
			time = last;
			counter++;
			if (counter > 0xfff) {
				time++;
				counter = 0;
			}
		}
		last = time;
		for (let i = 0; i < 6; i++) bytes[i] = Math.floor(time / 2 ** (8 * (5 - i))) & 0xff;
		bytes[6] = 0x70 | (counter >> 8);
		bytes[7] = counter & 0xff;
		bytes[8] = 0x80 | (bytes[8] & 0x3f);
		const hex = Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
		return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
	};
}
