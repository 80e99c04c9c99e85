// ET0 out of hours, end to end: files of hours, the morning, the ledger, the replay of the files and the workings, against
// FAO-56 eq. 53 written out here (chapter 4, with eqs 11, 13, 28 to 33, 37 to 40, 45, 46, 47, 54). The hours are invented.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import Ajv from "ajv/dist/2020.js";
import { reckon } from "../support/formula.mjs";
import { csvRows, root, scratch, unmade, waterturn } from "../support/program.mjs";

const SITE = { latitude: 38.2, longitude: -98.6, elevation: 512, windHeight: 3 };
const DAYS = ["2024-06-01", "2024-06-02", "2024-06-03", "2024-06-04", "2024-06-05"];
const TODAY = "2024-06-07";
const NO_WIND = "2024-06-04"; // this day lacks an hour of wind

function ok(done) {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
}

/** An hour of invented weather: mean temperature, relative humidity, wind at 3 m, radiation in W/m2. */
function weatherAt(date, hour) {
  const n = DAYS.indexOf(date), noon = Math.sin((Math.PI * (hour + 0.5 - 5.5)) / 14.5);
  const cloud = [0.95, 0.4, 0.7, 0.9, 0.8][n] * (hour > 14 ? 0.8 : 1);
  return {
    t: Number((18 + n + 9 * Math.sin((Math.PI * (hour - 9)) / 12)).toFixed(1)),
    rh: Math.round(62 - 28 * Math.sin((Math.PI * (hour - 9)) / 12)),
    wind: Number((2.2 + n / 2 + 1.7 * Math.sin((Math.PI * (hour - 10)) / 12)).toFixed(1)),
    rs: hour >= 6 && hour < 20 ? Math.round(960 * cloud * noon) : 0,
  };
}

function hoursFile() {
  const rows = DAYS.flatMap((date) => Array.from({ length: 24 }, (_, hour) => {
    const { t, rh, wind, rs } = weatherAt(date, hour);
    const gone = date === NO_WIND && hour === 11;
    return `${date}T${String(hour).padStart(2, "0")}:00,${t},${rh},${gone ? "" : wind},${rs},0`;
  }));
  return ["time,t_c,rh_pct,wind_m_s,rs_w_m2,rain_mm", ...rows, ""].join("\n");
}

// ---- FAO-56, written out

const sigma = 2.043e-10, Gsc = 0.082;
const e0 = (t) => 0.6108 * Math.exp((17.27 * t) / (t + 237.3));
const dayOfYear = (date) => Math.round((Date.parse(date) - Date.parse(`${date.slice(0, 4)}-01-01`)) / 86400e3) + 1;

/** Ra of the hour before `end` on the clock of standard time of the meridian Lz (degrees west), and the sun's height. */
function sunOf(date, middle, Lz) {
  const J = dayOfYear(date), phi = (Math.PI / 180) * SITE.latitude, Lm = -SITE.longitude;
  const dr = 1 + 0.033 * Math.cos(((2 * Math.PI) / 365) * J), delta = 0.409 * Math.sin(((2 * Math.PI) / 365) * J - 1.39);
  const b = (2 * Math.PI * (J - 81)) / 364, Sc = 0.1645 * Math.sin(2 * b) - 0.1255 * Math.cos(b) - 0.025 * Math.sin(b);
  const omega = (Math.PI / 12) * (middle + (Lz - Lm) / 15 + Sc - 12), ws = Math.acos(-Math.tan(phi) * Math.tan(delta));
  // 0.06667 of eq. 31 is 1/15. The part of the hour with sun: FAO-56 drops or keeps such an hour whole, the program does not (core/weather/sun.h).
  const w1 = Math.min(Math.max(omega - Math.PI / 24, -ws), ws), w2 = Math.min(Math.max(omega + Math.PI / 24, -ws), ws);
  const ra = ((12 * 60) / Math.PI) * Gsc * dr * ((w2 - w1) * Math.sin(phi) * Math.sin(delta) + Math.cos(phi) * Math.cos(delta) * (Math.sin(w2) - Math.sin(w1)));
  const height = Math.asin(Math.sin(phi) * Math.sin(delta) + Math.cos(phi) * Math.cos(delta) * Math.cos(omega));
  return { ra, height };
}

