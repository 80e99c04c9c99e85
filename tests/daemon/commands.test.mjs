// The commands as a person types them: exit status, what is printed, what is refused and left alone.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, csvRows, demoFarm, demoWeather, dump, firstLine, program, root, scratch, startWaterturn, waterturn } from "../support/program.mjs";

const commands = ["serve", "morning", "call", "ledger", "et0", "replay", "trial", "sweep", "fit", "import", "export", "check"];

test("every command has its help, which names its options", () => {
  const all = waterturn("--help");
  assert.equal(all.status, 0);
  for (const command of commands) {
    assert.match(all.stdout, new RegExp(`^ {2}${command} `, "m"));
    const help = waterturn(command, "--help");
    assert.equal(help.status, 0);
    assert.match(help.stdout, new RegExp(`^usage: waterturn ${command}`));
  }
});

test("a wrong command line exits with 2, says what was found, and points at the help", () => {
  for (const [args, says] of [
    [[], /usage: waterturn COMMAND/],
    [["water"], /found the command water/],
    [["call", "--dbb", "x"], /found the option --dbb/],
    [["call", "--db"], /found --db at the end, expected FILE/],
    [["call", "--today", "2026-02-30"], /found 2026-02-30, expected a date/],
    [["ledger"], /expected FIELD/],
    [["check", "a", "b"], /one argument too many: b/],
    [["et0", "x.csv", "--lat", "91", "--elev", "10"], /--lat: found 91, expected a number from -90 to 90/],
    [["et0", "x.csv"], /--lat: found nothing/],
  ]) {
    const done = waterturn(...args, { env: { WATERTURN_DB: path.join(root, "fixtures/no.db") } });
    if (args.includes("2026-02-30")) {
      assert.notEqual(done.status, 0);
      continue;
    }
    assert.equal(done.status, 2, args.join(" "));
    assert.match(done.stderr, says);
    assert.equal(done.stdout, "");
  }
});

test("a database that is not there is named, with what makes one", (t) => {
  const db = path.join(scratch(t), "none.db");
  const done = waterturn("call", "--db", db);
  assert.equal(done.status, 1);
  assert.match(done.stderr, /none\.db: found no database here .*waterturn import/);
});

test("another program's SQLite file is refused and left as it was", (t) => {
  const directory = scratch(t);
  const db = path.join(directory, "other.db");
  // A text file first, then a database that lacks our mark.
  writeFileSync(db, "not a database, but long enough to hold a header of one hundred bytes and some more to be sure of it.\n".repeat(20));
  const before = readFileSync(db);
  const done = waterturn("import", demoFarm(directory, "http://127.0.0.1:9"), "--db", db);
  assert.equal(done.status, 1);
  assert.match(done.stderr, /other\.db/);
  assert.deepEqual(readFileSync(db), before);
});

// FAO-56 Example 18: Uccle, 6 July; 50 deg 48 min N, 100 m; Tmax 21.5, Tmin 12.3, RHmax 84, RHmin 63, wind at 10 m
// 10 km/h, sunshine 9.25 h; ET0 printed 3.88, here 3.9 of the printed rounding. The value as printed.
test("et0 gives FAO-56 Example 18 to the printed digits and tells where each input came from", (t) => {
  const file = path.join(scratch(t), "uccle.csv");
  writeFileSync(file, `date,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s,sun_h\n2023-07-06,21.5,12.3,84,63,${10 / 3.6},9.25\n`);
  const done = waterturn("et0", file, "--lat", "50.8", "--elev", "100", "--wind-height", "10");
  assert.equal(done.status, 0, done.stderr);
  const [row] = csvRows(done.stdout);
  assert.equal(Number(row.et0_mm).toFixed(2), "3.88");
  assert.deepEqual({ ...row, et0_mm: 0 }, { date: "2023-07-06", et0_mm: 0, status: "ok", tmean: "half_sum", humidity: "ea_rh_max_min", radiation: "rs_sunshine", wind: "wind_log_profile", et0_from: "day" });
});

test("et0 of a day without temperatures is empty and says so", (t) => {
  const file = path.join(scratch(t), "gap.csv");
  writeFileSync(file, "date,tmax_c,tmin_c,rain_mm\n2023-07-06,21.5,12.3,0\n2023-07-07,,,4\n");
  const rows = csvRows(waterturn("et0", file, "--lat", "50.8", "--elev", "100").stdout);
  assert.equal(rows[0].humidity, "ea_tmin");
  assert.equal(rows[0].wind, "wind_default");
  assert.equal(rows[1].et0_mm, "");
  assert.equal(rows[1].status, "missing");
});

