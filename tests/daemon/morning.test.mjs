// The morning end to end, through the program, a file server on loopback and a database on disk.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { once } from "node:events";
import { copyFileSync, existsSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, csvRows, demoFarm, demoWeather, dump, firstLine, root, scratch, serveFiles, startWaterturn, tool, unmade, waterturn } from "../support/program.mjs";

function ok(done) {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
}

async function demo(t) {
  const directory = scratch(t);
  const weather = demoWeather(directory);
  const farm = demoFarm(directory, await serveFiles(t, weather));
  const db = path.join(directory, "farm.db");
  return { directory, weather, farm, db };
}

// Open data: daily weather of Seattle, 2012 to 2015, in the npm package vega-datasets (NOAA; rain, Tmax, Tmin, wind).
async function seattle(t) {
  const directory = scratch(t);
  const address = await serveFiles(t, path.join(root, "tests/node_modules/vega-datasets/data"));
  const farm = path.join(directory, "farm.json");
  const text = readFileSync(path.join(root, "fixtures/seattle/farm.json"), "utf8");
  writeFileSync(farm, text.replaceAll("http://127.0.0.1:0", address));
  return { farm, db: path.join(directory, "farm.db") };
}

test("a morning gives way to those who ask for pages", async (t) => {
  const { farm, db } = await demo(t);
  ok(waterturn("import", farm, "--db", db));
  // It waits for the book, which is held.
  const hold = spawn(tool("hold_db"), [db], { stdio: ["pipe", "pipe", "inherit"] });
  await firstLine(hold);
  const run = startWaterturn(["morning", "--db", db, "--today", DEMO_DAY]), ended = once(run, "exit");
  const own = os.getPriority();
  const nice = () => Number(readFileSync(`/proc/${run.pid}/stat`, "utf8").split(") ")[1].split(" ")[16]);
  for (let i = 0; i < 200 && nice() === own; i++) await new Promise((resolve) => setTimeout(resolve, 10));
  const way = nice();
  hold.stdin.end();
  assert.deepEqual(await ended, [0, null]);
  assert.equal(way, Math.min(own + 12, 19));
});

test("real weather of the summer of 2015 keeps a field and gives a call on a day of July", async (t) => {
  const { farm, db } = await seattle(t);
  ok(waterturn("import", farm, "--db", db));
  assert.match(ok(waterturn("morning", "--db", db, "--today", "2015-07-15")), /1 of 1 sources read, 1461 days of weather/);
  const [call] = csvRows(ok(waterturn("call", "--db", db, "--today", "2015-07-15", "--csv")));
  assert.equal(call.date, "2015-07-15");
  assert.equal(call.weather_until, "2015-07-14");
  assert.equal(call.forecast_issued, "");
  // July 2015 in Seattle was nearly without rain (3 days of it up to the 14th in the file): a field kept at its allowed depletion is
  // due within days, and never told that rain may cover it.
  assert.ok(["water_today", "water_by", "hold"].includes(call.call), call.call);
  assert.ok(Number(call.depletion_mm) >= 0 && Number(call.depletion_mm) <= Number(call.taw_mm));

  const rows = csvRows(ok(waterturn("ledger", "Bean lot", "--db", db, "--today", "2015-07-15", "--csv")));
  assert.equal(rows[0].date, "2015-04-20");
  assert.equal(rows.at(-1).date, "2015-07-14");
  const weather = new Map(csvRows(readFileSync(path.join(root, "tests/node_modules/vega-datasets/data/seattle-weather.csv"), "utf8")).map((row) => [row.date, row]));
  for (const row of rows) {
    assert.equal(Number(row.rain_mm), Number(weather.get(row.date).precipitation), row.date);
    // Closure of each day's balance under 1e-9 mm.
    assert.ok(Math.abs(Number(row.closure_mm)) < 1e-9, row.date);
  }
});

test("missing humidity and radiation are estimated by the rules of FAO-56 and flagged in the ledger", async (t) => {
  const { farm, db } = await seattle(t);
  ok(waterturn("import", farm, "--db", db));
  ok(waterturn("morning", "--db", db, "--today", "2015-07-15"));
  for (const row of csvRows(ok(waterturn("ledger", "Bean lot", "--db", db, "--today", "2015-07-15", "--csv")))) {
    assert.equal(row.humidity_origin, "estimated");
    assert.equal(row.humidity_rule, "ea_tmin");
    assert.equal(row.radiation_origin, "estimated");
    assert.equal(row.radiation_rule, "rs_temperature");
    assert.equal(row.temperature_origin, "measured");
    assert.equal(row.rain_origin, "measured");
  }
});

