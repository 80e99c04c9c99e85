// The daemon as a service: one for each database, told to its supervisor, reloaded, backed up, brought back.
import assert from "node:assert/strict";
import { spawn, spawnSync } from "node:child_process";
import { chmodSync, existsSync, lstatSync, mkdirSync, readFileSync, readdirSync, statSync, symlinkSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { setTimeout as sleep } from "node:timers/promises";
import { ask } from "../support/book.mjs";
import { demoDatabase, linkFor, pair, phone, serve } from "../support/guarded.mjs";
import { build, DEMO_DAY, demoFarm, dump, scratch, tool, waterturn } from "../support/program.mjs";

async function until(holds, what, ms = 5000) {
  for (const end = Date.now() + ms; Date.now() < end; await sleep(20)) if (await holds()) return;
  throw new Error(`waited in vain: ${what}`);
}

const ended = (process) => new Promise((resolve) => process.on("exit", (code, signal) => resolve({ code, signal })));

test("one daemon serves a database, and restore waits for its end", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const { process, address } = await serve(t, db);
  const second = waterturn("serve", "--db", db, "--listen", "127.0.0.1:0");
  assert.equal(second.status, 1);
  assert.match(second.stderr, new RegExp(`process ${process.pid} serves this database`));
  const copy = path.join(directory, "copy.db");
  assert.equal(waterturn("backup", copy, "--db", db).status, 0);
  assert.match(waterturn("restore", copy, "--db", db).stderr, /serves this database; end it first/);
  assert.equal((await ask(address, "/")).status, 200);
  process.kill("SIGTERM");
  assert.deepEqual(await ended(process), { code: 0, signal: null });
  assert.equal(waterturn("restore", copy, "--db", db).status, 0);
});

test("a daemon that was killed leaves no lock and nothing half", async (t) => {
  const { db } = await demoDatabase(t);
  const before = dump(db);
  const { process } = await serve(t, db);
  process.kill("SIGKILL");
  await ended(process);
  const { address } = await serve(t, db);
  assert.equal((await ask(address, "/")).status, 200);
  assert.equal(dump(db).replace(/^table secret[^]*?(?=^table )/m, ""), before.replace(/^table secret[^]*?(?=^table )/m, ""));
});

test("the supervisor is told that it is ready, alive, reloading and stopping", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const socket = path.join(directory, "notify");
  const hear = spawn(tool("hear_notify"), [socket], { stdio: ["pipe", "pipe", "inherit"] });
  t.after(() => hear.kill());
  let told = "";
  hear.stdout.setEncoding("utf8").on("data", (text) => (told += text));
  await until(() => existsSync(socket), "the listener");
  const { process } = await serve(t, db, [], { env: { ...globalThis.process.env, NOTIFY_SOCKET: socket, WATCHDOG_USEC: "400000", WATERTURN_LAYOUTS: "" } });
  await until(() => (told.match(/WATCHDOG=1/g) ?? []).length >= 3, "the watchdog");
  assert.match(told, /^READY=1\nSTATUS=The page is at 127\.0\.0\.1:\d+$/m);
  process.kill("SIGHUP");
  await until(() => /RELOADING=1[^]*READY=1/.test(told), "the reload");
  process.kill("SIGTERM");
  await until(() => told.includes("STOPPING=1"), "the end");
});

test("when the thread that answers requests stands still, the watchdog hears nothing more until it goes on", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const socket = path.join(directory, "notify");
  const hear = spawn(tool("hear_notify"), [socket], { stdio: ["pipe", "pipe", "inherit"] });
  t.after(() => hear.kill());
  let told = "";
  hear.stdout.setEncoding("utf8").on("data", (text) => (told += text));
  await until(() => existsSync(socket), "the listener");
  const daemon = await serve(t, db, [], { env: { ...globalThis.process.env, NOTIFY_SOCKET: socket, WATCHDOG_USEC: "3000000", WATERTURN_LAYOUTS: "" } });
  const signs = () => (told.match(/WATCHDOG=1/g) ?? []).length;
  await until(() => signs() >= 1, "the first sign");
  const thread = readdirSync(`/proc/${daemon.process.pid}/task`).find((task) => Number(task) !== daemon.process.pid);
  const freeze = spawn(tool("freeze_thread"), [thread], { stdio: ["pipe", "pipe", "inherit"] });
  t.after(() => freeze.kill());
  let stands = false, code = null;
  freeze.stdout.on("data", () => (stands = true));
  freeze.on("exit", (value) => (code = value));
  await until(() => stands || code !== null, "the thread to stand");
  if (code === 77) return t.skip("this system does not let one process stop a thread of another");
  await until(() => daemon.errors.join("").includes("the page has not answered for"), "the log", 8000);
  const before = signs();
  await sleep(2500);
  assert.equal(signs(), before, "no sign while it stands");
  freeze.stdin.end();
  await until(() => signs() > before, "a sign once it goes on", 8000);
  assert.equal((await ask(daemon.address, "/")).status, 200);
});

