// A large farm's morning is stored in parts, and people send forms meanwhile: so many fields take some seconds, of which a
// form waits one at most.
import assert from "node:assert/strict";
import { once } from "node:events";
import path from "node:path";
import test from "node:test";
import { csvRows, scratch, startWaterturn, unmade, waterturn } from "../support/program.mjs";
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
