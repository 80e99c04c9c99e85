// Trials through the program, against R's own aov() on data sets that come with R (fixtures/published/aov.json, which
// tests/tools/aov.R makes; where Rscript is at hand it is made again and must be the same).
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { root, scratch, waterturn } from "../support/program.mjs";

const sets = JSON.parse(readFileSync(path.join(root, "fixtures/published/aov.json"), "utf8"));
assert.equal(sets.length, 6);

/** A farm whose trial is the data set: each treatment a field, each value the harvest of a plot. */
function farmOf(set) {
  const treatments = [...new Map(set.plots.map((plot) => [plot.treatment, plot])).values()];
  const split = set.layout === "split plot";
  const name = (index) => `plot ${index + 1}`;
  return {
    farm: { name: "Trial farm" },
    stations: [{ name: "S", latitude: 40, longitude: -3, elevation: "100 m" }],
    sources: [{ name: "w", station: "S", layout: "plain", address: "file:weather.csv", kind: "observed" }],
    soils: [{ name: "loam", texture: "loam" }],
    fields: treatments.map((plot) => ({ name: plot.treatment, area: "1 ha", station: "S", soil: "loam", system: { kind: "none" } })),
    plantings: treatments.map((plot) => ({ field: plot.treatment, crop: "sweet potato", region: "Mediterranean", planted: "2026-05-01" })),
    records: set.plots.map((plot, i) => ({ field: plot.treatment, date: "2026-05-03", kind: "harvest", yield: plot.value, plot: name(i) })),
    trials: [{
      name: set.name,
      layout: set.layout,
      treatments: treatments.map((plot) => ({ name: plot.treatment, field: plot.treatment, ...(split ? { whole: plot.whole, sub: plot.sub } : {}) })),
      plots: set.plots.map((plot, i) => ({ name: name(i), treatment: plot.treatment, ...(plot.block ? { block: plot.block } : {}) })),
    }],
  };
}

const WEATHER = "date,tmax_c,tmin_c,rain_mm\n2026-05-01,25,12,0\n2026-05-02,26,12,3\n2026-05-03,24,11,0\n";

function trialOf(t, farm, ...options) {
  const directory = scratch(t);
  writeFileSync(path.join(directory, "weather.csv"), WEATHER);
  writeFileSync(path.join(directory, "farm.json"), JSON.stringify(farm));
  return { directory, done: waterturn("trial", path.join(directory, "farm.json"), "--out", path.join(directory, "out.json"), ...options) };
}

function report(t, farm, ...options) {
  const { directory, done } = trialOf(t, farm, ...options);
  assert.equal(done.status, 0, done.stderr);
  return JSON.parse(readFileSync(path.join(directory, "out.json"), "utf8"));
}

function near(actual, expected, tolerance, what) {
  if (expected === null) return assert.equal(actual, null, what);
  assert.ok(Math.abs(actual - expected) <= tolerance * Math.max(1e-300, Math.abs(expected)), `${what}: ${actual}, R has ${expected}`);
}

// Sums of squares, F and p: within 1e-9 of R's value, relative; R and this program sum in different orders. Small p lose
// digits with F.
for (const set of sets) {
  test(`the table of ${set.name} is that of R's aov()`, (t) => {
    const [all] = report(t, farmOf(set)).grades;
    assert.deepEqual(all.table.map((row) => row.term), set.table.map((row) => row.term));
    for (const [i, row] of set.table.entries()) {
      assert.equal(all.table[i].df, row.df, row.term);
      near(all.table[i].sum_square, row.sum_square, 1e-9, `${row.term}, sum of squares`);
      near(all.table[i].f, row.f, 1e-9, `${row.term}, F`);
      near(all.table[i].p, row.p, 1e-8, `${row.term}, p`);
    }
  });

  test(`means of ${set.name} and their intervals are those of R`, (t) => {
    const [all] = report(t, farmOf(set)).grades;
    const kind = set.layout === "split plot" ? "whole plot" : "treatment";
    const means = new Map(all.means.filter((mean) => mean.of === kind).map((mean) => [mean.name, mean]));
    assert.equal(means.size, set.means.length);
    for (const mean of set.means) {
      near(means.get(mean.name).mean, mean.mean, 1e-12, mean.name);
      near(means.get(mean.name).low, mean.low, 1e-9, mean.name);
      near(means.get(mean.name).high, mean.high, 1e-9, mean.name);
    }
  });
}