test("settings are read again when they are good, and kept when the new ones are not", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const config = path.join(directory, "daemon.json");
  writeFileSync(config, '{"hosts": ["first.example"]}');
  const { address, process, errors, port } = await serve(t, db, ["--config", config]);
  const host = async (name) => (await ask(address, "/", { headers: { Host: `${name}:${port}` } })).status;
  assert.deepEqual([await host("first.example"), await host("second.example")], [200, 421]);
  writeFileSync(config, '{"hosts": ["second.example"], "morning": "25:00"}');
  process.kill("SIGHUP");
  await until(() => errors.join("").includes("the old ones hold"), "the refusal");
  assert.match(errors.join(""), /daemon\.json:1:\d+: morning: found "25:00", expected a time of the day/);
  assert.deepEqual([await host("first.example"), await host("second.example")], [200, 421]);
  writeFileSync(config, '{"hosts": ["second.example"]}');
  process.kill("SIGHUP");
  await until(() => errors.join("").includes("read again"), "the reload");
  await until(async () => (await host("second.example").catch(() => 0)) === 200, "the new settings");
  assert.equal(await host("first.example"), 421);
});

test("a backup of a database in use is whole, and restores to the last digit", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const { address, process } = await serve(t, db);
  const copy = path.join(directory, "copy.db");
  linkFor(db, "operator", "Olu", address);
  const taken = waterturn("backup", copy, "--db", db);
  assert.equal(taken.status, 0, taken.stderr);
  assert.equal(statSync(copy).mode & 0o777, 0o600);
  assert.equal(dump(copy), dump(db));
  process.kill("SIGTERM");
  await ended(process);
  const kept = dump(db);
  assert.equal(waterturn("morning", "--stored", "--db", db, "--today", "2026-07-13").status, 0);
  assert.notEqual(dump(db), kept);
  assert.match(waterturn("restore", copy, "--db", db).stdout, /restored from .*\nwhat was there before is .*\.before-restore\n$/);
  assert.equal(dump(db), kept);
  assert.ok(existsSync(`${db}.before-restore`));
  const elsewhere = path.join(directory, "elsewhere.db");
  assert.match(waterturn("restore", copy, "--db", elsewhere).stdout, /restored from .*copy\.db\n$/);
  assert.equal(dump(elsewhere), kept);
  assert.ok(!existsSync(`${db}-wal`));
});

test("a backup takes the place of no database, neither its own nor another in use", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const { address } = await serve(t, db);
  const link = path.join(directory, "link.db"), other = path.join(directory, "other.db"), before = statSync(db).ino;
  symlinkSync(db, link);
  assert.equal(waterturn("backup", other, "--db", db).status, 0);
  for (const [to, from, says] of [[db, db, /farm\.db: found the database itself/], [link, db, /link\.db: found the database itself/], [db, other, /farm\.db: found a database that is in use/]]) {
    const done = waterturn("backup", to, "--db", from);
    assert.equal(done.status, 1, to);
    assert.match(done.stderr, says);
    assert.equal(statSync(db).ino, before, "what the daemon writes is what the name leads to");
  }
  assert.ok(lstatSync(link).isSymbolicLink());
  assert.equal((await fetch(address)).status, 200);
});

test("an empty file is told from another program's", (t) => {
  const file = path.join(scratch(t), "empty.db");
  writeFileSync(file, "");
  const done = waterturn("call", "--db", file);
  assert.equal(done.status, 1);
  assert.match(done.stderr, /empty\.db: found an empty file, expected a waterturn database; `waterturn import FARMFILE --db .*empty\.db` makes one of it/);
});

test("a damaged, foreign or missing backup restores nothing", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const kept = dump(db);
  const copy = path.join(directory, "copy.db");
  waterturn("backup", copy, "--db", db);
  const bytes = readFileSync(copy);
  const damaged = Buffer.from(bytes);
  damaged.fill(0xa5, 8192, bytes.length - 8192);
  for (const [name, content] of [["damaged", damaged], ["cut", bytes.subarray(0, bytes.length / 2)], ["foreign", Buffer.from("not a database at all".repeat(100))], ["empty", Buffer.alloc(0)]]) {
    const file = path.join(directory, `${name}.db`);
    writeFileSync(file, content);
    const done = waterturn("restore", file, "--db", db);
    assert.equal(done.status, 1, name);
    assert.ok(done.stderr.includes(name), done.stderr);
    assert.equal(dump(db), kept, name);
  }
  const none = waterturn("restore", path.join(directory, "none.db"), "--db", db);
  assert.equal(none.status, 1);
  assert.match(none.stderr, /none\.db: found no backup here \(No such file or directory\)\n$/);
});

