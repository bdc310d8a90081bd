// Reads a row tag with the camera, where the browser itself can read codes.

import { h, para, title } from "./ui.js";

const EVERY_MS = 250;

/** What a tag says, as the address of a screen; null for other codes. @param {string} text */
export function screenOfTag(text) {
	const m = /\/field#(row=\d+(?:&end=(?:near|far))?)$/.exec(text);
	return m ? `#${m[1]}` : null;
}

/** @param {import("./app.js").App} app */
export function scanScreen(app) {
	const video = h("video", { playsinline: true, muted: true, class: "camera" });
	const news = h("p", { class: "strong", role: "status" }, app.t("scan.how"));
	void look(app, video, news);
	return [title(app.t("home.scan")), video, news, para(app.t("scan.else"))];
}

/** @param {import("./app.js").App} app @param {HTMLVideoElement} video @param {HTMLElement} news */
async function look(app, video, news) {
	let stream;
	try {
		stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
	} catch {
		news.textContent = app.t("scan.no_camera");
		return;
	}
	video.srcObject = stream;
	try {
		await video.play();
		const detector = new /** @type {any} */ (window).BarcodeDetector({ formats: ["qr_code"] });
		while (video.isConnected) {
			for (const code of await detector.detect(video)) {
				if (!video.isConnected) return; // the person went elsewhere meanwhile
				const screen = screenOfTag(code.rawValue);
				if (screen) return app.go(screen);
				news.textContent = app.t("scan.other_code");
			}
			await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
		}
	} catch {
		news.textContent = app.t("scan.no_camera");
	} finally {
		for (const track of stream.getTracks()) track.stop();
	}
}
