// Fits and sweeps through the program: synthetic readings of a known soil, a probe's file, many seasons on all cores.
import assert from "node:assert/strict";
import { once } from "node:events";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { scratch, startWaterturn, waterturn } from "../support/program.mjs";

/** Numbers that look random and are the same each time: 0 or more, below 1. */
function stream(seed) {
  let state = seed;
  return () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 4294967296;
}

const gauss = (next) => Array.from({ length: 12 }, next).reduce((sum, value) => sum + value, -6);

const DAYS = 150;
const day = (i) => new Date(Date.UTC(2025, 3, 1 + i)).toISOString().slice(0, 10);

/** An invented summer: weather of DAYS days from 1 April 2025 on. */
function summer() {
  const next = stream(41);
  return Array.from({ length: DAYS }, (_, i) => {
    const warm = Math.sin((Math.PI * (i + 30)) / (DAYS + 60));
    return { date: day(i), tmax: 14 + 16 * warm + 3 * next(), tmin: 4 + 10 * warm, rain: next() < 0.14 ? 30 * next() : 0, rs: 14 + 12 * warm, rhMax: 92, rhMin: 35 + 15 * next() };
  });
}

/** The 28 columns of a US Climate Reference Network day, invented values; soil water at five depths or missing. */
function probeLine(weather, water) {
  const soil = water === null ? Array(5).fill("-99.000") : Array(5).fill(water.toFixed(3));
  return ["99942", weather.date.replaceAll("-", ""), "2.622", "-93.35", "41.07", weather.tmax.toFixed(1), weather.tmin.toFixed(1), "0.0", "0.0",
    weather.rain.toFixed(1), weather.rs.toFixed(2), "C", "0.0", "0.0", "0.0", weather.rhMax.toFixed(1), weather.rhMin.toFixed(1), "60.0",
    ...soil, "10.0", "10.0", "10.0", "10.0", "10.0"].join(" ");
}

const FARM = {
  farm: { name: "Probe farm" },
  stations: [{ name: "S", latitude: 41, longitude: -93, elevation: "280 m" }],
  sources: [{ name: "station", station: "S", layout: "noaa-uscrn-daily", address: "file:station.txt", kind: "observed" }],
  soils: [{ name: "loam", layers: [{ bottom: "2 m", field_capacity: 0.25, wilting_point: 0.12 }] }],
  fields: [{ name: "Plot", area: "2 ha", station: "S", soil: "loam", system: { kind: "solid set", flow: "40 m3/h" } }],
  plantings: [{ field: "Plot", crop: "maize, grain", region: "Idaho, USA", planted: "2025-04-20", start: "2025-04-05", start_depletion: "20 %", root_depth: { ini: "0.3 m", max: "1 m" }, stage_days: [20, 30, 40, 30] }],
};

const TRUTH = { capacity: 0.31, wilting: 0.14, roots: 0.8 };
const TRUE_SOIL = `soil:loam.layers = [{"bottom": "2 m", "field_capacity": ${TRUTH.capacity}, "wilting_point": ${TRUTH.wilting}}]; planting:Plot.root_depth.max = ${TRUTH.roots} m`;

/** Field widths of a published CRND0103 file, from its readme (ncei.noaa.gov, US Climate Reference Network, daily01). */
const WIDTHS = [5, 8, 6, 7, 7, 7, 7, 7, 7, 7, 8, 1, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7];

/** The same line as such a file has it: fields padded to their widths, values that are missing as -99.000 or -9999.0. */
function publishedLine(weather, water) {
  const fields = probeLine(weather, water).split(" ");
  fields[22] = "-99.000"; // many stations have no sensor at 1 m
  for (const i of [23, 24, 25, 26, 27]) fields[i] = "-9999.0";
  return `${fields.map((field, i) => field.padStart(WIDTHS[i])).join(" ")}\n`;
}