test("the ledger that the mornings kept is a replay of the files, to the last digit", async (t) => {
  const { farm, db } = await demo(t);
  ok(waterturn("import", farm, "--db", db));
  for (const day of ["2026-05-30", "2026-06-02", "2026-06-29", "2026-07-13", DEMO_DAY])
    ok(waterturn("morning", "--db", db, "--today", day));
  for (const field of ["North pivot", "Bottom meadow", "Trial plot B", "Seed beds"]) {
    const kept = ok(waterturn("ledger", field, "--db", db, "--today", DEMO_DAY, "--csv"));
    const replayed = unmade(ok(waterturn("replay", farm, "--today", DEMO_DAY, "--field", field, "--csv")));
    assert.equal(kept, replayed, field);
  }
});

test("any number of threads and of parts leaves the same bytes", async (t) => {
  const { farm, db, directory } = await demo(t);
  ok(waterturn("import", farm, "--db", db));
  const days = ["2026-06-20", "2026-07-13", DEMO_DAY];
  const kept = (name, ...options) => {
    const own = path.join(directory, name);
    copyFileSync(db, own);
    return days.map((day) => (ok(waterturn("morning", "--db", own, "--today", day, ...options)), dump(own)));
  };
  const plain = kept("plain.db", "--threads", "1");
  assert.notEqual(plain[0], plain[1]);
  for (const options of [["--threads", "2"], ["--threads", "7"], ["--at-once", "1"], ["--at-once", "4", "--threads", "3"], ["--at-once", "1000000"]])
    assert.deepEqual(kept(`${options.join("")}.db`, ...options), plain, options.join(" "));
});

/** Runs a command and kills it after so many milliseconds; how it ended and after how long. */
async function killedAfter(milliseconds, ...words) {
  const began = performance.now();
  const run = startWaterturn(words);
  const ended = once(run, "exit").then((how) => ({ killed: how[1] === "SIGKILL", after: performance.now() - began }));
  await new Promise((resolve) => setTimeout(resolve, milliseconds));
  run.kill("SIGKILL");
  return ended;
}

test("between the parts of a morning readers have the whole morning before; an earlier one then leaves nothing of it", async (t) => {
  const { farm, db, directory } = await demo(t);
  const [early, late] = ["2026-06-20", "2026-06-21"];
  const today = (file) => JSON.parse(ok(waterturn("page", "/api/today", "--db", file, "--today", late))).fields;
  const calls = (file) => csvRows(ok(waterturn("call", "--db", file, "--today", early, "--csv")));
  const stored = (file) => /^table call\n(.*?)^table /ms.exec(dump(file))[1].split("\n").filter(Boolean).length;
  ok(waterturn("import", farm, "--db", db));
  ok(waterturn("morning", "--db", db, "--today", early));
  const fields = stored(db);
  const cut = path.join(directory, "cut.db");
  let found = 0;
  let whole = 1000; // learnt from runs that ended before their kill came
  for (let i = 0; found < 3 && i < 300; i++) {
    for (const end of ["", "-wal", "-shm"]) rmSync(cut + end, { force: true });
    copyFileSync(db, cut);
    const { killed, after } = await killedAfter(whole * ((i * 0.618034) % 1), "morning", "--db", cut, "--today", late, "--at-once", "1");
    if (!killed) whole = Math.min(whole, after);
    if (!killed || stored(cut) === fields || stored(cut) === 2 * fields) continue;
    found++;
    assert.deepEqual(today(cut), today(db));
    ok(waterturn("morning", "--db", cut, "--today", early, "--stored"));
    assert.deepEqual(calls(cut), calls(db));
    assert.equal(stored(cut), fields);
  }
  assert.equal(found, 3, "no run was killed between two parts");
});

