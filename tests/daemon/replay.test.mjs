// Replays: scenarios side by side, how outputs are made, against the demo farm and its weather on disk.
import assert from "node:assert/strict";
import { readFileSync, renameSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, csvRows, demoWeather, root, scratch, waterturn } from "../support/program.mjs";

/** The rows of an output in CSV, its note left out; names of crops hold commas, and no cell a quote. */
function outputRows(file) {
  const [, header, ...lines] = readFileSync(file, "utf8").trim().split("\r\n");
  const cells = (line) => [...line.matchAll(/(?:^|,)(?:"([^"]*)"|([^,]*))/g)].map(([, quoted, bare]) => quoted ?? bare);
  const names = cells(header);
  return lines.map((line) => Object.fromEntries(cells(line).map((cell, i) => [names[i], cell])));
}

const PLOT = "Trial plot B";

/** The demo farm with its weather beside it, as file: addresses. */
function demoFiles(t) {
  const directory = scratch(t);
  demoWeather(directory);
  const text = readFileSync(path.join(root, "fixtures/demo/farm.json"), "utf8");
  writeFileSync(path.join(directory, "farm.json"), text.replaceAll("http://127.0.0.1:0/", "file:weather/"));
  return directory;
}

const run = (directory, ...args) => waterturn("replay", "farm.json", "--today", DEMO_DAY, ...args, { cwd: directory });

function ok(done) {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
}

function json(directory, ...args) {
  ok(run(directory, ...args, "--out", "out.json"));
  return JSON.parse(readFileSync(path.join(directory, "out.json"), "utf8"));
}

/** Seasons of a field by scenario: "as it was" first. */
const seasons = (out, field) => out.results.filter((result) => result.field === field).map((result) => result.season);

test("the scenario that changes nothing is the ledger, to the last digit", (t) => {
  const directory = demoFiles(t);
  const ledger = csvRows(ok(run(directory, "--csv")));
  ok(run(directory, "--by", "day", "--out", "days.csv"));
  const days = outputRows(path.join(directory, "days.csv"));
  assert.equal(days.length, ledger.length);
  assert.ok(days.length > 700);
  for (const [i, day] of days.entries())
    for (const column of ["field", "date", "stage", "et0_mm", "etc_mm", "eta_mm", "depletion_mm", "allowed_mm", "percolation_mm", "closure_mm"])
      assert.equal(day[column], ledger[i][column], `${ledger[i].field} ${ledger[i].date} ${column}`);
});

test("rainfed, watered by itself and as recorded stand side by side", (t) => {
  const out = json(demoFiles(t), "--field", PLOT, "--what-if", "irrigation = none", "--what-if", "irrigation = automatic");
  const [was, rainfed, automatic] = seasons(out, PLOT);
  assert.equal(was.irrigation_gross_mm, 140); // the records of the demo farm: 15 + 15 + 30 + 30 + 30 + 20
  assert.equal(rainfed.irrigation_gross_mm, 0);
  assert.ok(automatic.irrigation_gross_mm > 0 && automatic.irrigation_gross_mm !== 140);
  assert.ok(rainfed.eta_mm < was.eta_mm);
  assert.equal(was.rain_mm, rainfed.rain_mm);
  assert.deepEqual(out.scenarios.map((scenario) => scenario.name), ["as it was", "irrigation = none", "irrigation = automatic"]);
});

test("a rule for all fields waters those that have a system, and one without is refused when it is asked for by name", (t) => {
  const directory = demoFiles(t);
  const rules = ["--what-if", "irrigation = automatic", "--what-if", "irrigation.every = 7; irrigation.depth = 10 mm"];
  const out = json(directory, ...rules);
  const [, automatic, weekly] = seasons(out, "Trial plot C");
  assert.deepEqual([automatic.irrigation_gross_mm, weekly.irrigation_gross_mm], [0, 0]);
  assert.ok(seasons(out, "North pivot")[1].irrigation_gross_mm > 0);
  for (const args of [["--field", "Trial plot C", ...rules], ["--what-if", "irrigation:Trial plot C = automatic"]])
    assert.match(run(directory, ...args).stderr, /Trial plot C: found a field without an irrigation system/);
});

test("a setting of the farm file changes what it names and nothing else", (t) => {
  const out = json(demoFiles(t), "--what-if", "soil:trial bench.curve_number = 90");
  const bench = new Set(["Trial plot A", "Trial plot B", "Trial plot C"]);
  for (const result of out.results.filter((entry) => entry.scenario !== "as it was")) assert.equal(result.as_it_was, !bench.has(result.field), result.field);
});

test("a planting date moves the season", (t) => {
  const out = json(demoFiles(t), "--field", PLOT, "--what-if", `planting:${PLOT}.planted = 2026-06-05`);
  const [was, later] = out.results;
  assert.equal(was.planted, "2026-05-20");
  assert.equal(later.planted, "2026-06-05");
  assert.equal(later.stages.find((stage) => stage.stage === "initial").first, "2026-06-05");
  assert.ok(later.season.transpiration_mm < was.season.transpiration_mm);
});

test("another crop and another soil bring their own values", (t) => {
  const out = json(demoFiles(t), "--field", PLOT, "--what-if", `planting:${PLOT}.crop = sorghum, grain`, "--what-if", `field:${PLOT}.soil = river silt`);
  const [was, sorghum, silt] = out.results;
  assert.equal(sorghum.crop, "sorghum, grain");
  // Sorghum's seasonal Ky is 0.9 (FAO-56 Table 24); the demo's own 1 stands where the table has no sweet potato. Eq. 90.
  for (const [result, ky] of [[was, 1], [sorghum, 0.9]]) {
    const grown = result.stages.filter(({ stage }) => ["initial", "development", "mid-season", "late season"].includes(stage));
    const sum = (term) => grown.reduce((total, stage) => total + stage[term], 0);
    assert.ok(Math.abs(result.value.relative - (1 - ky * (1 - sum("eta_mm") / sum("etc_mm")))) < 1e-9, result.crop);
  }
  assert.notEqual(silt.season.eta_mm, was.season.eta_mm);
});

test("water on fixed days, every so many days, in a share, up to a limit and until a stage", (t) => {
  const out = json(
    demoFiles(t), "--field", PLOT,
    "--what-if", 'irrigation.days = ["2026-06-20", "2026-07-01"]; irrigation.depth = 25 mm',
    "--what-if", "irrigation.every = 10; irrigation.depth = 1 in; irrigation.from = 2026-06-01; irrigation.to = 2026-06-30",
    "--what-if", "irrigation.share = 50 %",
    "--what-if", "irrigation.limit = 100 mm",
    "--what-if", "irrigation.stop = 2026-06-26",
    "--what-if", `irrigation:${PLOT}.stop = development`,
  );
  const [, days, every, share, limit, date, stage] = seasons(out, PLOT).map((season) => Math.round(season.irrigation_gross_mm * 1e9) / 1e9);
  assert.equal(days, 50);
  assert.equal(every, 76.2); // 1, 11 and 21 June
  assert.equal(share, 70);
  assert.equal(limit, 100);
  assert.equal(date, 60); // 15 + 15 + 30, the rest comes later
  assert.equal(stage, 30); // development begins 20 days after planting (Table 11), on 9 June
});

test("the weather of another year is that of its days", (t) => {
  const directory = scratch(t);
  writeFileSync(path.join(directory, "farm.json"), readFileSync(path.join(root, "fixtures/seattle/farm.json"), "utf8").replaceAll("http://127.0.0.1:0/", `file:${root}/tests/node_modules/vega-datasets/data/`));
  const done = waterturn("replay", "farm.json", "--what-if", "weather.years = -2; irrigation = none", "--by", "day", "--out", "days.csv", { cwd: directory });
  assert.equal(done.status, 0, done.stderr);
  const rows = outputRows(path.join(directory, "days.csv")).filter((row) => row.scenario !== "as it was");
  const weather = new Map(csvRows(readFileSync(path.join(root, "tests/node_modules/vega-datasets/data/seattle-weather.csv"), "utf8")).map((row) => [row.date, row]));
  assert.ok(rows.length > 80);
  for (const row of rows) assert.equal(Number(row.rain_mm), Number(weather.get(row.date.replace("2015", "2013")).precipitation), row.date);
});

test("sums of the season are those of its stages, and close", (t) => {
  const out = json(demoFiles(t), "--what-if", "irrigation = automatic; irrigation:Trial plot C = none");
  for (const result of out.results) {
    for (const term of ["rain_mm", "eta_mm", "irrigation_net_mm", "percolation_mm", "storage_change_mm", "days"]) {
      const sum = result.stages.reduce((total, stage) => total + stage[term], 0);
      assert.ok(Math.abs(sum - result.season[term]) < 1e-6, `${result.field} ${term}`);
    }
    assert.ok(result.closure_max_mm < 1e-9);
    assert.ok(Math.abs(result.season.closure_mm) < 1e-6);
  }
});

test("value, cost and productivity follow from the money that is given", (t) => {
  const out = json(demoFiles(t), "--field", "North pivot", "--what-if", "irrigation = none", "--money", "max_yield = 14; yield_unit = t; price = 200; water_cost = 0.05; pass_cost = 4; season_cost = 900");
  const [was, rainfed] = out.results;
  const { season, value } = was;
  assert.ok(Math.abs(value.yield - 14 * value.relative) < 1e-12);
  assert.ok(Math.abs(value.per_m3 - value.yield / season.eta_mm / 10) < 1e-12);
  assert.ok(Math.abs(value.irrigation_per_mm - (value.yield - rainfed.value.yield) / season.irrigation_gross_mm) < 1e-12);
  assert.ok(Math.abs(value.water_cost - season.irrigation_gross_mm * 10 * 0.05) < 1e-9);
  assert.equal(value.pass_cost, season.irrigations * 4);
  assert.ok(Math.abs(value.margin - (value.yield * 200 - value.water_cost - value.pass_cost - 900)) < 1e-9);
  assert.ok(Math.abs(value.margin_over_rainfed - (value.margin - rainfed.value.margin)) < 1e-9);
  assert.equal(rainfed.value.irrigation_per_mm, null);
});

test("money for an acre and an acre-inch is the same money", (t) => {
  // 1 acre is 0.40468564224 ha, an acre-inch 102.79015312896 m3 (NIST SP 811, Appendix B).
  const files = demoFiles(t), ask = (money) => ["--field", "North pivot", "--what-if", "irrigation = none", "--money", money];
  const { money, results } = json(files, ...ask("max_yield = 200 /ac; price = 5; water_cost = 12 /ac-in; pass_cost = 3/ac"));
  for (const [name, value] of [["max_yield", 200 / 0.40468564224], ["price", 5], ["water_cost", 12 / 102.79015312896], ["pass_cost", 3 / 0.40468564224]])
    assert.ok(Math.abs(money[name] / value - 1) < 1e-12, name);
  // Printed in US units it is that of an acre again; 25.4 mm are an inch.
  const printed = ok(run(files, ...ask("max_yield = 200 /ac; price = 5; water_cost = 12 /ac-in; pass_cost = 3/ac"), "--units", "us"));
  const { season, value } = results[0];
  const line = (label) => Number(new RegExp(`^  ${label} +(\\S+)`, "m").exec(printed)?.[1]);
  for (const [label, expected] of [["yield, per acre", 200 * value.relative], ["cost of water, per acre", 12 * season.irrigation_gross_mm / 25.4],
    ["cost of passes, per acre", 3 * season.irrigations], ["yield per ac-in of ET", 200 * value.relative / (season.eta_mm / 25.4)],
    ["rel. yield / inch of ET", 100 * value.relative / (season.eta_mm / 25.4)]])
    assert.ok(Math.abs(line(label) / expected - 1) < 0.02, `${label}: ${line(label)}, ${expected}`);
  assert.doesNotMatch(printed, /\bmm\b|per ha|per m3/);
  assert.match(run(files, ...ask("water_cost = 12 /ac")).stderr, /found 12 \/ac, expected an amount per m3, or with its volume, as "12 \/ac-in"/);
});

test("the rainfed season beside a watered one takes no readings that were made under the water", (t) => {
  const [was, rainfed] = json(demoFiles(t), "--field", PLOT, "--what-if", "irrigation = none").results;
  assert.ok(was.readings_used && was.season.irrigation_gross_mm > 0);
  assert.equal(was.value.rainfed_relative, rainfed.value.relative);
  assert.ok(rainfed.value.relative < was.value.relative);
});

// Trial plot B: 0.4 ha, 20 m3/h and 10 h a day of its own; 1 m3 is 1000 / 4000 = 0.25 mm.
test("a supply bounds what the automatic rule gives: the hours of a turn at its flow, the season's allotment", (t) => {
  const AUTOMATIC = "irrigation = automatic; supply:Creek pump";
  const out = json(
    demoFiles(t), "--field", PLOT, "--by", "day",
    "--what-if", "irrigation = automatic",
    "--what-if", `${AUTOMATIC}.hours_per_day = 3 h`, // 3 h x 20 m3/h = 60 m3 = 15 mm
    "--what-if", `${AUTOMATIC}.flow = 8 m3/h`, // 8 m3/h x 10 h = 80 m3 = 20 mm
    "--what-if", `${AUTOMATIC}.allotment = 200 m3`, // 50 mm
    "--what-if", `${AUTOMATIC}.allotment = 0 m3`,
    "--what-if", "supply:Creek pump.allotment = 0 m3",
  );
  const [was, automatic, hours, flow, allotment, none, recorded] = out.results;
  const most = ({ days }) => Math.max(...days.map((day) => day.irrigation_gross_mm));
  const near = (value, truth, what) => assert.ok(Math.abs(value - truth) < 1e-9, `${what} ${value}, by hand ${truth}`);
  assert.ok(most(automatic) > 20);
  near(most(hours), 15, "hours");
  near(most(flow), 20, "flow");
  near(allotment.season.irrigation_gross_mm, 50, "allotment");
  near(allotment.season.irrigation_net_mm, 39, "net of it, at 78 %");
  assert.equal(none.season.irrigation_gross_mm, 0);
  assert.equal(automatic.value.denied_mm, 0);
  for (const result of [hours, flow, allotment, none]) assert.ok(result.value.denied_mm > 0 && result.value.denied_days > 0, result.scenario);
  const spent = allotment.days.filter((day) => day.irrigation_gross_mm > 0).at(-1).date;
  assert.equal(allotment.allotment_spent, spent);
  assert.equal(hours.allotment_spent, null);
  // It is watered by nothing: the first morning after an evening past the allowed depletion finds the allotment used up.
  const asks = none.days.findIndex((day) => day.stage !== "bare" && day.depletion_mm >= day.allowed_mm) + 1;
  assert.equal(none.allotment_spent, none.days[asks].date);
  // Recorded water was given.
  assert.equal(recorded.season.irrigation_gross_mm, was.season.irrigation_gross_mm);
  assert.equal(recorded.value.denied_mm, null);
});

test("an allotment that is used up is told in words, and denied water stands in the sweep", (t) => {
  const directory = demoFiles(t);
  const words = "irrigation = automatic; supply:Creek pump.allotment = 200 m3";
  assert.match(ok(run(directory, "--field", PLOT, "--what-if", words)), /the allotment of Creek pump was used up on 2026-06-\d\d/);
  const [, automatic] = json(directory, "--field", PLOT, "--what-if", words).results;
  const [row] = csvRows(ok(waterturn("sweep", "farm.json", "--today", DEMO_DAY, "--field", PLOT, "--what-if", words, "--vary", "share = 1", { cwd: directory })));
  assert.ok(Math.abs(Number(row.denied_mm) - automatic.value.denied_mm) < 1e-8 * automatic.value.denied_mm);
});

test("an earlier harvest saves the water that would have come after it", (t) => {
  const [result] = json(demoFiles(t), "--field", "North pivot").results;
  assert.ok(result.harvest.length >= 3);
  for (let i = 1; i < result.harvest.length; i++) {
    assert.ok(result.harvest[i].transpired > result.harvest[i - 1].transpired);
    assert.ok(result.harvest[i].irrigation_gross_mm >= result.harvest[i - 1].irrigation_gross_mm);
  }
  assert.equal(result.harvest.at(-1).transpired, 1);
  assert.equal(result.harvest.at(-1).irrigation_gross_mm, result.season.irrigation_gross_mm);
});

test("a scenarios file with comments says the same as the command line", (t) => {
  const directory = demoFiles(t);
  writeFileSync(path.join(directory, "scenarios.json"), `{
    // two of them
    "scenarios": [{"name": "rainfed", "set": {"irrigation": "none"}},
                  {"name": "late", "set": {"planting:${PLOT}.planted": "2026-06-05", "irrigation.share": 0.5}}],
    "money": {"max_yield": 40, "price": 250}
  }`);
  const file = json(directory, "--field", PLOT, "--scenarios", "scenarios.json");
  const line = json(directory, "--field", PLOT, "--what-if", "irrigation=none", "--what-if", `planting:${PLOT}.planted=2026-06-05;irrigation.share=0.5`);
  assert.deepEqual(seasons(file, PLOT), seasons(line, PLOT));
  assert.equal(file.money.max_yield, 40);
  assert.deepEqual(file.made.inputs.map((input) => input.what).slice(0, 2), ["farm", "scenarios"]);
});

test("from the database the same seasons come", (t) => {
  const directory = demoFiles(t);
  const here = { cwd: directory };
  ok(waterturn("import", "farm.json", "--db", "farm.db", here));
  ok(waterturn("morning", "--db", "farm.db", "--today", DEMO_DAY, here));
  const files = json(directory, "--what-if", "irrigation = none");
  ok(waterturn("replay", "--db", "farm.db", "--what-if", "irrigation = none", "--out", "db.json", here));
  const db = JSON.parse(readFileSync(path.join(directory, "db.json"), "utf8"));
  assert.equal(db.results.length, files.results.length);
  for (const result of db.results) {
    const other = files.results.find((entry) => entry.field === result.field && entry.planted === result.planted && entry.scenario === result.scenario);
    assert.deepEqual(result, other, result.field);
  }
  assert.match(ok(waterturn("replay", "--verify", "db.json", here)), /every byte the same/);
});

test("every output names how it was made, and is made again by it", (t) => {
  const directory = demoFiles(t);
  for (const kind of ["json", "csv", "svg"]) {
    ok(run(directory, "--field", PLOT, "--what-if", "irrigation = none; readings = use", "--out", `out.${kind}`));
    const first = readFileSync(path.join(directory, `out.${kind}`));
    assert.match(first.toString(), /"version":\s*"/, kind);
    assert.match(first.toString(), /"sha256":\s*"[0-9a-f]{64}"/, kind);
    ok(run(directory, "--field", PLOT, "--what-if", "irrigation = none; readings = use", "--out", `again.${kind}`));
    assert.ok(first.equals(readFileSync(path.join(directory, `again.${kind}`))), kind);
    assert.match(ok(waterturn("replay", "--verify", `out.${kind}`, { cwd: directory })), /every byte the same/);
  }
});

/** What a command printed, kept as a file of that name. */
function kept(directory, name, ...args) {
  writeFileSync(path.join(directory, name), ok(waterturn(...args, { cwd: directory })));
  return readFileSync(path.join(directory, name), "utf8");
}

/** The same with another digit in the last number outside the note. */
function forged(text) {
  const end = text.startsWith("#") ? text.length : text.lastIndexOf("made: {");
  const at = text.slice(0, end).search(/\d\D*$/);
  return `${text.slice(0, at)}${(Number(text[at]) + 1) % 10}${text.slice(at + 1)}`;
}

const verified = (directory, command, ...args) => ok(waterturn(command, "--verify", ...args, { cwd: directory }));

test("the demo's trial has means with intervals, an analysis of variance by its blocks, and the balance beside them", (t) => {
  const directory = demoFiles(t);
  const of = ["trial", "farm.json", "--today", DEMO_DAY];
  ok(waterturn(...of, "--out", "trial.json", { cwd: directory }));
  const { grades, model, layout } = JSON.parse(readFileSync(path.join(directory, "trial.json"), "utf8"));
  assert.equal(layout, "randomised blocks");
  assert.deepEqual(grades.map(({ grade, plots }) => [grade, plots]), [["", 12], ["number one", 12], ["small", 12]]);
  assert.deepEqual(grades[0].table.map(({ term, df }) => [term, df]), [["block", 3], ["treatment", 2], ["error", 6]]);
  // Reckoned by hand from the farm file, kilograms on 20 m2 put on a hectare: (10.0 + 10.8 + 9.2 + 10.2) / 4 x 500, and so on.
  assert.deepEqual(grades[0].means.map(({ name, mean }) => [name, Math.round(mean * 1e6) / 1e6]), [["irrigated", 5025], ["deficit", 4562.5], ["rainfed", 3562.5]]);
  for (const { mean, low, high } of grades[0].means) assert.ok(low < mean && mean < high && Math.abs(low + high - 2 * mean) < 1e-6);
  assert.deepEqual(model.map((row) => row.readings.count), [3, 3, 3]);
  assert.ok(model[2].relative < model[0].relative && model[2].measured_most < model[1].measured_most);
  const text = ok(waterturn(...of, { cwd: directory }));
  for (const words of ["yield, all grades, per ha: 12 plots", "95 % confidence interval", "what the balance says", "3 readings of soil water: bias"]) assert.ok(text.includes(words), words);
  // A dig of some square metres is no yield of the field.
  assert.equal(json(directory, "--field", PLOT).results[0].measured, null);
});

test("what is printed names how it was made too, and is made again from where it was kept", (t) => {
  const directory = demoFiles(t);
  const of = ["farm.json", "--today", DEMO_DAY];
  const prints = [
    ["replay", "seasons.txt", ...of, "--field", PLOT, "--what-if", "irrigation = none"],
    ["replay", "harvest.txt", ...of, "--by", "harvest", "--units", "us"],
    ["replay", "ledger.csv", ...of, "--csv"],
    ["replay", "one ledger.csv", ...of, "--csv", "--field", PLOT],
    ["replay", "days.csv", ...of, "--csv", "--what-if", "irrigation.share = 50 %"],
    ["trial", "trial.txt", ...of],
    ["fit", "fit.txt", ...of, "--field", "Trial plot A", "--parameters", "field_capacity"],
    ["sweep", "sweep.csv", ...of, "--field", PLOT, "--vary", "share = 0.5, 1"],
  ];
  for (const [command, name, ...args] of prints) {
    const text = kept(directory, name, command, ...args);
    assert.match(text, /"sha256":"[0-9a-f]{64}"/, name);
    assert.match(verified(directory, command, name), /every byte the same/, name);
    writeFileSync(path.join(directory, name), forged(text));
    assert.match(waterturn(command, "--verify", name, { cwd: directory }).stderr, /it was changed, from byte \d+ on/, name);
  }
});

test("an output says which command makes it again, and does not pass as another's", (t) => {
  const directory = demoFiles(t);
  kept(directory, "sweep.csv", "sweep", "farm.json", "--today", DEMO_DAY, "--field", PLOT, "--vary", "share = 1");
  assert.match(waterturn("replay", "--verify", "sweep.csv", { cwd: directory }).stderr, /found an output of `waterturn sweep`, expected one of `waterturn replay`/);
  writeFileSync(path.join(directory, "odd.txt"), 'made: {"command": "replay", "form": "poem", "arguments": []}\n');
  assert.match(waterturn("replay", "--verify", "odd.txt", { cwd: directory }).stderr, /names no form of the output/);
  writeFileSync(path.join(directory, "cut.txt"), 'made: {"command": "replay", "fo');
  assert.match(waterturn("replay", "--verify", "cut.txt", { cwd: directory }).stderr, /found no note on how it was made/);
});

test("rows of --csv go to a file of that kind alone", (t) => {
  const directory = demoFiles(t);
  ok(run(directory, "--csv", "--out", "ledger.csv"));
  assert.equal(readFileSync(path.join(directory, "ledger.csv"), "utf8"), kept(directory, "printed.csv", "replay", "farm.json", "--today", DEMO_DAY, "--csv"));
  const wrong = run(directory, "--csv", "--out", "ledger.svg");
  assert.equal(wrong.status, 2);
  assert.match(wrong.stderr, /--out: found ledger\.svg, expected a name that ends in \.csv/);
});

test("inputs that moved are told beside --verify", (t) => {
  const directory = demoFiles(t);
  const here = { cwd: directory };
  ok(waterturn("import", "farm.json", "--db", "farm.db", here));
  ok(waterturn("morning", "--db", "farm.db", "--today", DEMO_DAY, here));
  kept(directory, "db.txt", "replay", "--db", "farm.db", "--field", PLOT);
  kept(directory, "file.txt", "replay", "farm.json", "--today", DEMO_DAY, "--field", PLOT);
  renameSync(path.join(directory, "farm.db"), path.join(directory, "moved.db"));
  renameSync(path.join(directory, "farm.json"), path.join(directory, "moved.json"));
  assert.match(waterturn("replay", "--verify", "db.txt", here).stderr, /farm\.db: found no database here/);
  assert.match(verified(directory, "replay", "db.txt", "--db", "moved.db"), /every byte the same/);
  assert.notEqual(waterturn("replay", "--verify", "file.txt", here).status, 0);
  assert.match(verified(directory, "replay", "file.txt", "moved.json"), /every byte the same/);
});

test("a layout of one's own is an input too", (t) => {
  const directory = demoFiles(t);
  const own = JSON.parse(readFileSync(path.join(root, "config/layouts/plain.json"), "utf8"));
  writeFileSync(path.join(directory, "own.json"), JSON.stringify({ ...own, title: "Own" }));
  const farm = path.join(directory, "farm.json");
  writeFileSync(farm, readFileSync(farm, "utf8").replaceAll('"layout": "plain"', '"layout": "own"'));
  const here = { cwd: directory, env: { WATERTURN_LAYOUTS: directory } };
  const { made } = JSON.parse(ok(waterturn("replay", "farm.json", "--today", DEMO_DAY, "--field", PLOT, "--out", "out.json", here)) || readFileSync(path.join(directory, "out.json"), "utf8"));
  assert.deepEqual(made.inputs.map(({ what }) => what), ["farm", "source valley station", "layout own", "source ten-day forecast"]);
  assert.match(ok(waterturn("replay", "--verify", "out.json", here)), /every byte the same/);
  writeFileSync(path.join(directory, "own.json"), JSON.stringify({ ...own, title: "Changed" }));
  assert.match(waterturn("replay", "--verify", "out.json", here).stderr, /layout own: it had the SHA-256/);
});

test("an output that was changed, and one whose inputs were, do not pass", (t) => {
  const directory = demoFiles(t);
  const file = path.join(directory, "out.csv");
  ok(run(directory, "--field", PLOT, "--out", "out.csv"));
  const good = readFileSync(file, "utf8");
  writeFileSync(file, good.replace(/163\.\d/, "173.3"));
  const forged = waterturn("replay", "--verify", "out.csv", { cwd: directory });
  assert.equal(forged.status, 1);
  assert.match(forged.stderr, /it was changed, from byte \d+ on/);
  writeFileSync(file, good);
  const observed = path.join(directory, "weather/observed.csv");
  writeFileSync(observed, readFileSync(observed, "utf8").replace("2026-05-02", "2026-05-02 ").replace("2026-05-02 ", "2026-05-02").concat("\n"));
  const moved = waterturn("replay", "--verify", "out.csv", { cwd: directory });
  assert.equal(moved.status, 1);
  assert.match(moved.stderr, /source valley station: it had the SHA-256 [0-9a-f]{64}, and now has [0-9a-f]{64}/);
  const none = waterturn("replay", "--verify", "farm.json", { cwd: directory });
  assert.equal(none.status, 1);
});

test("wrong settings are told with their scenario and what would be right", (t) => {
  const directory = demoFiles(t);
  const cases = [
    ["planting:Trial plt B.kcb.mid = 1", /found nothing of that name in the farm/],
    ["planting:OTHER FIELD.kcb.mid = 1", /planting:OTHER FIELD\.kcb\.mid: found nothing of that name in the farm, expected "planting:NAME\.KEY"/],
    [`planting:${PLOT}.allowed_depletion = 60`, /plantings\[7\]\.allowed_depletion: found 60, expected 0\.01 to 1/],
    [`planting:${PLOT}.kcb.md = 1`, /found the unknown key "md"/],
    ["irrigation = sometimes", /found sometimes, expected "recorded", "none" or "automatic"/],
    ["irrigation.often = 3", /found the unknown setting "irrigation.often"/],
    ["irrigation.depth = 20 mm", /expected irrigation\.days or irrigation\.every/],
    ["irrigation.every = 7", /expected the depth of the given days/],
    ["irrigation.stop = summer", /found summer, expected "development", "mid", "late" or a date/],
    ["weather.years = 1.5", /found 1\.5, expected a whole number, -300 to 300/],
    ["moon = full", /found an unknown setting/],
    ["nonsense", /expected a setting and its value/],
    ["irrigation:Trial plot Z = none", /found no field of that name/],
    ["irrigation:Trial plot C = automatic", /found a field without an irrigation system/],
    [`planting:${PLOT}.planted = 2026-04-01`, /start/],
  ];
  for (const [words, expected] of cases) {
    const done = run(directory, "--what-if", words);
    assert.notEqual(done.status, 0, words);
    assert.match(done.stderr, expected, words);
    assert.equal(done.stdout, "", words);
  }
});

/** Places of a picture's texts and points. */
function laidOut(file) {
  const svg = readFileSync(file, "utf8");
  const texts = [...svg.matchAll(/<text x="([\d.]+)" y="([\d.]+)"([^>]*)>([^<]*)<\/text>/g)].map(([, x, y, rest, words]) => ({ x: Number(x), y: Number(y), words, middle: rest.includes("middle"), end: rest.includes("end") }));
  const points = [...svg.matchAll(/<circle cx="([\d.]+)" cy="([\d.]+)" r="(\d+)" fill="(none|#\w+)"/g)].map(([, x, y, r, fill]) => ({ x: Number(x), y: Number(y), r: Number(r), ring: fill === "none" }));
  return { svg, texts, points };
}

test("names of scenarios stay within the picture, and numbers of points stand apart", (t) => {
  const directory = demoFiles(t);
  const long = "irrigation = automatic; irrigation.refill = 80 %; irrigation.limit = 150 mm; supply:Creek pump.hours_per_day = 6 h; irrigation.stop = late";
  ok(run(directory, "--field", PLOT, ...["irrigation = none", "irrigation = automatic", "irrigation = recorded", long].flatMap((words) => ["--what-if", words]), "--out", "out.svg"));
  const { texts, points } = laidOut(path.join(directory, "out.svg"));
  const wide = (text) => 11 * text.words.replaceAll("&amp;", "&").length;
  for (const text of texts) assert.ok(text.x + (text.end ? 0 : text.middle ? wide(text) / 2 : wide(text)) <= 1600, text.words);
  const numbers = texts.filter((text) => text.middle && /^\d$/.test(text.words)).slice(-5);
  assert.deepEqual(numbers.map(({ words }) => words), ["0", "1", "2", "3", "4"]);
  assert.equal(points.length, 5);
  for (const [i, number] of numbers.entries()) {
    for (const [k, point] of points.entries()) if (k !== i && (Math.abs(point.x - points[i].x) > 1 || Math.abs(point.y - points[i].y) > 1)) assert.ok(Math.hypot(number.x - point.x, number.y - 7 - point.y) > point.r, `${i} on the point of ${k}`);
    for (const other of numbers.slice(0, i)) assert.ok(Math.hypot(number.x - other.x, number.y - other.y) > 12, `${i} on ${other.words}`);
  }
});

test("a trial's picture has what was measured beside what the balance says", (t) => {
  const directory = demoFiles(t);
  ok(waterturn("trial", "farm.json", "--today", DEMO_DAY, "--out", "trial.svg", { cwd: directory }));
  ok(waterturn("trial", "farm.json", "--today", DEMO_DAY, "--out", "trial.json", { cwd: directory }));
  const { svg, points } = laidOut(path.join(directory, "trial.svg"));
  assert.match(svg, /dots: by the balance; rings: as measured/);
  const { model } = JSON.parse(readFileSync(path.join(directory, "trial.json"), "utf8"));
  const rings = points.filter(({ ring }) => ring), dots = points.filter(({ ring }) => !ring);
  assert.deepEqual([rings.length, dots.length], [3, 3]);
  // Downwards by as much as the yield is less than the best one's; the first treatment is the best by both.
  const scale = (rings[2].y - rings[0].y) / (1 - model[2].measured_most);
  for (const i of [1, 2]) {
    assert.equal(rings[i].x, dots[i].x);
    assert.ok(Math.abs(rings[i].y - rings[0].y - scale * (1 - model[i].measured_most)) < 0.2);
    assert.ok(Math.abs(dots[i].y - dots[0].y - scale * (1 - model[i].relative_most)) < 0.2);
  }
});

test("a season without weather has no numbers, not zeros", (t) => {
  const directory = demoFiles(t);
  const [, other] = json(directory, "--field", PLOT, "--what-if", "weather.years = -1").results;
  assert.equal(other.weather_missing, "2026-05-01");
  for (const part of [other.season, other.value]) for (const [term, value] of Object.entries(part)) assert.equal(value, null, term);
  assert.match(ok(run(directory, "--field", PLOT, "--what-if", "weather.years = -1")), /no weather from 2026-05-01 on[\s\S]*\n {2}rain +163\.3 +-\n/);
});

test("the picture is well-formed, has a line for each scenario and no script", (t) => {
  const directory = demoFiles(t);
  ok(run(directory, "--field", "North pivot", "--what-if", "irrigation = none", "--what-if", "irrigation = automatic", "--out", "out.svg"));
  const svg = readFileSync(path.join(directory, "out.svg"), "utf8");
  assert.match(svg, /^<svg /);
  assert.equal(svg.match(/class="line"/g).length, 3 * 3); // key, water, depletion
  assert.equal(svg.match(/<circle /g).length, 3);
  assert.doesNotMatch(svg, /<script|href|NaN|inf/);
  const open = svg.match(/<(svg|text|style|metadata)[ >]/g).length;
  assert.equal(svg.match(/<\/(svg|text|style|metadata)>/g).length, open);
});