/** The farm, and its weather with the soil water that the true soil would have had, with noise. */
function probeFarm(t, noise, seed = 7) {
  const directory = scratch(t);
  const weather = summer();
  const here = { cwd: directory };
  const write = (water) => writeFileSync(path.join(directory, "station.txt"), weather.map((entry) => `${probeLine(entry, water(entry))}\n`).join(""));
  writeFileSync(path.join(directory, "farm.json"), JSON.stringify(FARM));
  write(() => null);
  const done = waterturn("replay", "farm.json", "--what-if", TRUE_SOIL, "--by", "day", "--out", "true.json", here);
  assert.equal(done.status, 0, done.stderr);
  const { days } = JSON.parse(readFileSync(path.join(directory, "true.json"), "utf8")).results[1];
  const next = stream(seed);
  const water = new Map(days.map((row) => [row.date, TRUTH.capacity - row.depletion_mm / (1000 * row.root_m) + noise * gauss(next)]));
  write((entry) => water.get(entry.date) ?? null);
  return { directory, here, water, weather };
}

function fit(directory, ...args) {
  const done = waterturn("fit", "farm.json", "--field", "Plot", ...args, "--out", "fit.json", { cwd: directory });
  assert.equal(done.status, 0, done.stderr);
  return JSON.parse(readFileSync(path.join(directory, "fit.json"), "utf8"));
}

const PROBE = ["--probe", "station.txt", "--probe-layout", "noaa-uscrn-daily"];

test("a soil is found from the soil water of a probe's file, and the replay is scored against it", (t) => {
  const { directory, here } = probeFarm(t, 0.005);
  const out = fit(directory, ...PROBE, "--parameters", "field_capacity,wilting_point,root_depth");
  const found = Object.fromEntries(out.parameters.map((parameter) => [parameter.name, parameter]));
  const near = (name, truth) => assert.ok(Math.abs(found[name].value - truth) <= 4 * found[name].sd + 1e-3, `${name} ${found[name].value} +- ${found[name].sd}, true ${truth}`);
  near("field_capacity", TRUTH.capacity);
  near("wilting_point", TRUTH.wilting);
  near("root_depth", TRUTH.roots);
  assert.equal(out.trustworthy, true);
  assert.ok(out.readings > 100);
  assert.ok(out.after.rmse_m3_m3 < 0.0075 && out.after.rmse_m3_m3 < out.before.rmse_m3_m3 / 3);
  assert.ok(out.after.nash_sutcliffe > 0.9 && out.after.willmott_d > 0.95 && out.after.r2 > 0.9);
  assert.ok(Math.abs(out.after.bias_m3_m3) < 0.002);
  console.log(`# measured probe file: RMSE ${out.before.rmse_m3_m3.toFixed(4)} before, ${out.after.rmse_m3_m3.toFixed(4)} after the fit; Nash-Sutcliffe ${out.after.nash_sutcliffe.toFixed(3)}`);
  // What is proposed is a scenario, and changes nothing by itself.
  writeFileSync(path.join(directory, "scenarios.json"), JSON.stringify({ scenarios: [{ name: "fitted", set: out.proposal }] }));
  const replay = waterturn("replay", "farm.json", "--scenarios", "scenarios.json", "--out", "with.json", here);
  assert.equal(replay.status, 0, replay.stderr);
  assert.deepEqual(JSON.parse(readFileSync(path.join(directory, "farm.json"), "utf8")), FARM);
  assert.match(waterturn("fit", "--verify", "fit.json", here).stdout, /every byte the same/);
});

test("known soils come back from noisy readings within the uncertainty that is told", (t) => {
  const fits = 8;
  let within = 0;
  for (let seed = 1; seed <= fits; seed++) {
    const { directory } = probeFarm(t, 0.01, 100 + seed);
    const found = Object.fromEntries(fit(directory, ...PROBE, "--parameters", "field_capacity,wilting_point,root_depth", "--no-priors").parameters.map((parameter) => [parameter.name, parameter]));
    for (const [name, truth] of [["field_capacity", TRUTH.capacity], ["wilting_point", TRUTH.wilting], ["root_depth", TRUTH.roots]]) {
      const error = Math.abs(found[name].value - truth) / found[name].sd;
      within += error <= 2;
      assert.ok(error <= 5, `${name} ${found[name].value} +- ${found[name].sd}, true ${truth}`);
    }
  }
  console.log(`# measured ${within} of ${3 * fits} parameters within 2 sd of the truth (noise 0.01 m3/m3)`);
  // Of a normal law 95 % are within 2 sd; readings of a soil whose model is exact and whose noise is independent.
  assert.ok(within >= 0.8 * 3 * fits);
});

