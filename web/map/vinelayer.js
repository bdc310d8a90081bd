// Draws vines from the byte columns of their stands in one WebGL 2 layer of the
// map. The buffers can be made anew at any time from the stands, so the layer is
// simply added again after a lost context.

import { WORLD, extentOf, latOf, lonOf, unitsPerPixel, vineStep } from "../lib/ground.js";
import { COLUMN_OF, tellsGaps } from "../lib/model.js";
import { FOUND_COLUMNS } from "../lib/stand.js";
import { GLYPH, GROUNDS, rgb } from "../style/ground.js";
import { SYMBOLS, shapeOf } from "../style/symbols.js";
import { restsOnFindings, restsOnPlan } from "./foundwords.js";
import { link } from "./glprogram.js";
import { FRAGMENT, PASS, VERTEX } from "./vineshader.js";

/**
 * @typedef {import("../lib/stand.js").Stand} Stand
 * @typedef {import("../lib/model.js").Theme} Theme
 * @typedef {import("../lib/model.js").Legend} Legend
 * @typedef {import("../style/ground.js").GroundName} GroundName
 * @typedef {import("./maplibre.js").MapLibreMap} MapLibreMap
 *
 * @typedef {object} Drawn one block on the graphics card
 * @property {Stand} stand
 * @property {Uint8Array} marks 1 where the vine is chosen
 * @property {WebGLVertexArrayObject | null} array
 * @property {Record<string, WebGLBuffer | null>} buffers
 * @property {number} step world units between vines
 */

/** The zoom from which vines are drawn one by one. */
export const VINE_ZOOM = 16;
/** The zoom from which dots have casings, and flags are drawn as glyphs. */
const CASING_ZOOM = 17;
const GLYPH_ZOOM = 17.25;
/** No glyph is drawn smaller. */
const GLYPH_PX = 5;
/** Where whole areas are of one class, its glyphs wait until they do not lie over one another. */
const MASSED_FROM = 4.6;

/** What events change, and what is worked out. */
const CHANGING = /** @type {const} */ (["condition", "vigour", "progress", "flags", "load", "follow"]);
const COLUMNS = /** @type {const} */ ([...CHANGING, ...FOUND_COLUMNS]);

export class VineLayer {
	/**
	 * @param {object} parts
	 * @param {{x: number, y: number}} parts.centre of the estate, world units
	 * @param {(text: string) => void} parts.onFault told when the graphics card refuses the programs
	 */
	constructor({ centre, onFault }) {
		this.id = "vines";
		/** @type {"custom"} */
		this.type = "custom";
		this.centre = centre;
		this.onFault = onFault;
		/** @type {Map<number, Drawn>} */
		this.blocks = new Map();
		/** @type {Theme} */
		this.theme = "condition";
		this.only = -1;
		/** @type {GroundName} */
		this.groundName = "light";
		this.colours = new Float32Array(64);
		this.shapes = new Int32Array(16).fill(-1);
		/** @type {MapLibreMap | null} */
		this.map = null;
		/** @type {WebGL2RenderingContext | null} */
		this.gl = null;
		/** @type {WebGLProgram | null} */
		this.program = null;
		/** @type {Record<string, WebGLUniformLocation | null>} */
		this.at = {};
		this.frames = 0;
	}

	/**
	 * @param {Theme} theme
	 * @param {Legend} legend
	 * @param {GroundName} ground
	 * @param {number | null} only byte of the one class to show
	 */
	setLook(theme, legend, ground, only) {
		const rebind = this.theme !== theme;
		this.theme = theme;
		this.groundName = ground;
		this.only = only ?? -1;
		this.shapes.fill(-1);
		for (const c of legend.classes) {
			if (c.code < 0 || c.code > 15) continue;
			this.shapes[c.code] = SYMBOLS[shapeOf(c.symbol)].code;
			this.colours.set([...rgb(c[ground]), 1], c.code * 4);
		}
		if (rebind) for (const drawn of this.blocks.values()) this.#bindTheme(drawn);
		this.map?.triggerRepaint();
	}

	/** Shows a block's stand, in place of an earlier one. @param {Stand} stand @param {ReadonlySet<number>} chosen */
	put(stand, chosen) {
		const old = this.blocks.get(stand.block);
		const sameGround = old && old.stand.groundRevision === stand.groundRevision && old.stand.count === stand.count;
		if (old && !sameGround) this.drop(stand.block);
		const marks = new Uint8Array(stand.count);
		for (const i of chosen) marks[i] = 1;
		const drawn = sameGround ? old : { stand, marks, array: null, buffers: {}, step: vineStep(stand) };
		drawn.stand = stand;
		drawn.marks = marks;
		this.blocks.set(stand.block, drawn);
		if (this.gl && sameGround) this.#uploadBytes(this.gl, drawn);
		else if (this.gl) this.#make(this.gl, drawn);
		this.map?.triggerRepaint();
	}

