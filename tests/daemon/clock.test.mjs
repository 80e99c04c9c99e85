// A machine whose clock is wrong, as one without a battery is when it wakes up: the daemon runs, and computes nothing.
import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { setTimeout as sleep } from "node:timers/promises";
import { ask, fillIn, formsOf, wordsOf } from "../support/book.mjs";
import { clock } from "../support/clock.mjs";
import { demoDatabase } from "../support/guarded.mjs";
import { dump, firstLine, root, startWaterturn, waterturn } from "../support/program.mjs";

const WATCHED_EVERY_MS = 5000;

async function serve(t, db, env) {
  const daemon = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0", "--tries", "1"], { env: { ...process.env, LANG: "en", WATERTURN_LAYOUTS: path.join(root, "fixtures/layouts"), ...env } });
  let log = "";
  daemon.stderr.setEncoding("utf8").on("data", (text) => (log += text));
  t.after(() => daemon.kill("SIGTERM"));
  const address = /http:\/\/[^/]+/.exec(await firstLine(daemon))[0];
  return { address, process: daemon, log: () => log, health: async () => (await ask(address, "/healthz")).body.trim() };
}

async function until(holds, what, ms = 3 * WATCHED_EVERY_MS) {
  for (const end = Date.now() + ms; Date.now() < end; await sleep(50)) if (await holds()) return;
  throw new Error(`waited in vain: ${what}`);
}

/** Whether the morning of a date was run to its end. */
const ran = (db, date) => new RegExp(`^table morning\n(?:(?!table ).*\n)*${Date.parse(date) / 86400000} \\| `, "m").test(dump(db));
const book = (db) => dump(db).replace(/^table secret[^]*?(?=^table )/m, "");

test("a daemon that starts in 1970 computes and records nothing, says why, and goes on once the clock is right", async (t) => {
  const { directory, db } = await demoDatabase(t);
  const { set, env } = clock(directory);
  const before = book(db);
  set("1970-01-01T12:00:00Z");
  const daemon = await serve(t, db, env);
  const page = await ask(daemon.address, "/");
  assert.equal(page.status, 200);
  assert.match(page.body, /role="alert">The clock of this machine says 1970-01-01, which is before the last calls\. Nothing is computed or recorded/);
  assert.match(wordsOf(page.body), /these calls are old/);
  assert.match(JSON.parse((await ask(daemon.address, "/api/today")).body).clock, /1970-01-01/);
  const health = await ask(daemon.address, "/healthz");
  assert.deepEqual([health.status, health.body], [503, "clock\n"]);
  const doctor = waterturn("doctor", "--db", db, { env });
  assert.match(doctor.stdout, /NOT GOOD clock +1970-01-01 .*\n.*nothing is computed until it is right/);
  assert.match(waterturn("call", "--db", db, { env }).stdout, /^! The clock of this machine says/m);
  const morning = waterturn("morning", "--db", db, { env });
  assert.equal(morning.status, 1);
  assert.match(morning.stderr, /the clock of this machine is behind/);

  assert.deepEqual(formsOf(page.body), [], "no button to record by");
  const kept = await fillIn(daemon.address, "/field/North%20pivot/record/irrigation", { date: "2026-07-13", water: "20", water_unit: "mm" });
  assert.equal(kept.status, 503);
  assert.match(kept.body, /The clock of this machine is wrong[^]*Nothing is recorded until it is right/);
  daemon.process.kill("SIGUSR1"); // not even when it is asked for a morning
  await sleep(500);
  assert.ok(ran(db, "2026-07-14") && book(db) === before, "nothing was written");
  assert.match(daemon.log(), /the clock says 1970-01-01: .*nothing is computed until it is right/);

  set("2026-07-15T12:00:00Z");
  await until(() => ran(db, "2026-07-15"), "the morning of the day that the clock now says");
  assert.equal(await daemon.health(), "ok");
  await until(() => /the clock can be believed again/.test(daemon.log()), "the log");
  const mended = await ask(daemon.address, "/");
  assert.doesNotMatch(mended.body, /The clock of this machine/);
  assert.match(mended.body, /Wed(nesday)? 15 July|15 July|July 15/);
});

for (const [name, wrong, said] of [
  ["jumps back before the last morning", "2026-07-13T12:00:00Z", /says 2026-07-13, which is before the last calls/],
  ["jumps years ahead", "2031-01-01T12:00:00Z", /says 2031-01-01, which is much too late/],
]) {
  test(`when the clock of a running daemon ${name}, nothing is computed until it is right again`, async (t) => {
    const { directory, db } = await demoDatabase(t);
    const { set, env } = clock(directory);
    set("2026-07-15T12:00:00Z");
    const daemon = await serve(t, db, env);
    await until(() => ran(db, "2026-07-15"), "the morning");
    const before = book(db);
    set(wrong);
    daemon.process.kill("SIGUSR1");
    await until(() => /nothing is computed until it is right/.test(daemon.log()), "the log");
    assert.equal(await daemon.health(), "clock");
    assert.match((await ask(daemon.address, "/")).body, said);
    assert.ok(book(db) === before, "nothing was computed");
    set("2026-07-16T12:00:00Z");
    await until(async () => (await daemon.health()) === "ok" && /the clock can be believed again/.test(daemon.log()), "the clock to be believed");
    await until(() => ran(db, "2026-07-16"), "the next morning");
  });
}

test("a farm whose first morning would be in a far future waits for the clock", async (t) => {
  const { directory, db } = await demoDatabase(t);
  const { set, env } = clock(directory);
  const fresh = path.join(directory, "fresh.db"), file = path.join(directory, "farm.json");
  writeFileSync(file, waterturn("export", "--db", db).stdout);
  assert.equal(waterturn("import", file, "--db", fresh).status, 0);
  set("2099-07-14T12:00:00Z");
  const daemon = await serve(t, fresh, env);
  await until(() => /the clock says 2099-07-14/.test(daemon.log()), "the log");
  assert.equal(await daemon.health(), "clock");
  assert.match((await ask(daemon.address, "/")).body, /says 2099-07-14, which is much too late/);
});

test("a page that was kept is made anew with the hour, in which turns begin", async (t) => {
  const { directory, db } = await demoDatabase(t);
  const { set, env } = clock(directory);
  const board = JSON.parse(waterturn("turns", "--db", db, "--today", "2026-07-14", "--json").stdout);
  const turns = board.supplies.flatMap(({ fields }) => fields.flatMap((field) => field.turns));
  const next = turns.filter(({ state }) => state === "planned").sort((a, b) => a.start.localeCompare(b.start))[0];
  // The farm's clock is that of Chicago: five hours behind UTC in July.
  const begins = Date.parse(`${next.start}:00Z`) + 5 * 3600e3;
  const at = (minutes) => set(new Date(begins + minutes * 60e3).toISOString());
  at(-20);
  const daemon = await serve(t, db, env);
  const told = async () => JSON.parse((await ask(daemon.address, "/api/today")).body).fields.find(({ name }) => name === next.field).turn;
  const before = await told();
  assert.doesNotMatch(before, /under way/);
  at(-10);
  assert.equal(await told(), before);
  at(10);
  assert.match(await told(), /under way/);
});