const clear = (rs, rso) => Math.min(1, Math.max(0.3, rs / rso));
const rsoOf = (ra) => (0.75 + 2e-5 * SITE.elevation) * ra;
const rsOf = (hour) => (hour.rs * 0.0864) / 24;

/** Rs/Rso of the last hour of a day with the sun above 0.3 rad. */
function evening(date) {
  for (let h = 23; ; h--) {
    const { ra, height } = sunOf(date, h + 0.5, 90);
    if (height >= 0.3) return clear(rsOf(weatherAt(date, h)), rsoOf(ra));
  }
}

/** Eq. 53 over a day. */
function et0Of(date) {
  let sum = 0;
  const hours = Array.from({ length: 24 }, (_, h) => weatherAt(date, h));
  const before = DAYS[DAYS.indexOf(date) - 1];
  const raDay = Array.from({ length: 24 }, (_, h) => sunOf(date, h + 0.5, 90).ra).reduce((a, b) => a + b);
  let ratio = before !== undefined && before !== NO_WIND ? evening(before) : clear(hours.map(rsOf).reduce((a, b) => a + b), rsoOf(raDay));
  for (const [h, hour] of hours.entries()) {
    const { ra, height } = sunOf(date, h + 0.5, 90), rs = rsOf(hour), ea = (hour.rh / 100) * e0(hour.t);
    if (height >= 0.3) ratio = clear(rs, rsoOf(ra));
    const rn = 0.77 * rs - sigma * (hour.t + 273.16) ** 4 * (0.34 - 0.14 * Math.sqrt(ea)) * (1.35 * ratio - 0.35);
    const G = (ra > 0 ? 0.1 : 0.5) * rn, u2 = (hour.wind * 4.87) / Math.log(67.8 * SITE.windHeight - 5.42);
    const P = 101.3 * ((293 - 0.0065 * SITE.elevation) / 293) ** 5.26, gamma = 0.000665 * P;
    const Delta = (4098 * e0(hour.t)) / (hour.t + 237.3) ** 2;
    sum += (0.408 * Delta * (rn - G) + gamma * (37 / (hour.t + 273)) * u2 * (e0(hour.t) - ea)) / (Delta + gamma * (1 + 0.34 * u2));
  }
  return sum;
}

// ---- the farm

function farm(t, station = {}, edit = (text) => text) {
  const directory = scratch(t);
  writeFileSync(path.join(directory, "hours.csv"), edit(hoursFile()));
  const book = {
    farm: { name: "Test farm", time_zone: "America/Chicago" },
    stations: [{ name: "yard", latitude: SITE.latitude, longitude: SITE.longitude, elevation: `${SITE.elevation} m`, wind_height: `${SITE.windHeight} m`, ...station }],
    sources: [{ name: "log", station: "yard", layout: "plain-hourly", address: `file:${directory}/hours.csv`, kind: "observed" }],
    soils: [{ name: "loam", texture: "loam" }],
    fields: [{ name: "Plot", station: "yard", soil: "loam", area: "10 ha", system: { kind: "centre pivot", flow: "100 m3/h" } }],
    plantings: [{ field: "Plot", crop: "maize, grain", planted: DAYS[0] }],
  };
  const file = path.join(directory, "farm.json"), db = path.join(directory, "farm.db");
  writeFileSync(file, JSON.stringify(book));
  ok(waterturn("import", file, "--db", db));
  ok(waterturn("morning", "--db", db, "--today", TODAY, "--tries", "1"));
  return { directory, file, db, book };
}

const ledgerOf = (db) => ok(waterturn("ledger", "Plot", "--db", db, "--today", TODAY, "--csv"));

