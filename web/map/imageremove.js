// Taking an image off the map: asked once, with what goes and what stays. Shown only
// to those whose role may do it.

import { onceAtATime } from "../lib/once.js";
import { asker } from "../lib/whoami.js";
import { why } from "./app.js";
import { button, h, show } from "./dom.js";

/** Roles that the server lets take an image off (server/access/rules.go). */
const MAY = ["manager", "agronomist", "open"];

/**
 * @param {import("./app.js").App} app
 * @param {() => void} gone called when an image was taken off
 */
export function imageRemoval(app, gone) {
	const { t } = app;
	const box = h("div", { class: "legend-image-remove", hidden: true, data: { state: "ready" } });
	let may = false;
	/** @type {import("../lib/images.js").KeptImage | null} */
	let image = null;
	let asked = false;
	let busy = false;
	let fault = "";
	const remove = onceAtATime(async () => {
		const going = image;
		if (!going) return;
		busy = true;
		draw();
		try {
			await app.api.removeImage(going.id);
			if (image === going) asked = false;
			fault = "";
			gone();
		} catch (error) {
			if (image === going) fault = why(error);
		}
		busy = false;
		draw();
	});
	const ask = (/** @type {boolean} */ yes) => {
		asked = yes;
		fault = "";
		draw();
	};
	const draw = () => {
		box.hidden = !may || !image;
		box.dataset.state = busy ? "removing" : asked ? "asked" : "ready";
		if (!image) return;
		if (!asked) return show(box, button(t("image.remove"), () => ask(true), { data: { key: "image-remove" } }));
		const yes = button(t(busy ? "image.removing" : "image.remove_yes"), () => void remove(), { class: "danger", data: { key: "image-remove" } });
		const no = button(t("image.remove_no"), () => ask(false), { data: { key: "image-keep" } });
		yes.disabled = no.disabled = busy;
		show(box, h("p", { class: "legend-note" }, t("image.remove_what", { file: image.file })), fault ? h("p", { class: "fault", role: "alert" }, t("image.remove_failed", { why: fault })) : null, yes, " ", no);
	};
	void asker((input, init) => fetch(input, init)).then((me) => {
		may = me !== null && MAY.includes(me.role);
		draw();
	});
	return {
		box,
		/** @param {import("../lib/images.js").KeptImage | null} now the image chosen */
		of(now) {
			if (now?.id === image?.id) return;
			[image, asked, fault] = [now, false, ""];
			draw();
		},
	};
}
