// Puts a drawing that came as SVG text into the page: only elements and
// attributes that draw are taken over, nothing that acts, loads or styles. Its ids
// get a name of their own, so that they meet none of the page.

const SVG = "http://www.w3.org/2000/svg";

/** What may be drawn. */
const ELEMENTS = new Set(["svg", "g", "path", "circle", "ellipse", "line", "polyline", "polygon", "rect", "text", "tspan", "title", "desc"]);
const ATTRIBUTES = new Set([
	"viewBox", "width", "height", "role", "aria-labelledby", "aria-label", "aria-hidden", "id", "class", "d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "points", "dx", "dy",
	"transform", "fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin", "stroke-dasharray", "stroke-opacity", "opacity",
	"text-anchor", "dominant-baseline", "font-size", "font-weight", "font-family", "preserveAspectRatio",
]);

/** What no value of an attribute may hold: ways to something outside of the drawing. */
const OUTSIDE = /url\(|:|&#|\\/i;

/**
 * @param {string} text
 * @returns {SVGElement | null} null where the text is no drawing
 */
export function drawingOf(text) {
	if (!text) return null;
	const read = new DOMParser().parseFromString(text, "image/svg+xml");
	const root = read.documentElement;
	if (read.querySelector("parsererror") || root.namespaceURI !== SVG || root.localName !== "svg") return null;
	return /** @type {SVGElement} */ (copy(root));
}

/** @param {Element} from @returns {Element | null} */
function copy(from) {
	if (from.namespaceURI !== SVG || !ELEMENTS.has(from.localName)) return null;
	const to = document.createElementNS(SVG, from.localName);
	for (const { name, value } of from.attributes) {
		if (name === "id" || name === "aria-labelledby") to.setAttribute(name, value.split(/\s+/).map((id) => `drawn-${id}`).join(" "));
		else if (ATTRIBUTES.has(name) && (name.startsWith("aria-") || !OUTSIDE.test(value))) to.setAttribute(name, value);
	}
	for (const child of from.childNodes) {
		if (child.nodeType === Node.TEXT_NODE) to.append(child.textContent ?? "");
		else if (child instanceof Element) {
			const made = copy(child);
			if (made) to.append(made);
		}
	}
	return to;
}
