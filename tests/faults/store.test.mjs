// A database that is not as it should be, and a disk that is full before there is one.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { cpSync, existsSync, mkdirSync, readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, demoBook, demoFarm, dump, firstLine, program, root, runSql, scratch, startWaterturn, tool, waterturn } from "../support/program.mjs";
import { ask, send, wordsOf } from "../support/book.mjs";

const hash = (file) => createHash("sha256").update(readFileSync(file)).digest("hex");

/** The pages of a database: { address, log() }. */
async function serve(t, db) {
  const child = startWaterturn(["serve", "--listen", "127.0.0.1:0", "--db", db, "--today", DEMO_DAY]);
  let log = "";
  child.stderr.on("data", (chunk) => (log += chunk));
  t.after(() => child.kill("SIGKILL"));
  const line = await firstLine(child).catch((error) => assert.fail(`${error.message}: ${log}`));
  // What the log says until a line matches `last`, which reaches us after the answer.
  const taken = async (last) => {
    for (let tries = 0; !last.test(log) && tries < 100; tries++) await new Promise((resolve) => setTimeout(resolve, 50));
    const lines = log.split("\n").filter((text) => text !== "");
    log = "";
    return lines;
  };
  return { address: /http:\/\/[^/]+/.exec(line)[0], taken };
}

test("a database that loses a column under the pages: they say what to do, and the log has SQLite's words once", async (t) => {
  const { db } = await demoBook(t);
  const pages = await serve(t, db);
  assert.equal((await ask(pages.address, "/field/Long%20rows")).status, 200);
  runSql(db, "ALTER TABLE ledger RENAME COLUMN depletion_mm TO depletion");
  const refused = /farm\.db: the database refused while asking \(SELECT day, [^)]+ \.\.\. FROM ledger .+\): no such column: .*depletion_mm \(SQLite's code 1\); if it is damaged, or not one that waterturn made: `waterturn doctor --db .*farm\.db` looks at it, `waterturn restore BACKUP --db .*farm\.db` puts a backup in its place$/;
  for (const [language, words] of [["en", /The book cannot be read .*waterturn doctor looks at it and waterturn restore/], ["es", /No se puede leer el libro .*waterturn doctor la examina y waterturn restore/]]) {
    const page = await ask(pages.address, "/field/Long%20rows", { headers: { "Accept-Language": language } });
    assert.equal(page.status, 500);
    assert.match(wordsOf(page.body), words);
    const lines = await pages.taken(/: not answered, since the database refused$/m);
    assert.equal(lines.filter((line) => refused.test(line)).length, 1, lines.join("\n"));
    assert.ok(lines.some((line) => /\/field\/Long%20rows: not answered, since the database refused$/.test(line)), lines.join("\n"));
  }
  assert.equal(JSON.parse((await ask(pages.address, "/api/field/Long%20rows")).body).error, "store");
  await pages.taken(/: not answered, since the database refused$/m);
  // A page and a form that are answered by a run beside the daemon, which opens the database anew.
  for (const apart of [() => ask(pages.address, "/hindsight"), () => send(pages.address, "/field/Long%20rows/record/note", { note: "wet" })]) {
    const page = await apart();
    assert.equal(page.status, 500);
    assert.match(wordsOf(page.body), /The book cannot be read .*waterturn doctor looks at it/);
    const lines = await pages.taken(/its tables are not those/);
    assert.equal(lines.filter((line) => /found no column ledger\.depletion_mm, expected one/.test(line)).length, 1, lines.join("\n"));
  }
});