test("et0_of_a_day_with_all_its_hours_is_their_sum_by_equation_53", (t) => {
  const { db } = farm(t);
  const rows = csvRows(ledgerOf(db)).slice(0, DAYS.length);
  let worst = 0;
  for (const [i, date] of DAYS.entries()) {
    assert.equal(rows[i].date, date);
    assert.equal(rows[i].et0_from, date === NO_WIND ? "day" : "hours", date);
    if (date === NO_WIND) continue;
    worst = Math.max(worst, Math.abs(Number(rows[i].et0_mm) - et0Of(date)));
  }
  assert.equal(ok(waterturn("ledger", "Plot", "--db", db, "--today", TODAY)).match(/^2024-.* h$/gm).length, DAYS.length - 1);
  console.log(`measured ET0 of ${DAYS.length - 1} days out of hours: ${worst.toExponential(1)} mm from eq. 53 written out`);
  assert.ok(worst < 1e-9, String(worst));
});

test("a_replay_of_the_files_gives_the_ledger_to_the_last_bit", (t) => {
  const { directory, db } = farm(t);
  const replayed = ok(waterturn("replay", "farm.json", "--today", TODAY, "--csv", { cwd: directory }));
  assert.equal(unmade(replayed), ledgerOf(db));
});

test("the_same_hours_in_utc_are_the_same_weather_on_a_day_of_local_time", (t) => {
  // Noon on the farm's clock is 17:00 UTC in June; the layout says that the file is in UTC.
  const layouts = scratch(t);
  const layout = JSON.parse(readFileSync(path.join(root, "config/layouts/plain-hourly.json"), "utf8"));
  layout.time.offset = "utc";
  writeFileSync(path.join(layouts, "utc-hours.json"), JSON.stringify(layout));
  writeFileSync(path.join(layouts, "summer-hours.json"), JSON.stringify({ ...layout, time: { column: "time", format: "iso", step: "1 h", summer_time: true } }));
  const [header, ...rows] = hoursFile().trim().split("\n");
  const shifted = rows.map((row) => new Date(Date.parse(`${row.slice(0, 16)}:00Z`) + 5 * 3600e3).toISOString().slice(0, 16) + row.slice(16));
  writeFileSync(path.join(layouts, "utc.csv"), [header, ...shifted, ""].join("\n"));
  writeFileSync(path.join(layouts, "summer.csv"), hoursFile());
  const et0 = (name, file) => {
    const book = {
      farm: { name: "Test farm", time_zone: "America/Chicago" },
      stations: [{ name: "yard", latitude: SITE.latitude, longitude: SITE.longitude, elevation: "512 m", wind_height: "3 m" }],
      sources: [{ name: "log", station: "yard", layout: name, address: `file:${layouts}/${file}`, kind: "observed" }],
      soils: [{ name: "loam", texture: "loam" }],
      fields: [{ name: "Plot", station: "yard", soil: "loam", area: "10 ha", system: { kind: "centre pivot", flow: "100 m3/h" } }],
      plantings: [{ field: "Plot", crop: "maize, grain", planted: DAYS[0] }],
    };
    writeFileSync(path.join(layouts, "farm.json"), JSON.stringify(book));
    const rows = csvRows(ok(waterturn("replay", "farm.json", "--today", TODAY, "--csv", { cwd: layouts, env: { WATERTURN_LAYOUTS: layouts } })));
    assert.deepEqual(rows.slice(0, 5).map((row) => row.et0_from), ["hours", "hours", "hours", "day", "hours"]);
    return rows.slice(0, 5).map((row) => row.et0_mm);
  };
  // The clock that is set forward in summer, told in two ways, is one and the same sun; standard time is another.
  const utc = et0("utc-hours", "utc.csv");
  assert.deepEqual(et0("summer-hours", "summer.csv"), utc);
  assert.notDeepEqual(utc.slice(0, 2).map(Number), [et0Of(DAYS[0]), et0Of(DAYS[1])]);
});

test("a_station_may_want_et0_of_days_and_a_corrected_one_counts_for_days_long_stored", (t) => {
  const { db, file, book } = farm(t, { hourly_et0: false });
  assert.deepEqual(csvRows(ledgerOf(db)).slice(0, 5).map((row) => row.et0_from), ["day", "day", "day", "day", "day"]);
  // The hours are in the database all the same: they count as soon as the station wants them.
  delete book.stations[0].hourly_et0;
  writeFileSync(file, JSON.stringify(book));
  ok(waterturn("import", file, "--db", db));
  ok(waterturn("morning", "--db", db, "--today", TODAY, "--tries", "1"));
  const [first] = csvRows(ledgerOf(db));
  assert.equal(first.et0_from, "hours");
  assert.ok(Math.abs(Number(first.et0_mm) - et0Of(DAYS[0])) < 1e-9);
});