test("a station's file as it is published scores a replay: padded columns, sensors that are missing", (t) => {
  const { directory, here, water, weather } = probeFarm(t, 0.005);
  // Every seventh day all sensors are missing; the one at 1 m on all, so that days with roots below 0.75 m, half-way
  // between the sensors at 0.5 and 1 m, do not count.
  writeFileSync(path.join(directory, "station.txt"), weather.map((entry, i) => publishedLine(entry, i % 7 === 3 ? null : water.get(entry.date) ?? null)).join(""));
  const out = fit(directory, ...PROBE, "--parameters", "field_capacity");
  // The farm's own roots, which the readings are put on, go to 1 m and not to the true 0.8.
  const run = waterturn("replay", "farm.json", "--by", "day", "--out", "own.json", here);
  assert.equal(run.status, 0, run.stderr);
  const own = new Map(JSON.parse(readFileSync(path.join(directory, "own.json"), "utf8")).results[0].days.map((row) => [row.date, row.root_m]));
  const counted = weather.filter(({ date }, i) => i % 7 !== 3 && water.has(date) && own.get(date) <= 0.75).length;
  assert.ok(counted > 30);
  assert.equal(out.readings, counted);
  assert.ok(out.before.rmse_m3_m3 > 0.02 && out.after.rmse_m3_m3 < out.before.rmse_m3_m3 / 2);
  const text = waterturn("fit", "farm.json", "--field", "Plot", ...PROBE, "--parameters", "field_capacity", here).stdout;
  assert.match(text, /as it is +-?0\.\d+ +0\.\d+/);
  // A line cut off in the middle is told with its place.
  writeFileSync(path.join(directory, "cut.txt"), readFileSync(path.join(directory, "station.txt"), "utf8").slice(0, 1000));
  assert.match(waterturn("fit", "farm.json", "--field", "Plot", "--probe", "cut.txt", "--probe-layout", "noaa-uscrn-daily", here).stderr, /cut\.txt:\d+: found nothing in column \d+, expected a water content from 0 to 1/);
});

test("readings written down as records are fitted as well", (t) => {
  const { directory, water } = probeFarm(t, 0.005);
  const records = [...water].filter((_, i) => i % 4 === 0).map(([date, value]) => ({ field: "Plot", date, kind: "reading", water_content: Number(value.toFixed(4)), sd: "1 %" }));
  writeFileSync(path.join(directory, "farm.json"), JSON.stringify({ ...FARM, records }));
  const out = fit(directory, "--parameters", "field_capacity,root_depth");
  assert.equal(out.readings, records.filter((record) => record.date <= "2025-08-17").length); // the season's last day
  assert.ok(Math.abs(out.parameters[0].value - TRUTH.capacity) < 0.015, out.parameters[0].value);
});

test("parameters that the readings do not tell are named, and nothing is proposed", (t) => {
  const { directory, here } = probeFarm(t, 0.005);
  // Curve number: this soil sets none, so there is nothing to begin from.
  const none = waterturn("fit", "farm.json", "--field", "Plot", ...PROBE, "--parameters", "curve_number", here);
  assert.equal(none.status, 1);
  assert.match(none.stderr, /curve_number: the farm file does not set it/);
  // Water on every day: the soil never dries, and the wilting point has no effect on what was read.
  const wet = fit(directory, ...PROBE, "--parameters", "field_capacity,wilting_point,p", "--what-if", "irrigation.every = 1; irrigation.depth = 15 mm");
  assert.equal(wet.trustworthy, false);
  assert.equal(wet.proposal, null);
  const words = waterturn("fit", "farm.json", "--field", "Plot", ...PROBE, "--parameters", "field_capacity,wilting_point,p", "--what-if", "irrigation.every = 1; irrigation.depth = 15 mm", here);
  assert.match(words.stdout, /The readings do not tell all of these parameters, and nothing is proposed/);
});

