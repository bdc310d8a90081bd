// The programs that draw vines: one square per vine, its mark cut out by
// distance, so that edges stay smooth at every size. Sizes are in device pixels.

/** Passes of one frame, from below to above. */
export const PASS = { choice: 0, dots: 1, glyphs: 2, badges: 3, choiceInside: 4 };

// A uniform that both shaders read needs the same precision in both, else the
// program does not link.
/** How large an estimated vine is beside one that was seen. */
export const ESTIMATE = 0.66;

export const VERTEX = `#version 300 es
precision highp float;
precision highp int;
layout(location = 0) in vec2 a_place;
layout(location = 1) in uint a_class;
layout(location = 2) in uint a_condition;
layout(location = 3) in uint a_flags;
layout(location = 4) in uint a_mark;
layout(location = 5) in uint a_basis;
uniform mat4 u_matrix;
uniform vec2 u_pixel;
uniform float u_radius;
uniform float u_glyph;
uniform float u_classGlyph;
uniform float u_dot;
uniform int u_pass;
uniform int u_only;
uniform int u_overlay;
uniform int u_basis;
uniform int u_shape[16];
uniform vec4 u_colour[16];
out vec2 v_p;
flat out vec4 v_colour;
flat out int v_shape;
flat out float v_r;
flat out int v_pip;

bool isGlyph(int shape) {
	return (shape >= 4 && shape <= 9);
}

void main() {
	int code = min(int(a_class), 15);
	int shape = u_shape[code];
	vec4 colour = u_colour[code];
	bool gone = a_condition == 5u || a_condition == 6u;
	if (u_overlay == 1 && gone) {
		shape = a_condition == 6u ? 5 : 6;
		colour = vec4(1.0);
	}
	float r = u_radius;
	vec2 shift = vec2(0.0);
	bool drawn = shape >= 0 && (u_only < 0 || (u_only == code && !(u_overlay == 1 && gone)));
	if (u_pass == 0 || u_pass == 4) {
		drawn = a_mark == 1u;
		shape = u_pass == 0 ? 12 : 13;
		r = u_radius + (u_pass == 0 ? 5.0 : 2.8) * u_dot;
	} else if (u_pass == 3) {
		drawn = drawn && (a_flags & 1u) == 1u;
		shape = 9;
		shift = vec2(1.0, 1.0) * (u_radius + 2.0);
		r = u_glyph * 0.8;
	} else if (isGlyph(shape)) {
		float least = u_overlay == 1 && gone ? u_glyph : u_classGlyph;
		if (least > 0.0) {
			drawn = drawn && u_pass == 2;
			r = max(u_radius * 0.86, least);
		} else {
			drawn = drawn && u_pass == 1 && !(u_overlay == 1 && gone);
			shape = 0;
		}
	} else {
		drawn = drawn && u_pass == 1;
	}
	// What was estimated is smaller than what was seen; a weighed vine has a point in its middle.
	v_pip = u_basis == 1 && shape == 0 && a_basis == 1u ? 1 : 0;
	if (u_basis == 1 && shape == 0 && a_basis == 3u) r = max(r * ${ESTIMATE.toFixed(2)}, u_dot);
	vec2 corner = vec2(float((gl_VertexID & 1) * 2 - 1), float((gl_VertexID >> 1) * 2 - 1));
	float reach = r * 1.3 + 3.0;
	v_p = vec2(corner.x, -corner.y) * reach;
	v_colour = colour;
	v_shape = shape;
	v_r = r;
	vec4 at = u_matrix * vec4(a_place, 0.0, 1.0);
	at.xy += (corner * reach + shift) * u_pixel * at.w;
	gl_Position = drawn ? at : vec4(2.0, 2.0, 2.0, 1.0);
}`;

export const FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
in vec2 v_p;
flat in vec4 v_colour;
flat in int v_shape;
flat in float v_r;
flat in int v_pip;
uniform float u_casing;
uniform vec3 u_ground;
uniform vec3 u_ink;
uniform vec3 u_tick;
uniform vec3 u_glyphInk;
uniform vec3 u_halo;
out vec4 result;

