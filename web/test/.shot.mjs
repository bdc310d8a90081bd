import { launch, openPage, atRest } from "./browser/start.js";
const [url, out, w, h, full] = process.argv.slice(2);
const b = await launch();
const { page, noted } = await openPage(b, url, { width: Number(w||1280), height: Number(h||900) });
await new Promise(r=>setTimeout(r,4000));
await page.screenshot({ path: out, fullPage: full==="full" });
console.log(JSON.stringify(noted).slice(0,500));
await b.close();
