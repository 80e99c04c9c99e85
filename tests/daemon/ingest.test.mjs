// Weather that is late, wrong or gone: the morning end to end, against a file server that fails when it is told to.
import assert from "node:assert/strict";
import { chmodSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { gzipSync } from "node:zlib";
import { csvRows, dump, firstLine, root, scratch, serveFiles, startWaterturn, unmade, waterturn } from "../support/program.mjs";

const DAY_MS = 86400e3;
const shift = (date, days) => new Date(Date.parse(date) + days * DAY_MS).toISOString().slice(0, 10);
const dayNumber = (date) => Date.parse(date) / DAY_MS;
const mornings = (first, last) => Array.from({ length: dayNumber(last) - dayNumber(first) + 1 }, (_, i) => shift(first, i));

// The demo's own weather: what was observed, and what then came.
const read = (name) => readFileSync(path.join(root, "fixtures/demo/weather", name), "utf8").trim().split("\n");
const [header, ...observed] = read("observed.csv");
const truth = [...observed, ...read("later.csv").slice(1)];

function ok(done) {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
}

/** A farm of one field whose weather is served from a directory of its own. */
async function farm(t, { template = false, forecast = true, stations, sources, since } = {}) {
  const directory = scratch(t);
  const weather = path.join(directory, "weather");
  mkdirSync(weather);
  const server = await serveFiles(t, weather);
  const address = template ? `${server}/days?file=observed.csv&start={start}&end={end}` : `${server}/observed.csv`;
  const yard = { name: "yard", latitude: 38.2, longitude: -98.6, elevation: "512 m" };
  const book = {
    farm: { name: "Test farm" },
    stations: stations?.(yard) ?? [yard],
    sources: sources?.(server) ?? [
      { name: "gauge", station: "yard", layout: "plain", address, kind: "observed", ...(since && { since }) },
      ...(forecast ? [{ name: "ahead", station: "yard", layout: "plain", address: `${server}/forecast.csv`, kind: "forecast" }] : []),
    ],
    soils: [{ name: "loam", texture: "loam" }],
    fields: [{ name: "Plot", station: "yard", soil: "loam", area: "10 ha", system: { kind: "centre pivot", flow: "100 m3/h" } }],
    plantings: [{ field: "Plot", crop: "maize, grain", planted: "2026-05-01" }],
  };
  const file = path.join(directory, "farm.json");
  writeFileSync(file, JSON.stringify(book));
  const db = path.join(directory, "farm.db");
  ok(waterturn("import", file, "--db", db));
  return { directory, weather, server, file, db };
}

/** What a station has published by a morning, and what is forecast from then on. */
function publish(weather, today) {
  writeFileSync(path.join(weather, "observed.csv"), [header, ...truth.filter((row) => row.slice(0, 10) < today), ""].join("\n"));
  const ahead = truth.filter((row) => row.slice(0, 10) >= today && row.slice(0, 10) < shift(today, 10));
  writeFileSync(path.join(weather, "forecast.csv"), [header, ...ahead, ""].join("\n"));
}

const fail = (weather, name, status) => writeFileSync(path.join(weather, `${name}.fails`), String(status));
const mend = (weather, name) => rmSync(path.join(weather, `${name}.fails`));
const morning = (db, today, ...more) => waterturn("morning", "--db", db, "--today", today, "--tries", "1", ...more);
const call = (db, today) => JSON.parse(ok(waterturn("call", "--db", db, "--today", today, "--json"))).fields[0];
const ledger = (db, today) => csvRows(ok(waterturn("ledger", "Plot", "--db", db, "--today", today, "--csv")));
const sourcesOf = (db, today) => JSON.parse(ok(waterturn("sources", "--db", db, "--today", today, "--json"))).sources;

/** The rows of one table of a dump, each a list of cells. */
function table(db, name) {
  const section = new RegExp(`^table ${name}\n((?:(?!table ).*\n)*)`, "m").exec(dump(db));
  return section[1].trim().split("\n").filter(Boolean).map((row) => row.split(" | "));
}

for (const [kind, options] of Object.entries({
  "one file": {},
  "days that are asked for": { template: true },
  "days that are asked for, without a forecast": { template: true, forecast: false },
})) {
  test(`a source that was down for ten days leaves the ledger it would have left had it never been away (${kind})`, async (t) => {
    const first = "2026-06-28", last = "2026-07-12";
    const [downFrom, downTo] = ["2026-07-01", "2026-07-10"];
    const [steady, away] = [await farm(t, options), await farm(t, options)];
    for (const today of mornings(first, last)) {
      for (const one of [steady, away]) publish(one.weather, today);
      if (today === downFrom) fail(away.weather, "observed.csv", 503);
      if (today === shift(downTo, 1)) mend(away.weather, "observed.csv");
      ok(morning(steady.db, today));
      const run = morning(away.db, today);
      ok(run);
      if (today < downFrom || today > downTo) continue;
      assert.match(run.stderr, /503/);
      assert.equal(call(away.db, today).weather_until, shift(downFrom, -2), "the age is stated");
      const late = sourcesOf(away.db, today).find((source) => source.name === "gauge");
      assert.equal(late.state, "failing");
      assert.equal(late.lag_days, dayNumber(today) - dayNumber(downFrom) + 1);
    }
    assert.deepEqual(table(away.db, "ledger"), table(steady.db, "ledger"));
    assert.deepEqual(table(away.db, "ahead"), table(steady.db, "ahead"));
    assert.equal(call(away.db, last).sentence, call(steady.db, last).sentence);
    const replayed = options.template ? null : unmade(ok(waterturn("replay", away.file, "--today", last, "--field", "Plot", "--csv")));
    if (replayed) assert.equal(ok(waterturn("ledger", "Plot", "--db", away.db, "--today", last, "--csv")), replayed);
  });
}

test("while a source is down the calls go on with the forecast, and say so day by day", async (t) => {
  const one = await farm(t);
  publish(one.weather, "2026-07-01");
  ok(morning(one.db, "2026-07-01"));
  fail(one.weather, "observed.csv", 500);
  for (const today of mornings("2026-07-02", "2026-07-11")) ok(morning(one.db, today));
  const field = call(one.db, "2026-07-11");
  assert.notEqual(field.call, "cannot_say");
  assert.ok(field.notes.some((note) => note.includes("until")), field.notes.join("; "));
  assert.ok(field.notes.some((note) => note.includes("from the forecast")), field.notes.join("; "));
  for (const row of ledger(one.db, "2026-07-11"))
    assert.equal(row.temperature_origin, row.date < "2026-07-01" ? "measured" : "forecast", row.date);
});

test("without a forecast the days are made up from the newest ones, rain is missing, and the call names it", async (t) => {
  const one = await farm(t, { forecast: false });
  publish(one.weather, "2026-07-01");
  ok(morning(one.db, "2026-07-01"));
  fail(one.weather, "observed.csv", 500);
  ok(morning(one.db, "2026-07-06"));
  const rows = ledger(one.db, "2026-07-06");
  assert.equal(rows.at(-1).date, "2026-07-05");
  assert.equal(rows.at(-1).temperature_origin, "climatology");
  assert.equal(rows.at(-1).rain_origin, "missing");
  assert.equal(call(one.db, "2026-07-06").call, "cannot_say");
  const [gauge] = sourcesOf(one.db, "2026-07-06");
  assert.match(gauge.stops, /Rain/);
});

test("past years of the station's own tell what is usual, once there are enough", async (t) => {
  const one = await farm(t, { forecast: false });
  const years = [];
  for (let year = 2019; year <= 2025; year++)
    for (let day = 0; day < 365; day++) years.push(`${shift(`${year}-01-01`, day)},30,14,90,40,2,25,0`);
  writeFileSync(path.join(one.weather, "observed.csv"), [header, ...years, ...truth.filter((row) => row < "2026-07-01"), ""].join("\n"));
  ok(morning(one.db, "2026-07-04"));
  const last = ledger(one.db, "2026-07-04").at(-1);
  assert.equal(last.temperature_origin, "climatology");
  // All past summers were the same, so the reference evapotranspiration of a made-up day is that of such a day. The same
  // program computes both: this checks where the values come from, not the equation.
  const file = path.join(one.directory, "usual.csv");
  writeFileSync(file, `${header}\n2026-07-03,30,14,90,40,2,25,0\n`);
  const [usual] = csvRows(ok(waterturn("et0", file, "--lat", "38.2", "--elev", "512")));
  assert.ok(Math.abs(Number(last.et0_mm) - Number(usual.et0_mm)) < 1e-3, `${last.et0_mm} ${usual.et0_mm}`);
});

test("only the days that are missing are asked for, with the newest ones again for their corrections", async (t) => {
  const one = await farm(t, { template: true, forecast: false });
  publish(one.weather, "2026-06-20");
  ok(morning(one.db, "2026-06-20"));
  publish(one.weather, "2026-06-21");
  ok(morning(one.db, "2026-06-21"));
  const spans = table(one.db, "fetch").map((row) => row.slice(3, 6).map(Number));
  // Fourteen days before the planting of 1 May; then what is younger than five days, which is still to settle, and the
  // settled day before it.
  assert.deepEqual(spans, [
    [dayNumber("2026-06-20"), dayNumber("2026-04-17"), dayNumber("2026-06-19")],
    [dayNumber("2026-06-21"), dayNumber("2026-06-15"), dayNumber("2026-06-20")],
  ]);
});

test("a service that publishes late is late, and not failing", async (t) => {
  const one = await farm(t, { template: true, forecast: false });
  publish(one.weather, "2026-06-12");
  for (const today of mornings("2026-06-19", "2026-06-22")) {
    const run = morning(one.db, today);
    ok(run);
    assert.equal(run.stderr, "");
  }
  const [gauge] = sourcesOf(one.db, "2026-06-22");
  assert.equal(gauge.state, "late");
  assert.equal(gauge.lag_days, 10);
});

test("files of whole years are asked for as far as days are missing", async (t) => {
  const one = await farm(t, {
    sources: (server) => [{ name: "years", station: "yard", layout: "plain", address: `${server}/{year}.csv`, kind: "observed", since: "2024-12-30" }],
  });
  for (const year of [2024, 2025, 2026]) {
    const rows = Array.from({ length: 365 }, (_, day) => `${shift(`${year}-01-01`, day)},30,14,90,40,2,25,0`).filter((row) => row < "2026-06-20");
    writeFileSync(path.join(one.weather, `${year}.csv`), [header, ...rows, ""].join("\n"));
  }
  ok(morning(one.db, "2026-06-20"));
  ok(morning(one.db, "2026-06-21"));
  const count = async (year) => Number(await (await fetch(`${one.server}/count?file=${year}.csv`)).text());
  // The one day that 2024 lacks, its last, is given up: it was asked for long after.
  assert.deepEqual(await Promise.all([2024, 2025, 2026].map(count)), [1, 1, 2]);
  assert.equal(sourcesOf(one.db, "2026-06-21")[0].state, "late");
});

test("a correction takes the place of a provisional value, and its day is computed anew", async (t) => {
  const one = await farm(t, { forecast: false });
  publish(one.weather, "2026-06-20");
  ok(morning(one.db, "2026-06-20"));
  const before = ledger(one.db, "2026-06-20");
  const corrected = truth.map((row) => (row.startsWith("2026-06-10") ? "2026-06-10,35.0,20.0,80,30,3.0,28.0,12.5" : row));
  writeFileSync(path.join(one.weather, "observed.csv"), [header, ...corrected.filter((row) => row < "2026-06-20"), ""].join("\n"));
  assert.match(ok(morning(one.db, "2026-06-20")), / 1 day of weather new or changed/);
  const after = ledger(one.db, "2026-06-20");
  const at = after.findIndex((row) => row.date === "2026-06-10");
  assert.deepEqual(after.slice(0, at), before.slice(0, at));
  assert.equal(after[at].rain_mm, "12.5");
  assert.notEqual(after.at(-1).depletion_mm, before.at(-1).depletion_mm);
});

test("the hours of a day that has not ended are no observation, also when the source is gone the next morning", async (t) => {
  const one = await farm(t, { forecast: false });
  // The file of the morning has a first, much too cold, row of that very day.
  writeFileSync(path.join(one.weather, "observed.csv"), [header, ...truth.filter((row) => row < "2026-06-20"), "2026-06-20,9.0,8.0,90,80,1.0,1.0,0", ""].join("\n"));
  ok(morning(one.db, "2026-06-20"));
  fail(one.weather, "observed.csv", 404);
  ok(morning(one.db, "2026-06-21"));
  const last = ledger(one.db, "2026-06-21").at(-1);
  assert.equal(last.date, "2026-06-20");
  assert.equal(last.temperature_origin, "climatology");
  mend(one.weather, "observed.csv");
  publish(one.weather, "2026-06-22");
  ok(morning(one.db, "2026-06-22"));
  assert.equal(ledger(one.db, "2026-06-22").find((row) => row.date === "2026-06-20").temperature_origin, "measured");
});

test("a file that did not change is not sent again, and its later days count as they end", async (t) => {
  const one = await farm(t, { forecast: false });
  writeFileSync(path.join(one.weather, "observed.csv"), [header, ...truth, ""].join("\n"));
  ok(morning(one.db, "2026-06-20"));
  ok(morning(one.db, "2026-06-23"));
  const fetches = table(one.db, "fetch");
  assert.equal(fetches.length, 1);
  assert.equal(Number(fetches[0].at(-1)), dayNumber("2026-06-23"), "confirmed");
  assert.equal(ledger(one.db, "2026-06-23").at(-1).date, "2026-06-22");
  assert.equal(ledger(one.db, "2026-06-23").at(-1).temperature_origin, "measured");
});

test("the same forecast on another morning is another issue, and its age is that of its first", async (t) => {
  const one = await farm(t);
  publish(one.weather, "2026-07-01");
  ok(morning(one.db, "2026-07-01"));
  ok(morning(one.db, "2026-07-01"));
  ok(morning(one.db, "2026-07-02"));
  const [, ahead] = table(one.db, "source").map((row) => row[0]);
  const issues = table(one.db, "fetch").filter((row) => row[1] === ahead).map((row) => Number(row[3]));
  assert.deepEqual(issues, [dayNumber("2026-07-01"), dayNumber("2026-07-02")]);
  assert.equal(call(one.db, "2026-07-02").forecast_issued, "2026-07-01");
});

test("a neighbour fills what the station lacks, before the forecast does, and the ledger says so", async (t) => {
  const one = await farm(t, {
    stations: (yard) => [{ ...yard, neighbours: ["ridge"], lapse_rate: 5 }, { ...yard, name: "ridge", elevation: "1012 m" }],
    sources: (server) => [
      { name: "gauge", station: "yard", layout: "plain", address: `${server}/observed.csv`, kind: "observed" },
      { name: "ridge gauge", station: "ridge", layout: "plain", address: `${server}/ridge.csv`, kind: "observed" },
      { name: "ahead", station: "yard", layout: "plain", address: `${server}/forecast.csv`, kind: "forecast" },
    ],
  });
  publish(one.weather, "2026-07-01");
  writeFileSync(path.join(one.weather, "ridge.csv"), [header, ...truth.filter((row) => row < "2026-07-04"), ""].join("\n"));
  ok(morning(one.db, "2026-07-01"));
  ok(morning(one.db, "2026-07-05"));
  const origins = ledger(one.db, "2026-07-05").slice(-5).map((row) => `${row.date} ${row.temperature_origin} ${row.rain_origin}`);
  assert.deepEqual(origins, [
    "2026-06-30 measured measured",
    "2026-07-01 neighbour neighbour",
    "2026-07-02 neighbour neighbour",
    "2026-07-03 neighbour neighbour",
    "2026-07-04 forecast forecast",
  ]);
  // A correction at the neighbour reaches the ledgers that rest on it.
  const row = truth.find((line) => line.startsWith("2026-07-02")).split(",");
  row[7] = "21.0";
  writeFileSync(path.join(one.weather, "ridge.csv"), [header, ...truth.filter((line) => line < "2026-07-04").map((line) => (line.startsWith("2026-07-02") ? row.join(",") : line)), ""].join("\n"));
  ok(morning(one.db, "2026-07-05"));
  assert.equal(ledger(one.db, "2026-07-05").at(-3).rain_mm, "21");
});

test("a service that asks for patience is left alone until then", async (t) => {
  const one = await farm(t, { forecast: false });
  publish(one.weather, "2026-06-20");
  ok(morning(one.db, "2026-06-19"));
  fail(one.weather, "observed.csv", 429);
  ok(morning(one.db, "2026-06-20"));
  const asked = async () => Number(await (await fetch(`${one.server}/count?file=observed.csv`)).text());
  const before = await asked();
  // A morning that is given is an instant that is given: it is the same a second time, within the seven seconds.
  assert.match(morning(one.db, "2026-06-20").stderr, /asked not to be tried again before/);
  assert.equal(await asked(), before);
  mend(one.weather, "observed.csv");
  ok(morning(one.db, "2026-06-21"));
  assert.equal(sourcesOf(one.db, "2026-06-21")[0].trouble, "");
});

test("keys and logins come from a file that only its owner reads, and are nowhere else", async (t) => {
  const secret = "s3cr3t+key/value", password = "open&sesame";
  const one = await farm(t, {
    sources: (server) => [
      { name: "keyed", station: "yard", layout: "plain", address: `${server}/observed.csv?appid={key}`, kind: "observed" },
      { name: "login", station: "yard", layout: "plain", address: `${server}/forecast.csv`, kind: "forecast" },
    ],
  });
  publish(one.weather, "2026-07-01");
  const file = path.join(one.directory, "credentials.json");
  writeFileSync(file, JSON.stringify({ keyed: { key: secret }, login: { user: "farm", password } }));
  chmodSync(file, 0o644);
  const refused = morning(one.db, "2026-07-01", "--credentials", file);
  assert.equal(refused.status, 1);
  assert.match(refused.stderr, /chmod 600/);
  chmodSync(file, 0o600);
  const seen = [refused.stdout, refused.stderr];
  const without = morning(one.db, "2026-07-01");
  assert.match(without.stderr, /the credentials file has no key of "keyed"/);
  const run = morning(one.db, "2026-07-01", "--credentials", file);
  ok(run);
  assert.equal(run.stderr, "");
  for (const name of ["observed.csv", "forecast.csv"]) fail(one.weather, name, 403);
  const failed = morning(one.db, "2026-07-02", "--credentials", file);
  assert.match(failed.stderr, /403/);
  for (const done of [without, run, failed]) seen.push(done.stdout, done.stderr);
  seen.push(dump(one.db), ok(waterturn("export", "--db", one.db)), ok(waterturn("sources", "--db", one.db, "--json")), readFileSync(one.db, "latin1"));
  for (const text of seen)
    for (const value of [secret, encodeURIComponent(secret), password]) assert.ok(!text.includes(value), "a secret got out");
});

test("a key is not sent in the clear beyond this machine", async (t) => {
  const one = await farm(t, { forecast: false, sources: () => [{ name: "keyed", station: "yard", layout: "plain", address: "http://weather.invalid/days.csv?appid={key}", kind: "observed" }] });
  const file = path.join(one.directory, "credentials.json");
  writeFileSync(file, JSON.stringify({ keyed: { key: "s3cret" } }), { mode: 0o600 });
  const done = morning(one.db, "2026-07-01", "--credentials", file);
  assert.match(done.stderr, /found \{key\} in an address of http:\/\/, expected https:\/\/, so that nobody on the way reads the key of "keyed"; it was not asked/);
});

test("what is odd about a source's values is told with its day, and the page says the same as the command", async (t) => {
  const one = await farm(t, { forecast: false });
  const rows = truth.filter((row) => row < "2026-07-01").map((row) => (row.startsWith("2026-06-25") ? "2026-06-25,31.0,18.0,95,50,0.0,24.0,0.0" : row));
  writeFileSync(path.join(one.weather, "observed.csv"), [header, ...rows.filter((row) => !row.startsWith("2026-06-1")), ""].join("\n"));
  ok(morning(one.db, "2026-07-01"));
  const [gauge] = sourcesOf(one.db, "2026-07-01");
  assert.deepEqual(gauge.findings.map(({ kind, value, newest, used }) => ({ kind, value, newest, used })), [{ kind: "wind_stuck", value: "wind_m_s", newest: "2026-06-25", used: false }]);
  assert.deepEqual(gauge.gaps.map(({ first, last }) => [first, last]), [["2026-06-10", "2026-06-19"]]);
  assert.equal(gauge.gap_days, 10);
  assert.equal(gauge.state, "current");

  const server = startWaterturn(["serve", "--db", one.db, "--listen", "127.0.0.1:0", "--today", "2026-07-01"]);
  t.after(() => server.kill("SIGTERM"));
  const address = /http:\S+/.exec(await firstLine(server))[0];
  const api = await (await fetch(`${address}api/sources`)).json();
  assert.deepEqual(api.sources, [gauge]);
  const page = await (await fetch(`${address}sources`)).text();
  for (const text of [gauge.means, gauge.findings[0].text, gauge.gaps[0].text]) assert.ok(page.includes(text.replaceAll("&", "&amp;")), text);
  const spanish = await (await fetch(`${address}sources?lang=es`)).text();
  assert.ok(spanish.includes("Los avisos se basan en lo que midió."));
});

test("layout try shows what is understood, names the layout that fits, and refuses with the place", (t) => {
  const directory = scratch(t);
  const file = path.join(directory, "days.csv");
  writeFileSync(file, [header, ...truth.slice(0, 9), ""].join("\n"));
  const shown = ok(waterturn("layout", "try", file));
  assert.match(shown, /fits best is plain: 9 days, 63 values/);
  assert.match(shown, /2026-03-01 +17\.2 +4 +90 +37 +2\.9 +18\.5 +0/);
  assert.match(shown, /and 2 days more/);
  const wrong = waterturn("layout", "try", file, "--layout", "planin");
  assert.equal(wrong.status, 1);
  assert.match(wrong.stderr, /planin.*plain/s);
  writeFileSync(file, `${header}\n2026-03-01,17.2,oops,90,37,2.9,18.5,0.0\n`);
  writeFileSync(`${file}.gz`, gzipSync(readFileSync(file)));
  const packed = waterturn("layout", "try", `${file}.gz`);
  assert.equal(packed.status, 1);
  assert.match(packed.stderr, /found a gzip file, expected plain text in UTF-8\n$/);
  const refused = waterturn("layout", "try", file, "--layout", "plain");
  assert.equal(refused.status, 1);
  assert.match(refused.stderr, /days\.csv:2:.*oops/);
});

test("a weather file beside the farm file is found wherever the program is started", (t) => {
  const directory = scratch(t);
  const db = path.join(directory, "farm.db"), file = path.join(directory, "farm.json");
  writeFileSync(path.join(directory, "days.csv"), [header, ...observed, ""].join("\n"));
  writeFileSync(file, JSON.stringify({
    farm: { name: "Files" },
    stations: [{ name: "yard", latitude: 38.2, longitude: -98.6, elevation: "512 m" }],
    sources: [{ name: "log", station: "yard", layout: "plain", address: "file:days.csv", kind: "observed" }],
  }));
  ok(waterturn("import", "farm.json", "--db", db, { cwd: directory }));
  const run = waterturn("morning", "--db", db, "--today", "2026-07-14", { cwd: "/" });
  assert.match(ok(run), new RegExp(`1 of 1 sources read, ${observed.length} days`));
  assert.equal(run.stderr, "");
});