float inside(float d) {
	return clamp(0.5 - d, 0.0, 1.0);
}
void lay(vec3 colour, float a) {
	result = vec4(colour, 1.0) * a + result * (1.0 - a);
}
float segment(vec2 p, vec2 a, vec2 b) {
	vec2 pa = p - a, ba = b - a;
	return length(pa - ba * clamp(dot(pa, ba) / dot(ba, ba), 0.0, 1.0));
}
float triangle(vec2 p, float r) {
	vec2 q = vec2(abs(p.x), p.y);
	vec2 n = normalize(vec2(1.8, -1.05));
	return max(dot(q - vec2(0.0, -r), n), q.y - 0.8 * r);
}
float diamond(vec2 p, float r) {
	return (abs(p.x) + abs(p.y) - 1.2 * r) * 0.70711;
}
void bang(vec3 colour, float r) {
	float w = max(0.13 * r, 0.7);
	lay(colour, inside(segment(v_p, vec2(0.0, -0.62 * r), vec2(0.0, 0.16 * r)) - w));
	lay(colour, inside(length(v_p - vec2(0.0, 0.51 * r)) - w * 1.1));
}
void glyph(float d, vec3 fill) {
	float w = max(0.12 * v_r, 0.75);
	lay(u_halo, inside(d - 2.0 * w - 0.6));
	lay(u_glyphInk, inside(d - w));
	lay(fill, inside(d + w));
}

void main() {
	result = vec4(0.0);
	float r = v_r;
	float d = length(v_p) - r;
	vec3 fill = v_colour.rgb;
	float thick = max(0.13 * r, 0.7);
	bool fine = r >= 4.0;
	if (v_shape == 12) {
		lay(u_ink, inside(d));
	} else if (v_shape == 13) {
		lay(u_ground, inside(d));
	} else if (v_shape == 1 && r >= 2.0) {
		lay(fill, inside(d));
		lay(u_ground, inside(d + max(1.0, 0.3 * r)));
	} else if (v_shape == 4) {
		float e = diamond(v_p, r);
		lay(u_halo, inside(e - u_casing - 1.0));
		lay(u_ink, inside(e - u_casing));
		lay(fill, inside(e));
		if (fine) bang(u_tick, r);
	} else if (v_shape == 5) {
		float s = 0.8 * r;
		float e = min(segment(v_p, vec2(-s, -s), vec2(s, s)), segment(v_p, vec2(s, -s), vec2(-s, s))) - 0.2 * r;
		lay(u_halo, inside(e - max(1.2, 0.2 * r)));
		lay(u_glyphInk, inside(e));
	} else if (v_shape == 6) {
		float e = max(abs(v_p.x), abs(v_p.y)) - 0.85 * r;
		glyph(e, fill);
		float s = segment(v_p, vec2(-0.85 * r, 0.85 * r), vec2(0.85 * r, -0.85 * r)) - thick;
		lay(u_glyphInk, inside(max(s, e)));
	} else if (v_shape == 7) {
		glyph(triangle(v_p, r), fill);
	} else if (v_shape == 8) {
		glyph(triangle(vec2(v_p.x, -v_p.y), r), fill);
	} else if (v_shape == 9) {
		glyph(diamond(v_p, r), u_halo);
		bang(u_glyphInk, r);
	} else {
		if (u_casing > 0.0) lay(u_ink, inside(d - u_casing));
		lay(fill, inside(d));
		if (v_pip == 1 && r >= 3.0) {
			lay(u_halo, inside(length(v_p) - max(1.6, 0.4 * r)));
			lay(u_glyphInk, inside(length(v_p) - max(1.0, 0.22 * r)));
		}
		if (v_shape == 2 && r >= 2.5) lay(u_ground, inside(max(d + max(1.0, 0.32 * r), v_p.y)));
		if (fine && v_shape == 3) {
			float e = min(segment(v_p, vec2(-0.48, 0.04) * r, vec2(-0.12, 0.4) * r), segment(v_p, vec2(-0.12, 0.4) * r, vec2(0.5, -0.36) * r));
			lay(u_tick, inside(e - thick));
		}
		if (fine && (v_shape == 10 || v_shape == 11)) lay(u_tick, inside(segment(v_p, vec2(-0.5 * r, 0.0), vec2(0.5 * r, 0.0)) - thick));
		if (fine && v_shape == 11) lay(u_tick, inside(segment(v_p, vec2(0.0, -0.5 * r), vec2(0.0, 0.5 * r)) - thick));
	}
}`;