	/** Some bytes of a shown stand changed. @param {Stand} stand @param {number[]} indexes */
	touch(stand, indexes) {
		const drawn = this.blocks.get(stand.block);
		if (!drawn || drawn.stand !== stand || !this.gl) return;
		let [from, to] = [Infinity, -1];
		for (const i of indexes) {
			if (i < from) from = i;
			if (i > to) to = i;
		}
		for (const name of CHANGING) this.#upload(this.gl, drawn.buffers[name], stand[name], from, to + 1);
		this.map?.triggerRepaint();
	}

	/** @param {number} block @param {ReadonlySet<number>} chosen */
	mark(block, chosen) {
		const drawn = this.blocks.get(block);
		if (!drawn) return;
		drawn.marks.fill(0);
		for (const i of chosen) drawn.marks[i] = 1;
		if (this.gl) this.#upload(this.gl, drawn.buffers.marks, drawn.marks, 0, drawn.marks.length);
		this.map?.triggerRepaint();
	}

	/** @param {number} block */
	drop(block) {
		const drawn = this.blocks.get(block);
		this.blocks.delete(block);
		if (!drawn || !this.gl) return;
		this.gl.deleteVertexArray(drawn.array);
		for (const buffer of Object.values(drawn.buffers)) this.gl.deleteBuffer(buffer);
	}

	/** @param {MapLibreMap} map @param {WebGL2RenderingContext} gl */
	onAdd(map, gl) {
		this.map = map;
		this.gl = gl;
		const linked = link(gl, VERTEX, FRAGMENT, this.onFault);
		this.program = linked?.program ?? null;
		this.at = linked?.at ?? {};
		for (const drawn of this.blocks.values()) this.#make(gl, drawn);
	}

	onRemove() {
		this.gl = null;
		this.program = null;
		for (const drawn of this.blocks.values()) Object.assign(drawn, { array: null, buffers: {} });
	}

