// Zones and rates as files, and on paper.

import { FORMS } from "../lib/zones.js";
import { why } from "../map/app.js";
import { button, h } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section } from "../report/section.js";

/** @param {string} form */
const keyOf = (form) => `zones.file_${form.replaceAll("-", "_")}`;

/**
 * Files of an order that was not kept.
 * @param {import("../map/app.js").App} app
 * @param {(form: string) => Promise<{name: string, body: Blob}>} ask
 */
export function filesSection(app, ask) {
	const { t } = app;
	const fetch = async (/** @type {string} */ form) => {
		try {
			const { name, body } = await ask(form);
			const href = URL.createObjectURL(body);
			const link = h("a", { href, download: name });
			document.body.append(link);
			link.click();
			link.remove();
			setTimeout(() => URL.revokeObjectURL(href), 60_000);
			app.announce(t("zones.file_done", { name }));
		} catch (error) {
			toast(app, t("zones.file_failed", { why: why(error) }), { trouble: true });
		}
	};
	return section("files", t("zones.files"), h("ul", { class: "files" }, ...FORMS.map((form) => h("li", {}, button(t(keyOf(form)), () => void fetch(form), { class: "link", data: { key: `file-${form}` } })))), printLine(app));
}

/** Files of a version. @param {import("../map/app.js").App} app @param {(form: string) => string} path */
export function fileLinks(app, path) {
	const { t } = app;
	return section("kept-files", t("zones.files"), h("ul", { class: "files" }, ...FORMS.map((form) => h("li", {}, h("a", { href: path(form), download: "", data: { key: `kept-file-${form}` } }, t(keyOf(form)))))), printLine(app));
}

/** @param {import("../map/app.js").App} app */
function printLine(app) {
	return h("p", { class: "no-print" }, button(app.t("report.print"), () => print()));
}
