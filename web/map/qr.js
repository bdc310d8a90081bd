// A text as a QR code (ISO/IEC 18004), to print or to scan off the screen.

import { qrcode } from "../vendor/qrcode-generator-2.0.4/qrcode.mjs";
import { svg } from "./dom.js";

const QUIET = 4; // modules left white around a code (ISO/IEC 18004)

/**
 * The code as one path. Level Q: a quarter of it may be dirty or torn.
 * @param {string} text
 * @param {string} [label] said of it instead of the text
 */
export function qrCode(text, label = text) {
	const qr = qrcode(0, "Q");
	qr.addData(text);
	qr.make();
	const n = qr.getModuleCount();
	let d = "";
	for (let y = 0; y < n; y++) for (let x = 0; x < n; x++) if (qr.isDark(y, x)) d += `M${x + QUIET} ${y + QUIET}h1v1h-1z`;
	return svg("svg", { viewBox: `0 0 ${n + 2 * QUIET} ${n + 2 * QUIET}`, "shape-rendering": "crispEdges", role: "img", "aria-label": label }, svg("path", { d, fill: "#000000" }));
}
