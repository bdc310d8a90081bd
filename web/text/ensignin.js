// The texts of the pages to sign in and to join a crew. The pages hold the same
// words themselves, since they work without this; a test compares them.

/** @type {import("../lib/text.js").Table} */
export const enSignin = {
	"signin.title": "Sign in",
	"signin.name": "Name",
	"signin.password": "Password",
	"signin.do": "Sign in",
	"signin.wrong": "The name or the password is not right.",
	"signin.often": "Too many tries. Wait a minute and try again.",
	"signin.unreached": "The server cannot be reached. Try again when there is a network.",
	"signin.hint": "Forgotten? A manager can give you a new password.",

	"join.title": "Join a crew",
	"join.what": "This phone will show the rows of the crew, and what is done on it is recorded under the name you give here.",
	"join.device": "Name of this phone, or yours",
	"join.do": "Join",
	"join.no_code": "This address lacks the code of the link. Scan the link again, or ask for a new one.",
	"join.unreached": "The server cannot be reached. Try again when there is a network.",
};