	/** @param {WebGL2RenderingContext} gl @param {Drawn} drawn */
	#make(gl, drawn) {
		const { stand } = drawn;
		drawn.array = gl.createVertexArray();
		gl.bindVertexArray(drawn.array);
		const places = new Float32Array(stand.count * 2);
		for (let i = 0; i < stand.count; i++) {
			places[2 * i] = stand.wx[i] - this.centre.x;
			places[2 * i + 1] = stand.wy[i] - this.centre.y;
		}
		drawn.buffers = { places: gl.createBuffer() };
		gl.bindBuffer(gl.ARRAY_BUFFER, drawn.buffers.places);
		gl.bufferData(gl.ARRAY_BUFFER, places, gl.STATIC_DRAW);
		gl.enableVertexAttribArray(0);
		gl.vertexAttribPointer(0, 2, gl.FLOAT, false, 0, 0);
		gl.vertexAttribDivisor(0, 1);
		for (const name of [...COLUMNS, "marks"]) {
			drawn.buffers[name] = gl.createBuffer();
			gl.bindBuffer(gl.ARRAY_BUFFER, drawn.buffers[name]);
			gl.bufferData(gl.ARRAY_BUFFER, stand.count, gl.DYNAMIC_DRAW);
		}
		gl.bindVertexArray(null);
		this.#uploadBytes(gl, drawn);
		this.#bindTheme(drawn);
	}

	/** Points the class attribute at the theme's column. @param {Drawn} drawn */
	#bindTheme(drawn) {
		const gl = this.gl;
		if (!gl || !drawn.array) return;
		gl.bindVertexArray(drawn.array);
		[COLUMN_OF[this.theme], "condition", "flags", "marks", "basis"].forEach((name, k) => {
			gl.bindBuffer(gl.ARRAY_BUFFER, drawn.buffers[name]);
			gl.enableVertexAttribArray(k + 1);
			gl.vertexAttribIPointer(k + 1, 1, gl.UNSIGNED_BYTE, 0, 0);
			gl.vertexAttribDivisor(k + 1, 1);
		});
		gl.bindVertexArray(null);
	}

	/** @param {WebGL2RenderingContext} gl @param {Drawn} drawn */
	#uploadBytes(gl, drawn) {
		for (const name of COLUMNS) this.#upload(gl, drawn.buffers[name], drawn.stand[name], 0, drawn.stand.count);
		this.#upload(gl, drawn.buffers.marks, drawn.marks, 0, drawn.stand.count);
	}

	/**
	 * @param {WebGL2RenderingContext} gl
	 * @param {WebGLBuffer | null} buffer
	 * @param {Uint8Array} bytes
	 * @param {number} from
	 * @param {number} to
	 */
	#upload(gl, buffer, bytes, from, to) {
		if (to <= from) return;
		gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
		gl.bufferSubData(gl.ARRAY_BUFFER, from, bytes, from, to - from);
	}

	/**
	 * @param {WebGL2RenderingContext} gl
	 * @param {import("./maplibre.js").CustomRenderMethodInput} args
	 */
	render(gl, args) {
		const map = this.map;
		if (!map || !this.program || map.getZoom() < VINE_ZOOM) return;
		const visible = [...this.blocks.values()].filter((d) => d.array && inView(map, d.stand));
		if (!visible.length) return;
		gl.useProgram(this.program);
		this.#uniforms(gl, map, args.defaultProjectionData.mainMatrix);
		const zoom = map.getZoom();
		const massed = restsOnFindings(this.theme) || restsOnPlan(this.theme) || this.theme === "zones";
		const passes = [PASS.choice, PASS.choiceInside, PASS.dots, PASS.glyphs];
		if (zoom >= 18) passes.push(PASS.badges);
		for (const pass of passes) {
			gl.uniform1i(this.at.u_pass, pass);
			for (const drawn of visible) {
				const radius = radiusOf(drawn.step, zoom);
				gl.uniform1f(this.at.u_radius, radius * devicePixelRatio);
				gl.uniform1f(this.at.u_classGlyph, zoom >= GLYPH_ZOOM && (!massed || radius >= MASSED_FROM) ? GLYPH_PX * devicePixelRatio : 0);
				gl.bindVertexArray(drawn.array);
				gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, drawn.stand.count);
			}
		}
		gl.bindVertexArray(null);
		this.frames++;
	}

	/**
	 * Places come as 32-bit floats from the estate's centre; the centre itself is
	 * folded into the matrix in double precision, else vines would stand metres off.
	 * @param {WebGL2RenderingContext} gl
	 * @param {MapLibreMap} map
	 * @param {ArrayLike<number>} m projects Mercator coordinates from 0 to 1
	 */
	#uniforms(gl, map, m) {
		const x = this.centre.x / WORLD;
		const y = this.centre.y / WORLD;
		const folded = new Float32Array(16);
		for (let k = 0; k < 4; k++) {
			folded[k] = m[k] / WORLD;
			folded[4 + k] = m[4 + k] / WORLD;
			folded[8 + k] = m[8 + k];
			folded[12 + k] = m[k] * x + m[4 + k] * y + m[12 + k];
		}
		const zoom = map.getZoom();
		const inks = GROUNDS[this.groundName];
		gl.uniformMatrix4fv(this.at.u_matrix, false, folded);
		gl.uniform2f(this.at.u_pixel, 2 / gl.drawingBufferWidth, 2 / gl.drawingBufferHeight);
		gl.uniform1f(this.at.u_glyph, zoom >= GLYPH_ZOOM ? GLYPH_PX * devicePixelRatio : 0);
		gl.uniform1f(this.at.u_casing, zoom >= CASING_ZOOM ? Math.min(1, zoom - CASING_ZOOM + 0.4) * devicePixelRatio : 0);
		gl.uniform1f(this.at.u_dot, devicePixelRatio);
		gl.uniform1i(this.at.u_only, this.only);
		gl.uniform1i(this.at.u_overlay, tellsGaps(this.theme) ? 0 : 1);
		gl.uniform1i(this.at.u_basis, this.theme === "vigour" ? 1 : 0);
		gl.uniform1iv(this.at.u_shape, this.shapes);
		gl.uniform4fv(this.at.u_colour, this.colours);
		for (const [name, hex] of /** @type {const} */ ([["u_ground", inks.ground], ["u_ink", inks.ink], ["u_tick", inks.tick],
			["u_glyphInk", GLYPH.ink], ["u_halo", GLYPH.halo]])) gl.uniform3f(this.at[name], ...rgb(hex));
	}
}

/**
 * Radius of a dot in CSS pixels: dots of a row nearly touch, within bounds.
 * @param {number} step world units between vines
 * @param {number} zoom
 */
export function radiusOf(step, zoom) {
	return Math.min(11, Math.max(1.2, (0.4 * step) / unitsPerPixel(zoom)));
}

/** @param {MapLibreMap} map @param {Stand} stand */
export function inView(map, stand) {
	if (!stand.count) return false;
	const [w, n, e, s] = extentOf(stand);
	const canvas = map.getCanvas();
	const middle = map.project([lonOf((w + e) / 2), latOf((n + s) / 2)]);
	const reach = Math.hypot(e - w, s - n) / 2 / unitsPerPixel(map.getZoom()) + 30;
	return middle.x > -reach && middle.y > -reach && middle.x < canvas.clientWidth + reach && middle.y < canvas.clientHeight + reach;
}
