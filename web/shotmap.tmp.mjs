import { launch, openPage, until, atRest } from "./test/browser/start.js";
const b = await launch();
const [,, hash, out, ...acts] = process.argv;
const { page, noted } = await openPage(b, `http://127.0.0.1:8521/${hash}`, { width: 1280, height: 800 });
await atRest(page);
for (const a of acts) { await page.evaluate(a); await new Promise(r=>setTimeout(r,2500)); }
await page.screenshot({ path: out });
console.log(JSON.stringify(noted));
await b.close();