test("each morning leaves a backup where the settings say", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const backups = path.join(directory, "backups"), config = path.join(directory, "daemon.json");
  mkdirSync(backups);
  writeFileSync(path.join(backups, "waterturn-2020-01-01.db"), "old");
  writeFileSync(path.join(backups, "mine.db"), "not ours");
  writeFileSync(config, JSON.stringify({ backup: { directory: backups, days: 1, months: 0 } }));
  const { process } = await serve(t, db, ["--config", config]);
  process.kill("SIGUSR1"); // what a form does that wants a morning
  const made = path.join(backups, `waterturn-${DEMO_DAY}.db`);
  await until(() => existsSync(made), "the backup", 20000);
  await until(() => readdirSync(backups).length === 2, "retention");
  assert.deepEqual(readdirSync(backups).sort(), ["mine.db", `waterturn-${DEMO_DAY}.db`]);
});

for (const version of [1, 2, 3, 4, 5]) test(`a database of version ${version} is brought up, and kept as it was beside`, (t) => {
  const directory = scratch(t);
  const db = path.join(directory, "farm.db");
  const made = spawnSync(tool("make_version"), [String(version), db], { encoding: "utf8" });
  assert.equal(made.status, 0, made.stderr);
  assert.match(waterturn("call", "--db", db).stderr, new RegExp(`found database version ${version}, expected 6`));
  assert.equal(waterturn("people", "--db", db).status, 0);
  assert.ok(existsSync(`${db}.version-${version}`));
  assert.equal(statSync(`${db}.version-${version}`).mode & 0o777, 0o600);
  const newest = { 1: /^table device/m, 2: /^table turn_mark/m, 3: /^table turn_mark/m, 4: /^table turn_plan/m }[version];
  if (newest !== undefined) {
    assert.match(dump(db), newest);
    assert.doesNotMatch(dump(`${db}.version-${version}`), newest);
  }
  // What it then takes is what a new database takes.
  const farm = demoFarm(directory, "http://127.0.0.1:1");
  assert.equal(waterturn("import", farm, "--db", db).status, 0);
});

test("a database of version 5 has every ledger computed anew by the next morning", async (t) => {
  const { db } = await demoDatabase(t);
  const rows = (table) => dump(db).match(new RegExp(`^table ${table}\\n((?:(?!table ).*\\n)*)`, "m"))[1].trimEnd().split("\n").map((row) => row.split(" | "));
  const ledger = rows("ledger"), dirty = () => rows("planting").map((row) => row[4]);
  assert.ok(dirty().every((day) => day === "null"));
  const bytes = readFileSync(db);
  assert.equal(bytes.readUInt32BE(60), 6); // user_version: SQLite's file format, section 1.3
  bytes.writeUInt32BE(5, 60);
  writeFileSync(db, bytes);
  assert.equal(waterturn("people", "--db", db).status, 0);
  assert.deepEqual(dirty(), rows("planting").map((row) => row[3])); // start_day
  assert.equal(waterturn("morning", "--stored", "--today", DEMO_DAY, "--db", db).status, 0);
  assert.ok(dirty().every((day) => day === "null"));
  assert.ok(ledger.length > 100);
  assert.deepEqual(rows("ledger"), ledger);
});

test("doctor says what is not good and what to do", async (t) => {
  const { db, directory } = await demoDatabase(t);
  assert.equal(statSync(db).mode & 0o777, 0o600, "a new database is its owner's alone");
  assert.match(waterturn("doctor", "--db", db).stdout, /good +permissions/);
  chmodSync(db, 0o644);
  const config = path.join(directory, "daemon.json");
  writeFileSync(config, '{"lisen": "x"}');
  const done = waterturn("doctor", "--db", db, "--config", config);
  assert.equal(done.status, 1);
  assert.match(done.stdout, /NOT GOOD settings .*found the key "lisen", expected one such as "listen"/);
  assert.match(done.stdout, /NOT GOOD permissions .*\n.*chmod go= FILE/);
  assert.match(done.stdout, /NOT GOOD daemon +does not run\n/);
  assert.match(done.stdout, /good +database/);
  writeFileSync(db, readFileSync(db).fill(0xa5, 4096, 12288));
  assert.match(waterturn("doctor", "--db", db).stdout, /NOT GOOD database .*\n/);
});

