// Stations that fill a station's gaps: how far they are, and which of them measured what. Places and weather are invented.
import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { fillIn, servePages } from "../support/book.mjs";
import { scratch, unmade, waterturn } from "../support/program.mjs";

const TODAY = "2024-06-17";
const STATIONS = [
  { name: "yard", latitude: 38.2, longitude: -98.6, elevation: "512 m", neighbours: ["mesa", "hill", "far town"] },
  { name: "hill", latitude: 38.32, longitude: -98.7, elevation: "690 m" },
  { name: "far town", latitude: 39.4, longitude: -97.1, elevation: "360 m" },
  { name: "mesa", latitude: 38.3, longitude: -98.6, elevation: "1100 m" },
];

function ok(done) {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout.replaceAll("\u00a0", " ");
}

/** The yard has no wind, the mesa no rain, and the hill both. */
function farm(t) {
  const directory = scratch(t), db = path.join(directory, "farm.db"), file = path.join(directory, "farm.json");
  const days = Array.from({ length: 16 }, (_, i) => `2024-06-${String(i + 1).padStart(2, "0")}`);
  const table = (header, cells) => [header, ...days.map((day, i) => `${day},${cells(i)}`), ""].join("\n");
  writeFileSync(path.join(directory, "yard.csv"), table("date,tmax_c,tmin_c,rs_mj_m2", (i) => `${28 + (i % 3)},${14 + (i % 4)},${24 + (i % 5)}`));
  writeFileSync(path.join(directory, "mesa.csv"), table("date,tmax_c,tmin_c,wind_m_s", (i) => `${24 + (i % 3)},${10 + (i % 4)},${(3 + (i % 4) / 2)}`));
  writeFileSync(path.join(directory, "hill.csv"), table("date,tmax_c,tmin_c,wind_m_s,rain_mm", (i) => `${27 + (i % 3)},${13 + (i % 4)},${2 + (i % 4) / 2},${i % 5 === 0 ? 6 : 0}`));
  const sources = ["yard", "mesa", "hill"].map((name) => ({ name: `${name} log`, station: name, layout: "plain", address: `file:${directory}/${name}.csv`, kind: "observed" }));
  writeFileSync(file, JSON.stringify({
    farm: { name: "Test farm" }, stations: STATIONS, sources,
    soils: [{ name: "loam", texture: "loam" }],
    fields: [{ name: "Plot", station: "yard", soil: "loam", area: "10 ha", system: { kind: "centre pivot", flow: "100 m3/h" } }],
    plantings: [{ field: "Plot", crop: "maize, grain", planted: "2024-06-01" }],
  }));
  ok(waterturn("import", file, "--db", db));
  ok(waterturn("morning", "--db", db, "--today", TODAY, "--tries", "1"));
  return db;
}

/** The great circle by the spherical law of cosines, on the mean radius of GRS 80. */
function distance(a, b) {
  const rad = Math.PI / 180;
  return 6371.0088 * Math.acos(Math.sin(a.latitude * rad) * Math.sin(b.latitude * rad) + Math.cos(a.latitude * rad) * Math.cos(b.latitude * rad) * Math.cos((b.longitude - a.longitude) * rad));
}

test("the_sources_say_how_far_neighbours_are_and_warn_of_far_ones", (t) => {
  const db = farm(t);
  const { sources } = JSON.parse(ok(waterturn("sources", "--db", db, "--today", TODAY, "--json")));
  const { neighbours } = sources.find((source) => source.station === "yard");
  assert.deepEqual(neighbours.map((n) => n.name), STATIONS[0].neighbours);
  for (const neighbour of neighbours) {
    const other = STATIONS.find((station) => station.name === neighbour.name);
    assert.ok(Math.abs(neighbour.distance_km - distance(STATIONS[0], other)) < 1e-6, neighbour.name);
    assert.equal(neighbour.higher_m, parseFloat(other.elevation) - 512);
  }
  // Beyond 50 km, or 500 m higher or lower (common practice, no source).
  assert.deepEqual(neighbours.map((n) => n.far), [true, false, true]);
  assert.equal(neighbours[1].text, "hill, 16 km away, 178 m higher");
  assert.match(neighbours[2].text, /^far town, 186 km away, 152 m lower: far/);
  assert.deepEqual(sources.find((source) => source.station === "hill").neighbours, []);
  assert.match(ok(waterturn("sources", "--db", db, "--today", TODAY)), /Gaps filled from: mesa, 11 km away, 588 m higher: far[^\n]*; hill, 16 km/);
});

test("the_workings_name_the_neighbour_that_measured", (t) => {
  const db = farm(t);
  const source = (key, ...more) => JSON.parse(ok(waterturn("workings", "Plot", "2024-06-16", "--db", db, "--today", TODAY, "--json", ...more))).sections.flatMap((section) => section.lines).find((line) => line.key === key).source;
  assert.equal(source("tmax"), "measured");
  assert.equal(source("u2"), "from mesa, 11 km away, 588 m higher");
  assert.equal(source("rain"), "from hill, 16 km away, 178 m higher");
  assert.equal(source("rain", "--units", "us"), "from hill, 9.9 mi away, 584 ft higher");
});

test("a neighbour's source that is removed has the ledgers computed anew that rested on it", async (t) => {
  const db = farm(t), file = `${db}.json`;
  const ledger = () => ok(waterturn("ledger", "Plot", "--db", db, "--today", TODAY, "--csv"));
  const before = ledger(), { address } = await servePages(t, ["--db", db, "--today", TODAY]);
  const done = await fillIn(address, "/source/mesa%20log/remove", { confirm: "mesa log" });
  assert.equal(done.status, 303);
  assert.notEqual(ledger(), before);
  ok(waterturn("export", file, "--db", db));
  assert.equal(ledger(), unmade(ok(waterturn("replay", file, "--today", TODAY, "--field", "Plot", "--csv"))));
});