test("et0 reads standard input and refuses a header that it does not know", () => {
  const done = waterturn("et0", "-", "--lat", "10", "--elev", "0", { input: "date,tmax,tmin_c\n2023-07-06,21.5,12.3\n" });
  assert.equal(done.status, 1);
  assert.match(done.stderr, /tmax.*tmax_c/s);
  assert.equal(done.stdout, "");
});

function spoiltFarm(directory, from, to) {
  const farm = demoFarm(directory, "http://127.0.0.1:9");
  const text = readFileSync(farm, "utf8");
  assert.ok(text.includes(from), from);
  writeFileSync(farm, text.replace(from, to));
  return farm;
}

for (const [name, from, to, says] of [
  ["a wrong unit", '"flow": "280 m3/h"', '"flow": "280 mm/h"', /farm\.json:\d+:\d+: supplies\[0\]\.flow: found "280 mm\/h", expected .*flow/],
  ["an unknown key", '"hours_per_day": "22 h"', '"hours_per_dya": "22 h"', /farm\.json:\d+:\d+: .*hours_per_dya.*hours_per_day/],
  ["a negative area", /"area": "/.exec(readFileSync(path.join(root, "fixtures/demo/farm.json"), "utf8"))[0], '"area": "-', /farm\.json:\d+:\d+: fields\[0\]\.area: found "?-.*expected/],
]) {
  test(`a farm file with ${name} is refused with its place, and nothing is written`, (t) => {
    const directory = scratch(t);
    const db = path.join(directory, "farm.db");
    assert.equal(waterturn("import", demoFarm(directory, "http://127.0.0.1:9"), "--db", db).status, 0);
    const before = dump(db);
    const farm = spoiltFarm(directory, from, to);
    const done = waterturn("import", farm, "--db", db);
    assert.equal(done.status, 1);
    assert.match(done.stderr, says);
    assert.equal(dump(db), before);
    assert.equal(waterturn("check", farm).status, 1);
  });
}

test("export then import gives the same database, and the same export", (t) => {
  const directory = scratch(t);
  const farm = demoFarm(directory, "http://127.0.0.1:9");
  const [first, second] = ["first", "second"].map((name) => path.join(directory, `${name}.db`));
  assert.equal(waterturn("import", farm, "--db", first).status, 0);
  const exported = path.join(directory, "exported.json");
  assert.equal(waterturn("export", exported, "--db", first).status, 0);
  const again = waterturn("import", exported, "--db", second);
  assert.equal(again.status, 0, again.stderr);
  assert.equal(waterturn("export", "--db", second).stdout, readFileSync(exported, "utf8"));
  // The same file once more adds no record twice.
  assert.equal(waterturn("import", exported, "--db", second).status, 0);
  assert.equal(waterturn("export", "--db", second).stdout, readFileSync(exported, "utf8"));
});

test("a field with records is not dropped by an import that lacks it, unless told so", (t) => {
  const directory = scratch(t);
  const db = path.join(directory, "farm.db");
  assert.equal(waterturn("import", demoFarm(directory, "http://127.0.0.1:9"), "--db", db).status, 0);
  const small = path.join(root, "config/waterturn.json");
  const before = dump(db);
  const done = waterturn("import", small, "--db", db);
  assert.equal(done.status, 1);
  assert.match(done.stderr, /North pivot: found \d+ records of this field/);
  assert.equal(dump(db), before);
  assert.equal(waterturn("import", small, "--replace", "--db", db).status, 0);
  assert.doesNotMatch(dump(db), /North pivot/);
});

test("a morning of one field counts one field; of a day without calls no rain is said to have been waited for", (t) => {
  const directory = scratch(t), db = path.join(directory, "farm.db"), file = path.join(directory, "one.json");
  writeFileSync(file, readFileSync(path.join(root, "README.md"), "utf8").split("## A farm file")[1].match(/^(?: {4}.*\n)+/m)[0].replace("https://example.org", "http://127.0.0.1:9"));
  assert.equal(waterturn("import", file, "--db", db).status, 0);
  assert.match(waterturn("morning", "--db", db, "--today", DEMO_DAY, "--tries", "1").stdout, /0 days of weather new or changed; 1 field, 1 planting$/m);
  assert.match(waterturn("hindsight", "--db", db, "--today", "2026-06-01").stdout, /^No calls were made on these days\.$/m);
  assert.match(waterturn("turns", "--db", db, "--today", DEMO_DAY).stdout, /or their\s+calls\s+cannot be said/);
});

test("a farm without weather is not told that no field needs water", (t) => {
  const directory = scratch(t), db = path.join(directory, "farm.db");
  assert.equal(waterturn("import", demoFarm(directory, "http://127.0.0.1:9"), "--db", db).status, 0);
  assert.equal(waterturn("morning", "--db", db, "--today", DEMO_DAY, "--tries", "1").status, 0);
  const called = waterturn("call", "--db", db, "--today", DEMO_DAY);
  assert.equal(called.status, 0);
  assert.match(called.stdout, /^No field is known to need water today\n9 fields need data first\.$/m);
});

test("nothing that is written out takes the place of a database", (t) => {
  const directory = scratch(t), db = path.join(directory, "farm.db"), file = demoFarm(directory, "file:weather");
  demoWeather(directory);
  assert.equal(waterturn("import", file, "--db", db).status, 0);
  const before = readFileSync(db);
  for (const args of [["export", db, "--db", db], ["replay", file, "--out", db], ["sweep", file, "--field", "Long rows", "--out", db]]) {
    const done = waterturn(...args);
    assert.notEqual(done.status, 0, args.join(" "));
    assert.deepEqual(readFileSync(db), before, args.join(" "));
    if (args[0] === "export") assert.match(done.stderr, /farm\.db: found a database, expected another file to write to; it was not changed/);
  }
});

test("layout try refuses the size of file that a morning refuses", (t) => {
  const file = path.join(scratch(t), "big.csv");
  writeFileSync(file, "date,tmax_c,tmin_c\n" + "2026-06-01,30,20\n".repeat(1000000));
  const done = waterturn("layout", "try", file, "--layout", "plain");
  assert.equal(done.status, 1);
  assert.match(done.stderr, /big\.csv: .*16777216/);
});

test("the sample is not replayed without the weather that it names", () => {
  const done = waterturn("replay", "config/waterturn.json");
  assert.equal(done.status, 1);
  assert.match(done.stderr, /weather\.csv/);
});

test("a file beside the database that cannot be written is told with the system's own reason", (t) => {
  const db = path.join(scratch(t), "farm.db");
  assert.equal(waterturn("import", demoFarm(path.dirname(db), "http://127.0.0.1:9"), "--db", db).status, 0);
  const done = spawnSync("sh", ["-c", `trap "" XFSZ; ulimit -f 0; exec "${program}" call --db "${db}"`], { encoding: "utf8" });
  assert.equal(done.status, 1);
  assert.match(done.stderr, /farm\.db: the database refused while .*: disk I\/O error: File too large \(SQLite's code \d+\)$/m);
});

test("doctor names the service's database where there is none, and counts one as one", (t) => {
  const done = waterturn("doctor", "--db", path.join(scratch(t), "none.db"));
  assert.equal(done.status, 1);
  assert.match(done.stdout, /NOT GOOD database .*found no database here.*\n +The service's is named by `--db \/var\/lib\/waterturn\/farm\.db`\.\n/);
  assert.match(done.stderr, /^1 of these is not good$/m);
});

test("serve prints its address, answers on loopback, and ends cleanly on SIGTERM", async (t) => {
  const directory = scratch(t);
  const db = path.join(directory, "farm.db");
  assert.equal(waterturn("import", demoFarm(directory, "http://127.0.0.1:9"), "--db", db).status, 0);
  assert.equal(waterturn("morning", "--db", db, "--today", DEMO_DAY).status, 0);
  const server = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0", "--today", DEMO_DAY]);
  t.after(() => server.kill("SIGKILL"));
  const address = /http:\S+/.exec(await firstLine(server))[0];
  const page = await fetch(address);
  assert.equal(page.status, 200);
  assert.match(await page.text(), /North pivot/);
  const ended = new Promise((resolve) => server.on("exit", (code, signal) => resolve({ code, signal })));
  server.kill("SIGTERM");
  assert.deepEqual(await ended, { code: 0, signal: null });
});