test("TLS by a certificate: the cookie is for https alone, and old protocols are refused", async (t) => {
  const { db, directory } = await demoDatabase(t);
  const config = path.join(directory, "daemon.json"), certificate = path.join(directory, "c.pem"), key = path.join(directory, "k.pem");
  const made = spawnSync("openssl", ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", key, "-out", certificate, "-days", "2", "-subj", "/CN=127.0.0.1"]);
  assert.equal(made.status, 0, String(made.stderr));
  writeFileSync(config, JSON.stringify({ tls: { certificate, key } }));
  const { address, port } = await serve(t, db, ["--config", config]);
  assert.match(address, /^https:/);
  const link = linkFor(db, "reader", "Rae", address);
  const options = { rejectUnauthorized: false };
  const https = await import("node:https");
  const over = (method, where, headers = {}) =>
    new Promise((resolve, reject) => https.request(address + where, { method, headers, ...options }, (answer) => answer.resume().on("end", () => resolve(answer))).on("error", reject).end());
  const paired = await over("POST", new URL(link).pathname, { Origin: address, "Content-Type": "application/x-www-form-urlencoded", "Content-Length": 0 });
  assert.equal(paired.statusCode, 303);
  assert.match(paired.headers["set-cookie"][0], /^__Host-waterturn=[\w-]{43}; Path=\/; Max-Age=\d+; SameSite=Strict; HttpOnly; Secure$/);
  const cookie = paired.headers["set-cookie"][0].split(";")[0];
  assert.equal((await over("GET", "/", { Cookie: cookie })).statusCode, 200);
  assert.equal((await over("GET", "/", { Cookie: cookie.replace("__Host-", "") })).statusCode, 401);
  const { connect } = await import("node:tls");
  const old = await new Promise((resolve) => connect({ port, host: "127.0.0.1", ...options, maxVersion: "TLSv1.1", minVersion: "TLSv1", ciphers: "DEFAULT@SECLEVEL=0" }, () => resolve("taken")).on("error", () => resolve("refused")));
  assert.equal(old, "refused");
});

test("metrics are what promtool and OpenMetrics ask for", async (t) => {
  const { db } = await demoDatabase(t);
  const { address } = await serve(t, db);
  await ask(address, "/");
  const plain = await ask(address, "/metrics");
  assert.match(plain.headers["content-type"], /^text\/plain; version=0\.0\.4/);
  const promtool = path.join(build, "tools/promtool");
  const checked = spawnSync(existsSync(promtool) ? promtool : "promtool", ["check", "metrics"], { input: plain.body, encoding: "utf8" });
  assert.equal(checked.error, undefined, "promtool is there");
  assert.equal(checked.status, 0, checked.stdout + checked.stderr);
  assert.match(plain.body, /^waterturn_http_answers_total\{status="2xx"\} 1$/m);
  assert.match(plain.body, /^waterturn_calls\{call="water_today"\} [1-9]/m);
  const open = await ask(address, "/metrics", { headers: { Accept: "application/openmetrics-text; version=1.0.0" } });
  assert.match(open.headers["content-type"], /^application\/openmetrics-text; version=1\.0\.0/);
  assert.ok(open.body.endsWith("# EOF\n"));
  // OpenMetrics 1.0: a family is announced once, before its samples, and only they stand under it.
  let family, type;
  const seen = new Set();
  for (const line of open.body.trimEnd().split("\n").slice(0, -1)) {
    const head = /^# (TYPE|UNIT|HELP) (\S+) (.+)$/.exec(line);
    if (head?.[1] === "TYPE") {
      [family, type] = [head[2], head[3]];
      assert.ok(!seen.has(family), family);
      seen.add(family);
    } else if (head) {
      assert.equal(head[2], family);
      if (head[1] === "UNIT") assert.ok(family.endsWith(`_${head[3]}`), line);
    } else {
      const sample = /^([a-z_]+)(\{[a-z]+="[^"\n]*"\})? -?[\d.e+-]+$/.exec(line);
      assert.ok(sample, line);
      const tails = { counter: ["_total"], histogram: ["_bucket", "_count", "_sum"], gauge: [""] }[type];
      assert.ok(tails.some((tail) => sample[1] === family + tail), line);
    }
  }
});

test("the health of the daemon needs no token and says nothing else", async (t) => {
  const { db } = await demoDatabase(t);
  const { address } = await serve(t, db);
  const cookie = await pair(address, linkFor(db, "reader", "Rae", address));
  assert.equal((await phone(cookie).get(address, "/metrics")).status, 200);
  const health = await ask(address, "/healthz");
  assert.deepEqual([health.status, health.body], [200, "ok\n"]);
  const { address: later } = await serve(t, (await demoDatabase(t)).db, ["--today", "2026-07-20"]);
  assert.equal((await ask(later, "/healthz")).status, 503);
});
