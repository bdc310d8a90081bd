// Words for an arm of a vine and for the face of a cut; what is recorded in other
// words is shown as it is.

/** @typedef {import("./app.js").App} App */

/** @param {App} app @param {string} name */
export function armWord(app, name) {
	return app.t.has(`arm.${name}`) ? app.t(`arm.${name}`) : name;
}

/** @param {App} app @param {string} face */
export function faceWord(app, face) {
	return app.t.has(`face.${face}`) ? app.t(`face.${face}`) : face;
}
