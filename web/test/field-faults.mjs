// Works in the rows while everything fails at random, and looks after each round
// whether the server holds exactly what the phone recorded, once:
//
//	node test/field-faults.mjs [ROUNDS] [SEED] [gpkg|postgis]
//
// With postgis the server keeps the estate in a database of its own on the PostGIS
// that COURSON_TEST_POSTGIS names, else in a GeoPackage.
// In a round a person does a few vines (done, skipped, marked, taken back) while the
// signal comes and goes, answers are lost after storing, the server is busy or is
// killed, the page is loaded again or the browser is killed.

import { pathToFileURL } from "node:url";
import { difference, newPhone, openLine, poll, serveOrders } from "./browser/fieldhelp.js";
import { throwAway } from "./browser/postgis.js";

/** A small generator of chance that can be repeated (mulberry32). @param {number} seed */
function chance(seed) {
	let a = seed >>> 0;
	const next = () => {
		a = (a + 0x6d2b79f5) >>> 0;
		let t = a;
		t = Math.imul(t ^ (t >>> 15), t | 1);
		t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
		return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
	};
	return { next, whole: (/** @type {number} */ n) => Math.floor(next() * n), often: (/** @type {number} */ p) => next() < p };
}

/**
 * @param {object} wish
 * @param {number} wish.rounds
 * @param {number} wish.seed
 * @param {string | null} [wish.postgis] server on which to make a database for the estate
 * @param {(line: string) => void} [wish.log]
 */
export async function faultRounds({ rounds, seed, postgis = null, log = () => {} }) {
	const luck = chance(seed);
	const estate = await serveOrders(Math.max(3000, rounds * 12), postgis ? await throwAway(postgis) : null);
	const { server } = estate;
	const line = await openLine(server);
	const phone = await newPhone(line.address);
	const row = (/** @type {number} */ n) => `#row=${estate.orders[0].rows[n].row}&order=${estate.orders[0].id}`;
	const sum = { rounds: 0, records: 0, kills: 0, serverKills: 0, reloads: 0, lost: 0, busy: 0, cuts: 0, twice: 0 };
	let offline = false;
	const signal = async (/** @type {boolean} */ on) => {
		offline = !on;
		await phone.context.setOffline(offline);
		if (on) await phone.page.evaluate(() => dispatchEvent(new Event("online")));
		else sum.cuts++;
	};
	const IN_ROW = '[data-key="done"], [data-key="gap-yes"], [data-key="next-row"], [data-key="finished"]';
	const ready = async () => {
		await phone.page.waitForSelector(IN_ROW);
		await phone.drawn();
	};
	const acts = {
		async work() {
			await phone.work(1 + luck.whole(5));
		},
		async skip() {
			await ready();
			if (await phone.page.locator('[data-key="skip"]').count()) await phone.click("skip");
		},
		async undo() {
			await ready();
			if (await phone.page.locator('[data-key="undo"]:not([disabled])').count()) await phone.click("undo");
		},
		async mark() {
			await ready();
			if (!(await phone.page.locator('[data-key="mark"]').count())) return;
			await phone.click("mark");
			await phone.click(["mark-sick", "mark-weak", "mark-post", "mark-missing"][luck.whole(4)]);
			await poll("the row", () => phone.state("screen"), (s) => s === "row");
		},
	};
	const faults = {
		cut: () => signal(false),
		signal: () => signal(true),
		async lose() {
			line.lose = 1 + luck.whole(2);
			sum.lost += line.lose;
		},
		async busy() {
			line.busy = 1 + luck.whole(2);
			sum.busy += line.busy;
		},
		async reload() {
			sum.reloads++;
			await phone.page.reload();
			await poll("the page", () => phone.state("page"), (v) => v === "ready");
			await ready();
		},
		async kill() {
			sum.kills++;
			await phone.kill();
			await phone.open({ offline, hash: await here() });
			await ready();
		},
		async serverKill() {
			sum.serverKills++;
			let came = false;
			line.during = async () => {
				if (came) return;
				came = true;
				await server.kill();
			};
			await signal(true);
			await poll("a batch", async () => came, Boolean, 1500).catch(() => {});
			line.during = null;
			if (!came) await server.kill();
			await acts.work();
			await server.restart();
		},
	};
	/** What the first rounds begin with, whatever chance says. @type {(keyof typeof faults)[]} */
	const sure = ["serverKill", "kill", "lose"];
	let at = 0;
	const here = async () => row(at);
	try {
		await phone.open();
		await phone.setUp();
		let seen = 0;
		for (let round = 1; round <= rounds; round++) {
			at = (round * 5) % estate.orders[0].rows.length;
			await phone.go(row(at), IN_ROW);
			if (round <= sure.length) await faults[sure[round - 1]]();
			for (let step = 0; step < 4; step++) {
				const fault = /** @type {(keyof typeof faults)[]} */ (Object.keys(faults))[luck.whole(7)];
				if (luck.often(0.6)) await faults[fault]();
				await acts[/** @type {(keyof typeof acts)[]} */ (["work", "work", "work", "skip", "undo", "mark"])[luck.whole(6)]]();
				if (luck.often(0.3)) await phone.page.waitForTimeout(luck.whole(120));
			}
			await signal(true);
			await phone.settled(60_000);
			const all = /** @type {any[]} */ (await phone.log()).sort((a, b) => a.seq - b.seq);
			const made = all.slice(seen);
			seen = all.length;
			if (made.length) {
				const found = await difference(server.address, made, all);
				if (found.lost.length || found.doubled.length) throw new Error(`round ${round} of seed ${seed}: ${JSON.stringify(found)}`);
			}
			for (const e of made) if (!line.received.has(e.id)) throw new Error(`round ${round}: ${e.id} never came`);
			sum.rounds++;
			sum.records += made.length;
			log(`round ${round}: ${made.length} records`);
		}
		sum.twice = [...line.received.values()].filter((n) => n > 1).length;
		if (phone.errors.length) throw new Error(phone.errors.join("; "));
		return sum;
	} finally {
		await phone.close();
		await line.close();
		await server.stop();
	}
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
	const rounds = Number(process.argv[2] ?? 20);
	const seed = Number(process.argv[3] ?? Date.now() % 1e6);
	const store = process.argv[4] ?? "gpkg";
	const postgis = store === "postgis" ? (process.env.COURSON_TEST_POSTGIS ?? null) : null;
	if (store === "postgis" && !postgis) throw new Error("COURSON_TEST_POSTGIS names no server: sh cmd/postgis.sh start DIR starts one");
	console.log(`${rounds} rounds, seed ${seed}, ${store}`);
	console.log(await faultRounds({ rounds, seed, postgis, log: (l) => process.stdout.write(`${l}\n`) }));
}
