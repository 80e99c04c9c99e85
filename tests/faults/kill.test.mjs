// kill -9 at any moment: what was acknowledged is there, nothing half-written is, and the ledger is a fresh replay.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, demoBook, dump, startWaterturn, unmade, waterturn } from "../support/program.mjs";
import { fillIn, servePages } from "../support/book.mjs";

const KILLS = 200;
const FIELDS = ["North pivot", "East pivot", "Long rows", "Bottom meadow", "Trial plot A"];

const ok = (done) => {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
};

// Marsaglia's xorshift: the same choices in every run.
function numbers(seed) {
  let x = seed;
  return () => {
    x ^= x << 13;
    x ^= x >>> 17;
    x ^= x << 5;
    return (x >>> 0) / 2 ** 32;
  };
}

const dayBefore = (days) => new Date(Date.parse(DEMO_DAY) - days * 86400000).toISOString().slice(0, 10);

/** Sends forms until the server is gone; what was acknowledged is added to `kept`. */
async function record(address, random, mark, kept, answered) {
  for (let i = 0; ; i++) {
    const field = FIELDS[Math.floor(random() * FIELDS.length)];
    const date = dayBefore(Math.floor(random() * 20));
    const text = `${mark}.${i}`;
    const forms = `/field/${encodeURIComponent(field)}/record`;
    const depth = String(1 + Math.floor(random() * 40));
    try {
      const note = await fillIn(address, `${forms}/note`, { note: text, date });
      assert.equal(note.status, 303, note.body);
      kept.notes.push({ field, date, text });
      answered();
      const water = await fillIn(address, `${forms}/irrigation`, { water: depth, water_unit: "mm", date });
      assert.equal(water.status, 303, water.body);
      kept.waters += 1;
    } catch (error) {
      if (error.code === "ERR_ASSERTION") throw error;
      return; // the server was killed in the middle
    }
  }
}

test(`what was acknowledged survives kill -9, ${KILLS} times at random moments`, async (t) => {
  const { directory, db } = await demoBook(t);
  const random = numbers(20260714);
  const kept = { notes: [], waters: 0 };
  const irrigations = () => JSON.parse(ok(waterturn("export", "--db", db))).records.filter(({ kind }) => kind === "irrigation").length;
  const before = irrigations();
  for (let i = 0; i < KILLS; i++) {
    const pages = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
    // Now and then a morning is run beside it, and killed too.
    const morning = i % 10 === 0 ? startWaterturn(["morning", "--db", db, "--today", DEMO_DAY, "--stored"], { stdio: "ignore" }) : null;
    const kill = () => {
      pages.process.kill("SIGKILL");
      morning?.kill("SIGKILL");
    };
    // Every other run is killed as soon as it has answered, the others at a random moment.
    setTimeout(kill, i % 2 === 0 ? random() * 200 : 10000).unref();
    await record(pages.address, random, `run ${i}`, kept, i % 2 === 0 ? () => {} : kill);
    await pages.ended;
  }
  assert.ok(kept.notes.length >= KILLS / 2, `${kept.notes.length} notes were acknowledged`);

  dump(db); // fails unless integrity_check is ok
  const exported = path.join(directory, "exported.json");
  ok(waterturn("export", exported, "--db", db));
  const notes = JSON.parse(readFileSync(exported, "utf8")).records.filter(({ kind, text }) => kind === "note" && text.startsWith("run "));
  const key = ({ field, date, text }) => `${field}|${date}|${text}`;
  const there = new Set(notes.map(key));
  for (const note of kept.notes) assert.ok(there.has(key(note)), `lost: ${key(note)}`);
  assert.equal(there.size, notes.length, "no record is there twice");
  // At most one record of a run was on its way when the run was killed.
  const waters = irrigations() - before;
  assert.ok(waters >= kept.waters);
  const unanswered = notes.length + waters - kept.notes.length - kept.waters;
  assert.ok(unanswered <= KILLS);
  console.log(`# measured ${kept.notes.length + kept.waters} records acknowledged in ${KILLS} killed runs, none lost; ${unanswered} kept without their answer`);

  for (const field of FIELDS) {
    const ledger = ok(waterturn("ledger", field, "--db", db, "--today", DEMO_DAY, "--csv"));
    assert.equal(ledger, unmade(ok(waterturn("replay", exported, "--today", DEMO_DAY, "--field", field, "--csv"))), field);
  }
});
