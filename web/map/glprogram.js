// Links a pair of shaders. A program that does not link draws nothing and says
// nothing by itself: its log is handed on.

/**
 * @param {WebGL2RenderingContext} gl
 * @param {string} vertex
 * @param {string} fragment
 * @param {(log: string) => void} onFault
 * @returns {{program: WebGLProgram, at: Record<string, WebGLUniformLocation | null>} | null} with the places of its uniforms
 */
export function link(gl, vertex, fragment, onFault) {
	const program = gl.createProgram();
	for (const [kind, source] of /** @type {const} */ ([[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]])) {
		const shader = gl.createShader(kind);
		if (!shader) continue;
		gl.shaderSource(shader, source);
		gl.compileShader(shader);
		gl.attachShader(program, shader);
		gl.deleteShader(shader);
	}
	gl.linkProgram(program);
	if (!gl.getProgramParameter(program, gl.LINK_STATUS)) {
		if (!gl.isContextLost()) onFault(gl.getProgramInfoLog(program) ?? "");
		return null;
	}
	/** @type {Record<string, WebGLUniformLocation | null>} */
	const at = {};
	const count = gl.getProgramParameter(program, gl.ACTIVE_UNIFORMS);
	for (let i = 0; i < count; i++) {
		const name = (gl.getActiveUniform(program, i)?.name ?? "").replace("[0]", "");
		at[name] = gl.getUniformLocation(program, name);
	}
	return { program, at };
}
