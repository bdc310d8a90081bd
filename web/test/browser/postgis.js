// Databases of their own on the PostGIS server that COURSON_TEST_POSTGIS names, made
// and removed by PostgreSQL's own client.

import { execFile } from "node:child_process";
import { randomBytes } from "node:crypto";
import { promisify } from "node:util";

const exec = promisify(execFile);

/**
 * Where tests on PostGIS may make databases; null where none is named, which is a
 * failure where everything is asked for.
 */
export function postgisServer() {
	const server = process.env.COURSON_TEST_POSTGIS;
	if (server) return server;
	if (process.env.COURSON_TEST_REQUIRE === "1") throw new Error("COURSON_TEST_POSTGIS is not set and COURSON_TEST_REQUIRE=1 asks for it");
	return null;
}

/** An empty database that is gone with drop. @param {string} server */
export async function throwAway(server) {
	const name = `courson_web_${randomBytes(6).toString("hex")}`;
	const say = (/** @type {string} */ sql) => exec("psql", ["--no-psqlrc", "--quiet", "--set", "ON_ERROR_STOP=1", "--command", sql, server]);
	await say(`CREATE DATABASE ${name}`);
	const url = new URL(server);
	url.pathname = `/${name}`;
	return {
		url: url.href,
		async drop() {
			await say(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
		},
	};
}
