// A large invented farm, and its invented weather, for what has to hold at size.
import { spawnSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import path from "node:path";
import { tool, waterturn } from "./program.mjs";

const CROPS = ["maize, grain", "sweet potato", "cotton", "soybean"];

function weather(directory, name, ...args) {
  const made = spawnSync(tool("make_weather"), ["--seed", "1", "--lat", "33.2", "--elev", "84", ...args], { encoding: "utf8", maxBuffer: 1 << 28 });
  if (made.status !== 0) throw new Error(made.stderr);
  writeFileSync(path.join(directory, name), made.stdout);
}

/** A farm of so many fields with a planting in each of `years`, ten on a well (`wells` false: each on its own), in a database: its path.
 * Weather from the first year on for `days` days. */
export function largeFarm(directory, { fields, years, days, forecast, wells = true }) {
  weather(directory, "days.csv", "--from", `${years[0]}-01-01`, "--days", String(days));
  if (forecast) weather(directory, "forecast.csv", "--from", `${years[0]}-01-01`, "--days", String(days + 20), "--forecast", forecast);
  const names = Array.from({ length: fields }, (_, i) => `Field ${i}`);
  const source = (name, kind) => ({ name: kind, station: "yard", layout: "plain", address: `file:${path.join(directory, name)}`, kind });
  const farm = {
    farm: { name: "Large farm", units: "us", time_zone: "America/Chicago" },
    stations: [{ name: "yard", latitude: 33.2, longitude: -88.9, elevation: "84 m" }],
    sources: [source("days.csv", "observed"), ...(forecast ? [source("forecast.csv", "forecast")] : [])],
    soils: [{ name: "bottom", texture: "silt loam", curve_number: 75 }],
    supplies: Array.from({ length: wells ? Math.ceil(fields / 10) : 0 }, (_, i) => ({ name: `well ${i}`, flow: "800 gal/min", hours_per_day: "20 h" })),
    fields: names.map((name, i) => ({ name, area: "130 ac", station: "yard", soil: "bottom", ...(wells ? { supply: `well ${Math.floor(i / 10)}` } : {}), system: { kind: "centre pivot", flow: "800 gal/min", hours_per_day: "20 h" } })),
    plantings: names.flatMap((field, i) => years.map((year) => ({ field, crop: CROPS[i % CROPS.length], planted: `${year}-04-${String(1 + (i % 28)).padStart(2, "0")}`, start: `${year}-04-01` }))),
    records: names.flatMap((field, i) => years.flatMap((year) => [0, 7, 14, 21].map((k) => ({ field, date: `${year}-06-${String(1 + ((i + k) % 28)).padStart(2, "0")}`, kind: "irrigation", depth: "0.9 in" })))),
  };
  const file = path.join(directory, "farm.json"), db = path.join(directory, "farm.db");
  writeFileSync(file, JSON.stringify(farm));
  const done = waterturn("import", file, "--db", db);
  if (done.status !== 0) throw new Error(done.stderr);
  return db;
}
