// Makes pictures of every theme on desktop, 4K screen and phone, on both grounds:
//
//	node test/shots.mjs http://127.0.0.1:8480 FOLDER [only-these-sizes…]
//
// A person then looks at them.
import { mkdir } from "node:fs/promises";
import path from "node:path";
import { atRest, launch, openPage } from "./browser/start.js";

const [address, folder, ...only] = process.argv.slice(2);
if (!address || !folder) {
	console.error("say where the server is and which folder takes the pictures");
	process.exit(2);
}
await mkdir(folder, { recursive: true });
const sizes = { desktop: [1440, 900], big: [3840, 2160], phone: [360, 740] };
const browser = await launch();
const estate = await (await fetch(`${address}/api/estate`)).json();
const { blocks } = await (await fetch(`${address}/api/blocks?season=${estate.season}`)).json();
const block = blocks.find((b) => b.totals.progress.done && b.totals.progress.not_started) ?? blocks[0];
const views = { estate: "", rows: "15.6", vines: "18.2", near: "20" };

for (const [size, [width, height]] of Object.entries(sizes)) {
	if (only.length && !only.includes(size)) continue;
	for (const ground of ["light", "dark"]) {
		for (const theme of ["condition", "vigour", "progress"]) {
			for (const [view, zoom] of Object.entries(views)) {
				if (size === "big" && view === "near") continue;
				const at = zoom ? `&at=${block.center[0]},${block.center[1]},${zoom}` : "";
				const { page, context } = await openPage(browser, `${address}/#season=${estate.season}&theme=${theme}${at}`, { width, height, ground });
				await atRest(page);
				await page.screenshot({ path: path.join(folder, `${size}-${ground}-${theme}-${view}.png`), timeout: 180_000 });
				await context.close();
			}
		}
	}
}
await browser.close();