test("a probe's file is taken whole, or refused with the place of what is wrong", (t) => {
  const { directory, here } = probeFarm(t, 0.005);
  const rows = "2014-05-01,0.21\n2014-05-02,0.20\n";
  for (const [text, says] of [
    [rows, /bad\.csv:1: found a reading, expected the header line/],
    [`date,water\n${rows}`.slice(0, -2), /bad\.csv:3: found a last line without a line end/],
    [`date,water\n${rows}2014-05-01,0.3\n`, /bad\.csv:4: found 2014-05-01 again, expected each date once: it stands in line 2 too/],
    [`date,water\n2014-05-01,0.21\n\0${rows}`, /bad\.csv:3: found the byte 0x00/],
    ["date,water\n", /bad\.csv: found no reading/],
    ["", /bad\.csv: found no reading/],
    [`date;water\n${rows.replaceAll(",", ";")}`, /bad\.csv:2: found "2014-05-01;0\.21" in column 1, expected a date as 2026-07-14/],
  ]) {
    writeFileSync(path.join(directory, "bad.csv"), text);
    const done = waterturn("fit", "farm.json", "--field", "Plot", "--probe", "bad.csv", here);
    assert.equal(done.status, 1, text);
    assert.match(done.stderr, says);
  }
});

test("too few readings and wrong names are refused, with what would be right", (t) => {
  const { directory, here } = probeFarm(t, 0.005);
  const cases = [
    [["--parameters", "field_capacity"], /found 0 readings of soil water within the season, expected more than the 1 parameters/],
    [["--parameters", "porosity"], /--parameters: found porosity, expected each once of field_capacity/],
    [["--parameters", "p,p"], /found p again/],
    [["--parameters", "trigger", ...PROBE], /found a setting that no fit moves/],
    [["--probe", "station.txt", "--probe-layout", "nothing"], /--probe-layout: found nothing, expected one of ([\w-]+, )*plain\b/],
  ];
  for (const [args, expected] of cases) {
    const done = waterturn("fit", "farm.json", "--field", "Plot", ...args, here);
    assert.notEqual(done.status, 0, args.join(" "));
    assert.match(done.stderr, expected);
  }
  writeFileSync(path.join(directory, "bad.csv"), "date,water_content\n2025-06-01,0.2\n2025-06-02,21\n");
  assert.match(waterturn("fit", "farm.json", "--field", "Plot", "--probe", "bad.csv", here).stderr, /bad\.csv:3: found 21 in column 2, expected a water content from 0 to 1/);
});

// ---- sweeps

const SWEEP = ["sweep", "farm.json", "--field", "Plot", "--what-if", "irrigation = automatic", "--vary", "allowed_depletion = 30 % .. 70 % / 5", "--draw", "kcb_mid = normal 1.1, 0.05", "--draws", "40"];

