// A large farm's morning is stored in parts, and people send forms meanwhile: so many fields take some seconds, of which a
// form waits one at most.
import assert from "node:assert/strict";
import { once } from "node:events";
import path from "node:path";
import test from "node:test";
import { csvRows, dump, scratch, startWaterturn, unmade, waterturn } from "../support/program.mjs";
import { fillIn, servePages, wordsOf } from "../support/book.mjs";
import { largeFarm } from "../support/large_farm.mjs";

const FIELDS = 13000, [BEFORE, DAY] = ["2026-07-13", "2026-07-14"], FIELD = "Field 6";

const ok = (done) => {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
};

test("a record sent while a morning is being stored in parts is answered before its end, and is in it", async (t) => {
  const directory = scratch(t);
  const db = largeFarm(directory, { fields: FIELDS, years: [2026], days: 194, wells: false });
  ok(waterturn("morning", "--db", db, "--today", BEFORE));
  const { address } = await servePages(t, ["--db", db, "--today", BEFORE]);
  const run = startWaterturn(["morning", "--db", db, "--today", DAY, "--at-once", "50", "--threads", "1"]);
  const ended = once(run, "exit");
  await new Promise((resolve) => setTimeout(resolve, 200));
  const answer = await fillIn(address, `/field/${encodeURIComponent(FIELD)}/record/irrigation`, { date: "2026-07-10", water: "0.5" });
  assert.equal(run.exitCode, null, "the morning had ended before the form was answered");
  assert.equal(answer.status, 303, wordsOf(answer.body));
  assert.deepEqual(await ended, [0, null]);

  const exported = path.join(directory, "exported.json");
  ok(waterturn("export", exported, "--db", db));
  for (const field of [FIELD, "Field 12999"]) {
    const kept = ok(waterturn("ledger", field, "--db", db, "--today", DAY, "--csv"));
    assert.equal(kept, unmade(ok(waterturn("replay", exported, "--today", DAY, "--field", field, "--csv"))), field);
  }
  const rows = csvRows(ok(waterturn("ledger", FIELD, "--db", db, "--today", DAY, "--csv")));
  assert.ok(Number(rows.find(({ date }) => date === "2026-07-10").irrigation_gross_mm) > 12);
  const calls = csvRows(ok(waterturn("call", "--db", db, "--today", DAY, "--csv")));
  assert.equal(calls.length, FIELDS);
  assert.deepEqual([...new Set(calls.map(({ date }) => date))], [DAY]);
});

test("a record sent while the turns of many wells are planned is answered before the morning's end, and is in its plans", async (t) => {
  const directory = scratch(t), fields = 100;
  const db = largeFarm(directory, { fields, years: [2026], days: 194, forecast: BEFORE });
  ok(waterturn("morning", "--db", db, "--today", BEFORE));
  const { address } = await servePages(t, ["--db", db, "--today", BEFORE]);
  const run = startWaterturn(["morning", "--db", db, "--today", DAY, "--threads", "1"]);
  const ended = once(run, "exit");
  // All calls of the day are stored and the morning is not noted: its plans are being made.
  const rows = (table) => new RegExp(`^table ${table}\\n(.*?)^table `, "ms").exec(dump(db))[1].split("\n").filter(Boolean).length;
  while (run.exitCode === null && rows("call") < 2 * fields) await new Promise((resolve) => setTimeout(resolve, 20));
  assert.equal(rows("morning"), 1, "the plans are made within the book");
  const answer = await fillIn(address, `/field/${encodeURIComponent(FIELD)}/record/irrigation`, { date: BEFORE, water: "0.9" });
  assert.equal(answer.status, 303, wordsOf(answer.body));
  assert.equal(run.exitCode, null, "the morning had ended before the form was answered");
  assert.deepEqual(await ended, [0, null]);
  const [kept, plans] = [dump(db), (text) => text.slice(text.indexOf("table turn\n"))];
  assert.match(plans(kept), /./);
  assert.equal(rows("morning"), 2);
  // Nothing is left for another run to plan otherwise.
  ok(waterturn("morning", "--db", db, "--today", DAY, "--stored"));
  assert.equal(plans(dump(db)), plans(kept));
});