test("R says today what the fixture says", { skip: spawnSync("Rscript", ["-e", "library(MASS)"]).status !== 0 && "R with its package MASS is not installed" }, () => {
  const run = spawnSync("Rscript", [path.join(root, "tests/tools/aov.R")], { encoding: "utf8" });
  assert.equal(run.status, 0, run.stderr);
  const again = JSON.parse(run.stdout);
  assert.equal(again.length, sets.length);
  for (const [i, set] of sets.entries()) {
    assert.deepEqual(again[i].plots, set.plots, set.name);
    for (const [k, row] of set.table.entries()) {
      near(again[i].table[k].sum_square, row.sum_square, 1e-10, `${set.name}, ${row.term}`);
      near(again[i].table[k].p, row.p, 1e-9, `${set.name}, ${row.term}`);
    }
  }
});

test("grades are judged one by one, and a plot without a grade has none of it", (t) => {
  const farm = farmOf(sets.find((set) => set.name === "PlantGrowth"));
  for (const [i, record] of farm.records.entries()) record.grade = i === 0 ? "first" : "second";
  const { grades } = report(t, farm);
  assert.deepEqual(grades.map((grade) => [grade.grade, grade.plots]), [["", 30], ["first", 30], ["second", 30]]);
  // The one plot of grade "first" has 4.17 (PlantGrowth's first value), the other nine of its treatment 0.
  near(grades[1].means[0].mean, 0.417, 1e-12, "first grade");
});

test("plots with an area have their yields put on a hectare", (t) => {
  const farm = farmOf(sets[0]);
  const plain = report(t, farm).grades[0].means;
  for (const plot of farm.trials[0].plots) plot.area = "40 m2";
  for (const [i, mean] of report(t, farm).grades[0].means.entries()) near(mean.mean, plain[i].mean * 250, 1e-12, mean.name);
});

test("a split plot with a plot missing is refused, and says why", (t) => {
  const farm = farmOf(sets.find((set) => set.name === "oats"));
  farm.records.pop();
  const { done } = trialOf(t, farm);
  assert.equal(done.status, 1);
  assert.match(done.stderr, /every sub-plot once in every whole plot of every block/);
});

test("randomised blocks with a plot missing are judged by what is there", (t) => {
  const farm = farmOf(sets.find((set) => set.name === "npk"));
  farm.records.pop();
  const [all] = report(t, farm).grades;
  assert.deepEqual(all.table.map((row) => row.df), [5, 1, 16]);
});

test("a plot without its block, of no treatment, or twice is told with its place", (t) => {
  const farm = farmOf(sets.find((set) => set.name === "npk"));
  delete farm.trials[0].plots[0].block;
  farm.trials[0].plots[1].treatment = "nitrogn";
  farm.trials[0].plots[2].name = "plot 4";
  const { done } = trialOf(t, farm);
  assert.equal(done.status, 1);
  assert.match(done.stderr, /trials\[0\]\.plots\[0\]\.block: found none, expected the plot's block: the layout is randomised blocks/);
  assert.match(done.stderr, /trials\[0\]\.plots\[1\]\.treatment: found "nitrogn", expected a treatment of the trial/);
  assert.match(done.stderr, /trials\[0\]\.plots\[3\]\.name: found "plot 4" again/);
});

test("a harvest of a plot that the trial does not have is counted, not lost without a word", (t) => {
  const farm = farmOf(sets[0]);
  farm.records[0].plot = "plot 99";
  const out = report(t, farm);
  assert.equal(out.harvests_of_unknown_plots, 1);
  assert.equal(out.grades[0].plots, 29);
});

test("a trial goes through the database and comes back the same", (t) => {
  const { directory } = trialOf(t, farmOf(sets.find((set) => set.name === "oats")));
  const db = path.join(directory, "farm.db");
  const farm = path.join(directory, "farm.json");
  assert.equal(waterturn("import", farm, "--db", db).status, 0);
  const exported = path.join(directory, "exported.json");
  assert.equal(waterturn("export", "--db", db, exported).status, 0);
  const before = JSON.parse(readFileSync(path.join(directory, "out.json"), "utf8"));
  const after = waterturn("trial", exported, "--out", path.join(directory, "after.json"));
  assert.equal(after.status, 0, after.stderr);
  const again = JSON.parse(readFileSync(path.join(directory, "after.json"), "utf8"));
  assert.deepEqual(again.grades[0].table, before.grades[0].table);
});
