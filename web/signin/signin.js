// Signing in without leaving the page, so that what stands behind the # is kept.

import { placeAfter } from "./after.js";
import { at, post, takeOver, typed } from "./form.js";

const LINES = ["wrong", "often", "unreached"];

takeOver(async () => {
	const { status } = await post("/api/signin", { name: typed("name"), password: typed("password") });
	if (status === 200) {
		location.replace(placeAfter(location.search, location.origin) + location.hash);
		return;
	}
	const line = status === 429 ? "often" : status >= 400 && status < 500 ? "wrong" : "unreached";
	for (const id of LINES) at(id).hidden = id !== line;
	at("password").focus();
});
