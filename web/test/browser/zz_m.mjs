import { launch } from "./start.js";
import { readFileSync } from "node:fs";
const [out, width, ...files] = process.argv.slice(2);
const b = await launch(); const p = await (await b.newContext({ viewport: { width: Number(width), height: 600 } })).newPage();
await p.setContent(`<body style="margin:0;background:#888;display:flex;flex-wrap:wrap;gap:8px">${files.map((f) => `<img src="data:image/png;base64,${readFileSync(f).toString("base64")}">`).join("")}`);
await p.waitForTimeout(300); await p.screenshot({ path: out, fullPage: true }); await b.close();