test("hours_that_no_hour_can_have_and_suspect_days_leave_et0_to_the_day", (t) => {
  // -30 W/m2 at night is a broken instrument, -5 W/m2 its loss of heat.
  const { db } = farm(t, {}, (text) => text.replace(/^(2024-06-02T02:00,[^\n]*),0,0$/m, "$1,-30,0").replace(/^(2024-06-03T02:00,[^\n]*),0,0$/m, "$1,-5,0"));
  assert.deepEqual(csvRows(ledgerOf(db)).slice(0, 3).map((row) => row.et0_from), ["hours", "day", "hours"]);
});

test("the_workings_write_out_every_hour", (t) => {
  const { db } = farm(t);
  const view = JSON.parse(ok(waterturn("workings", "Plot", DAYS[1], "--db", db, "--today", TODAY, "--json")));
  const { hours } = view, lines = view.sections.flatMap((section) => section.lines);
  assert.equal(view.agrees, true);
  assert.equal(hours.rows.length, 24);
  const symbols = Object.fromEntries(hours.columns.map((column) => [column.symbol, column.key]));
  const constants = Object.fromEntries(hours.constants.map((constant) => [constant.symbol, constant.value]));
  const ajv = new Ajv({ strict: false, formats: { date: true } }).addSchema(JSON.parse(readFileSync(path.join(root, "web/openapi.json"), "utf8")), "api");
  const valid = ajv.getSchema("api#/components/schemas/WorkingsHours");
  assert.ok(valid(hours), JSON.stringify(valid.errors));
  let sum = 0;
  for (const row of hours.rows) {
    const known = { ...constants };
    for (const step of hours.steps) {
      const inputs = { ...known };
      for (const [symbol, key] of Object.entries(symbols)) if (symbol !== step.symbol) inputs[symbol] = row[key];
      known[step.symbol] = reckon(step.formula, inputs);
      if (step.symbol in symbols) assert.ok(Math.abs(known[step.symbol] - row[symbols[step.symbol]]) < 1e-12, `${row.hour} ${step.symbol}`);
    }
    sum += known.ET;
  }
  assert.ok(Math.abs(sum - hours.sum_mm) < 1e-9);
  const et0 = lines.find((line) => line.key === "et0");
  assert.equal(et0.value, hours.sum_mm);
  assert.match(et0.source, /eq\. 53/);
  // What only eq. 6 would use is not told, and ETc goes on from the sum.
  assert.ok(!lines.some((line) => ["radiation", "aerodynamic", "rn", "delta"].includes(line.key)));
  const daily = JSON.parse(ok(waterturn("workings", "Plot", NO_WIND, "--db", db, "--today", TODAY, "--json")));
  assert.equal(daily.hours, undefined);
  assert.match(ok(waterturn("workings", "Plot", DAYS[1], "--db", db, "--today", TODAY)), /eq\. 53[^]*23–24/);
});

test("et0_of_a_file_and_the_trial_of_a_layout_tell_of_the_hours", (t) => {
  const { directory } = farm(t);
  const file = path.join(directory, "hours.csv"), place = ["--lat", "38.2", "--elev", "512", "--wind-height", "3"];
  const rows = csvRows(ok(waterturn("et0", file, "--layout", "plain-hourly", "--lon", "-98.6", "--utc-offset", "-6", ...place)));
  assert.equal(rows[0].et0_from, "hours");
  assert.equal(rows[0].et0_mm, et0Of(DAYS[0]).toFixed(4));
  assert.equal(rows[3].et0_from, "day");
  // Nobody said where on the globe: the sun of an hour is not known.
  assert.equal(csvRows(ok(waterturn("et0", file, "--layout", "plain-hourly", ...place)))[0].et0_from, "day");
  assert.match(ok(waterturn("layout", "try", file)), /hours +4\nof these days all 24 hours are there/);
});
