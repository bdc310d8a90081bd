// Makes elements. Texts go in as text, never as markup; styles only as classes
// or through the element's style object, as the content policy wants.

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {Node | string | number | null | undefined | false} Child */

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, any>} [props] class, on (listeners), data, attributes; false and null leave an attribute out
 * @param {...Child} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function h(tag, props = {}, ...children) {
	const element = document.createElement(tag);
	fill(element, props, children);
	return element;
}

/**
 * @param {string} tag
 * @param {Record<string, any>} [props]
 * @param {...Child} children
 * @returns {SVGElement}
 */
export function svg(tag, props = {}, ...children) {
	const element = document.createElementNS(SVG, tag);
	fill(element, props, children);
	return element;
}

/**
 * @param {Element} element
 * @param {Record<string, any>} props
 * @param {Child[]} children
 */
function fill(element, props, children) {
	for (const [name, value] of Object.entries(props)) {
		if (value === null || value === undefined || value === false) continue;
		if (name === "on") for (const [type, listener] of Object.entries(value)) element.addEventListener(type, /** @type {EventListener} */ (listener));
		else if (name === "data") for (const [key, text] of Object.entries(value)) /** @type {HTMLElement} */ (element).dataset[key] = String(text);
		else element.setAttribute(name, value === true ? "" : String(value));
	}
	append(element, children);
}

/** @param {Element} element @param {Child[]} children */
function append(element, children) {
	for (const child of children) {
		if (child === null || child === undefined || child === false) continue;
		element.append(child instanceof Node ? child : String(child));
	}
}

/** @type {{target: Node | null, later: Map<Element, (Child | (() => Child[]))[]>}} */
const press = { target: null, later: new Map() };

/**
 * While something is pressed it is not replaced: its click would get lost. To be
 * called once for the page.
 */
export function watchPress() {
	addEventListener("pointerdown", (e) => (press.target = /** @type {Node} */ (e.target)), { capture: true });
	for (const name of ["pointerup", "pointercancel"])
		addEventListener(name, () => {
			press.target = null;
			setTimeout(() => {
				const due = [...press.later];
				press.later.clear();
				for (const [element, children] of due) show(element, ...children);
			});
		}, { capture: true });
}

/**
 * Replaces what is in an element. Where the focus was inside, it stays with what is
 * there again, such as a form that is kept, or goes to the new element with the same
 * data-key.
 * @param {Element} element
 * @param {...(Child | (() => Child[]))} children as functions where some are in the element already, such as a form that is kept: they must stay there until it is really drawn
 */
export function show(element, ...children) {
	if (press.target && element !== press.target && element.contains(press.target)) {
		press.later.set(element, children);
		return;
	}
	press.later.delete(element);
	const focused = document.activeElement;
	const kept = focused && element.contains(focused) ? /** @type {HTMLElement} */ (focused) : null;
	const key = kept?.dataset?.key;
	const scroll = element.scrollTop;
	const parts = children.flatMap((c) => (typeof c === "function" ? c() : [c]));
	element.replaceChildren();
	append(element, parts);
	element.scrollTop = scroll;
	if (kept && element.contains(kept)) kept.focus({ preventScroll: true });
	else if (key) /** @type {HTMLElement | null} */ (element.querySelector(`[data-key="${CSS.escape(key)}"]`))?.focus({ preventScroll: true });
}

/**
 * A button with a text, or with a symbol and a hidden text.
 * @param {string} text
 * @param {() => void} act
 * @param {Record<string, any> & {icon?: Node}} [props]
 */
export function button(text, act, { icon, ...props } = {}) {
	const on = { ...props.on, click: act };
	if (!icon) return h("button", { type: "button", ...props, on }, text);
	return h("button", { type: "button", title: text, "aria-label": text, ...props, on }, icon);
}

/**
 * A small drawing for buttons, 24 × 24, in the colour of the text.
 * @param {string} d path
 */
export function icon(d) {
	return svg("svg", { viewBox: "0 0 24 24", class: "icon", "aria-hidden": "true" }, svg("path", { d }));
}
