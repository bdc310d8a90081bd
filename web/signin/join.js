// Binds this phone to a crew. The code of the link stands behind the #, which is
// sent to nobody; it goes out once, in the request.

import { textsIn } from "../lib/text.js";
import { enSignin } from "../text/ensignin.js";
import { at, post, takeOver, typed } from "./form.js";

const t = textsIn(enSignin, "en");
const code = () => location.hash.slice(1);

/** @param {string} text */
function trouble(text) {
	at("trouble").textContent = text;
	at("trouble").hidden = false;
}

if (!code()) trouble(t("join.no_code"));

takeOver(async () => {
	if (!code()) return trouble(t("join.no_code"));
	const { status, why } = await post("/api/join", { code: code(), device: typed("device") });
	if (status === 200) {
		location.replace("/field");
		return;
	}
	trouble(status === 0 || !why ? t("join.unreached") : why);
	at("device").focus();
});