for (const options of [[], ["--at-once", "1"]])
test(`a morning that is killed anywhere and run again leaves what one clean run leaves${options.length > 0 ? ", also in a part for each field" : ""}`, async (t) => {
  const { farm, db, directory } = await demo(t);
  ok(waterturn("import", farm, "--db", db));
  const start = path.join(directory, "start.db");
  copyFileSync(db, start);
  assert.ok(!existsSync(`${db}-wal`), "the import leaves one file");
  ok(waterturn("morning", "--db", db, "--today", DEMO_DAY));
  const clean = dump(db);

  let killed = 0;
  let whole = 1000; // learnt from runs that ended before their kill came
  const states = new Set();
  for (let i = 0; killed < 40 && i < 400; i++) {
    const cut = path.join(directory, `cut${i}.db`);
    copyFileSync(start, cut);
    const { killed: cutShort, after } = await killedAfter(whole * ((i * 0.618034) % 1), "morning", "--db", cut, "--today", DEMO_DAY, ...options);
    if (!cutShort) {
      whole = Math.min(whole, after);
      continue;
    }
    killed++;
    states.add(dump(cut));
    ok(waterturn("morning", "--db", cut, "--today", DEMO_DAY));
    assert.equal(dump(cut), clean, `killed in run ${i}`);
  }
  console.log(`# measured ${killed} runs were killed before their end, and left ${states.size} different states`);
  assert.equal(killed, 40);
});

test("running the same morning twice changes nothing more", async (t) => {
  const { farm, db } = await demo(t);
  ok(waterturn("import", farm, "--db", db));
  ok(waterturn("morning", "--db", db, "--today", DEMO_DAY));
  const before = dump(db);
  ok(waterturn("morning", "--db", db, "--today", DEMO_DAY));
  assert.equal(dump(db), before);
});

test("a morning of an earlier day leaves what it would have left then", async (t) => {
  const { farm, db, directory } = await demo(t);
  const early = path.join(directory, "early.db");
  ok(waterturn("import", farm, "--db", db));
  ok(waterturn("import", farm, "--db", early));
  ok(waterturn("morning", "--db", early, "--today", "2026-06-20"));
  ok(waterturn("morning", "--db", db, "--today", "2026-06-20"));
  ok(waterturn("morning", "--db", db, "--today", DEMO_DAY));
  ok(waterturn("morning", "--db", db, "--today", "2026-06-20", "--stored"));
  const calls = (file) => ok(waterturn("call", "--db", file, "--today", "2026-06-20", "--csv"));
  assert.equal(calls(db), calls(early));
});

// Each spoils the observed weather in a way that a person meets; the message must say where and what.
const spoilt = [
  {
    name: "a weather file cut in the middle",
    spoil: (text) => text.slice(0, Math.floor(text.length / 2) - 7),
    says: /observed\.csv.*(row|line|:\d+).*expected/s,
  },
  {
    name: "an HTML error page in place of CSV",
    spoil: () => "<!DOCTYPE html>\n<html><head><title>Sign in</title></head><body>Session expired</body></html>\n",
    says: /observed\.csv.*(HTML|web page).*expected/is,
  },
];

for (const { name, spoil, says } of spoilt) {
  test(`${name}: nothing of it is stored, and the last good call is still served with its age`, async (t) => {
    const { farm, db, weather } = await demo(t);
    ok(waterturn("import", farm, "--db", db));
    // On the 12th the file has the days up to the 11th.
    const observed = path.join(weather, "observed.csv");
    const whole = readFileSync(observed, "utf8");
    writeFileSync(observed, whole.slice(0, whole.indexOf("2026-07-12")));
    ok(waterturn("morning", "--db", db, "--today", "2026-07-12"));
    const days = (text) => text.split("table ").find((part) => part.startsWith("weather\n"));
    const before = days(dump(db));
    writeFileSync(observed, spoil(whole));
    writeFileSync(path.join(weather, "forecast.csv"), "not a forecast");
    const run = waterturn("morning", "--db", db, "--today", DEMO_DAY);
    assert.equal(run.status, 0, "the calls go on from what is stored");
    assert.match(run.stderr, says);
    assert.equal(days(dump(db)), before);
    const page = ok(waterturn("call", "--db", db, "--today", DEMO_DAY));
    assert.match(page, /North pivot\n {4}\S/);
    assert.match(page, /valley station/, "the source that fails is named");
    const [call] = csvRows(ok(waterturn("call", "--db", db, "--today", DEMO_DAY, "--csv")));
    assert.equal(call.weather_until, "2026-07-11");
  });
}