test("a database whose tables are not its version's is refused at the start by name, and not touched", async (t) => {
  const { db, directory } = await demoBook(t);
  runSql(db, "ALTER TABLE ledger RENAME COLUMN depletion_mm TO depletion; PRAGMA wal_checkpoint(TRUNCATE)");
  const before = hash(db), files = () => readdirSync(directory).filter((name) => !/-(wal|shm)$/.test(name)).sort(), there = files();
  for (const args of [["serve", "--listen", "127.0.0.1:0"], ["morning", "--stored", "--today", DEMO_DAY], ["call", "--today", DEMO_DAY], ["export"], ["import", path.join(directory, "farm.json")], ["backup", path.join(directory, "copy.db")]]) {
    const done = waterturn(...args, "--db", db, { timeout: 10000 });
    assert.equal(done.status, 1, args[0]);
    assert.match(done.stderr, /farm\.db: found a column ledger\.depletion, expected none\n.*farm\.db: found no column ledger\.depletion_mm, expected one\n.*its tables are not those of database version \d, and it was not changed/, args[0]);
  }
  const doctor = waterturn("doctor", "--db", db);
  assert.equal(doctor.status, 1);
  assert.match(doctor.stdout, /NOT GOOD database .*found no column ledger\.depletion_mm/);
  assert.match(doctor.stdout, /stop the daemon and `waterturn restore` the newest backup/);
  assert.equal(hash(db), before);
  assert.deepEqual(files(), there);
});

/** Runs waterturn with a limit on the size of a file, in KiB, as a full disk. Its signal is ignored, so that writing fails. */
const cramped = (limit, ...args) =>
  spawnSync("bash", ["-c", `trap '' XFSZ; ulimit -f ${limit}; exec "$0" "$@"`, program, ...args], { cwd: root, encoding: "utf8" });

test("an import on a full disk leaves nothing, or what was there before", (t) => {
  const directory = scratch(t);
  const farm = demoFarm(directory, "http://127.0.0.1:1");
  const whole = path.join(directory, "whole.db");
  assert.equal(waterturn("import", farm, "--db", whole).status, 0);
  let failed = 0;
  for (let limit = 0; ; limit += limit < 64 ? 4 : 32) {
    const place = path.join(directory, `new-${limit}`), db = path.join(place, "farm.db");
    mkdirSync(place);
    const done = cramped(limit, "import", farm, "--db", db);
    if (done.status === 0) {
      assert.equal(dump(db), dump(whole));
      break;
    }
    failed++;
    assert.match(done.stderr, /farm\.db/);
    assert.deepEqual(readdirSync(place), [], `${limit} KiB: ${done.stderr}`);
    assert.ok(limit < 4096);
  }
  assert.ok(failed > 8, `${failed} imports failed`);
});

for (const version of [3, 6]) test(`an import on a full disk into a database of version ${version} leaves what was in it, at its version or the newest`, (t) => {
  const directory = scratch(t);
  const farm = demoFarm(directory, "http://127.0.0.1:1");
  const old = path.join(directory, "old.db");
  if (version === 6) assert.equal(waterturn("import", path.join(root, "fixtures/farms/good/every_key.json"), "--db", old).status, 0);
  else assert.equal(spawnSync(tool("make_version"), [String(version), old]).status, 0);
  const before = dump(old);
  let failed = 0;
  for (let limit = 4; ; limit += limit < 64 ? 4 : 32) {
    const place = path.join(directory, `in-${limit}`), db = path.join(place, "farm.db");
    mkdirSync(place);
    cpSync(old, db);
    const done = cramped(limit, "import", farm, "--replace", "--db", db);
    if (done.status === 0) break;
    failed++;
    assert.match(done.stderr, /farm\.db/);
    // Brought up to the newest version and without the farm, or as it was; nothing between.
    const kept = existsSync(`${db}.version-${version}`);
    const stale = /found database version \d/.test(waterturn("export", "--db", db).stderr);
    assert.equal(stale, version !== 6 && !kept, `${limit} KiB`);
    if (kept) assert.equal(dump(`${db}.version-${version}`), before);
    else assert.equal(dump(db), before, `${limit} KiB: ${done.stderr}`);
    assert.ok(limit < 8192);
  }
  assert.ok(failed > 2, `${failed} imports failed`);
});