function rows(file) {
  const [note, header, ...lines] = readFileSync(file, "utf8").trim().split("\r\n");
  assert.match(note, /^# made: \{/);
  const names = header.split(",");
  return lines.map((line) => Object.fromEntries(line.split(",").map((cell, i) => [names[i], cell])));
}

test("a sweep has a row for each season, and the same bytes on any number of threads", (t) => {
  const { directory, here } = probeFarm(t, 0);
  assert.equal(waterturn(...SWEEP, "--threads", "1", "--out", "one.csv", here).status, 0);
  assert.equal(waterturn(...SWEEP, "--threads", "3", "--out", "three.csv", here).status, 0);
  assert.ok(readFileSync(path.join(directory, "one.csv")).equals(readFileSync(path.join(directory, "three.csv"))));
  const all = rows(path.join(directory, "one.csv"));
  assert.equal(all.length, 200);
  assert.ok(all.every((row, i) => Number(row.run) === i && row.status === "ok"));
  assert.deepEqual([...new Set(all.map((row) => row.allowed_depletion))], ["0.3", "0.4", "0.5", "0.6", "0.7"]);
  const kcb = all.map((row) => Number(row.kcb_mid));
  const mean = kcb.reduce((sum, value) => sum + value, 0) / kcb.length;
  const sd = Math.sqrt(kcb.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (kcb.length - 1));
  assert.ok(Math.abs(mean - 1.1) < 0.015 && Math.abs(sd - 0.05) < 0.015, `${mean} ${sd}`); // 4 standard errors of 200
  assert.match(waterturn("sweep", "--verify", "one.csv", here).stdout, /every byte the same/);
});

test("a season of a sweep is the same season in a replay", (t) => {
  const { directory, here } = probeFarm(t, 0);
  assert.equal(waterturn("sweep", "farm.json", "--field", "Plot", "--what-if", "irrigation = automatic", "--vary", "allowed_depletion = 0.5", "--out", "sweep.csv", here).status, 0);
  assert.equal(waterturn("replay", "farm.json", "--what-if", "irrigation = automatic; planting:Plot.allowed_depletion = 50 %", "--out", "replay.json", here).status, 0);
  const [row] = rows(path.join(directory, "sweep.csv"));
  const { season, value } = JSON.parse(readFileSync(path.join(directory, "replay.json"), "utf8")).results[1];
  for (const term of ["days", "rain_mm", "irrigation_gross_mm", "irrigations", "eta_mm", "percolation_mm", "stress_days"])
    assert.ok(Math.abs(Number(row[term]) - season[term]) <= 1e-9 * Math.abs(season[term]), term);
  assert.ok(Math.abs(Number(row.relative) - value.relative) < 1e-9);
});

test("Ctrl-C leaves what is done", async (t) => {
  const { directory } = probeFarm(t, 0);
  const run = startWaterturn(["sweep", "farm.json", "--field", "Plot", "--draw", "kcb_mid = uniform 1.0, 1.2", "--draws", "1900000", "--out", "cut.csv"], { cwd: directory });
  let words = "";
  run.stderr.on("data", (chunk) => (words += chunk));
  const ended = once(run, "exit");
  await new Promise((resolve) => setTimeout(resolve, 700));
  run.kill("SIGINT");
  const [status] = await ended;
  assert.equal(status, 1, words);
  assert.match(words, /stopped: \d+ of 1900000 seasons were computed and are written/);
  assert.ok(existsSync(path.join(directory, "cut.csv")));
  const done = rows(path.join(directory, "cut.csv"));
  assert.equal(done.length, Number(/stopped: (\d+)/.exec(words)[1]));
  assert.ok(done.length > 100 && done.every((row) => row.status === "ok"));
});

test("what a sweep cannot vary is told", (t) => {
  const { here } = probeFarm(t, 0);
  const cases = [
    [["--vary", "moon = 1"], /--vary: found moon = 1, expected one of field_capacity/],
    [["--vary", "kcb_mid = 1 .. 2"], /expected a range as 30 % \.\. 70 % \/ 9/],
    [["--vary", "kcb_mid = 3"], /--vary: found 3, expected/],
    [["--vary", "kcb_mid = 1", "--draw", "kcb_mid = uniform 1, 1.2"], /expected each parameter once/],
    [["--draw", "kcb_mid = triangular 1, 2"], /expected a distribution/],
    [["--draw", "kcb_mid = normal 1.1, -1"], /a standard deviation above 0/],
    [["--years", "1999..1990"], /expected all, or years as 1991\.\.2020/],
    [["--years", "1950..1951"], /found no year whose weather is known/],
    [["--vary", "kcb_mid = 1.0 .. 1.2 / 1000", "--draw", "p = uniform 0.4, 0.6", "--draws", "1000000"], /found more than 2000000 seasons/],
  ];
  for (const [args, expected] of cases) {
    const done = waterturn("sweep", "farm.json", "--field", "Plot", ...args, here);
    assert.notEqual(done.status, 0, args.join(" "));
    assert.match(done.stderr, expected);
  }
});
