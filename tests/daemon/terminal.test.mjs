// What the commands print for people: lines that fit a terminal of 80 columns and a mail, columns that stand below each other.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { closeSync, openSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { demoDatabase } from "../support/pages.mjs";
import { DEMO_DAY, demoBook, program, scratch, unwrapped, waterturn } from "../support/program.mjs";

const ok = (done) => {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
};
const width = (line) => [...line].length;

test("calls and turns are printed in lines of at most 80 characters, and say all that the page says", async (t) => {
  const { db } = await demoBook(t);
  for (const units of ["metric", "us"]) {
    const ask = (command, ...more) => ok(waterturn(command, "--db", db, "--today", DEMO_DAY, "--units", units, ...more));
    const calls = ask("call"), turns = ask("turns");
    for (const line of [...calls.split("\n"), ...turns.split("\n")]) assert.ok(width(line) <= 80, line);
    const whole = unwrapped(calls);
    for (const { sentence, why, turn, notes } of JSON.parse(ask("call", "--json")).fields)
      for (const said of [sentence, why, turn, ...notes.map((note) => `! ${note}`)].filter(Boolean)) assert.ok(whole.includes(`    ${said}\n`), said);
    assert.match(whole, /Check the soil with a probe or by\s+feel first\.\n$/);
  }
});

test("a terminal in Spanish is spoken to in Spanish, as its environment says it", async (t) => {
  const { db } = await demoBook(t);
  const title = (env) => ok(waterturn("call", "--db", db, "--today", DEMO_DAY, { env })).split("\n")[0];
  assert.equal(title({ LANG: "es_MX.UTF-8" }), "Quillmere Farm, martes 14 de julio");
  assert.equal(title({ LANG: "en_US.UTF-8", LC_ALL: "es_ES" }), "Quillmere Farm, martes 14 de julio");
  assert.equal(title({ LANG: "es_ES.UTF-8", LC_ALL: "C.UTF-8" }), "Quillmere Farm, Tuesday 14 July");
});

test("what hindsight does not know yet keeps its column", async (t) => {
  const { db } = await demoBook(t);
  assert.equal(waterturn("morning", "--db", db, "--today", "2026-07-15", "--stored").status, 0);
  const lines = ok(waterturn("hindsight", "--db", db, "--today", "2026-07-15")).split("\n");
  const head = lines.findIndex((line) => /^ {2} +ahead +before/.test(line)), rows = lines.slice(head + 1, lines.indexOf("", head));
  assert.match(lines[head - 1], /^ {2} +Days +Calls +Settled +Dry +On the +Later or +Mean$/);
  const values = rows.filter((row) => /^ +\d/.test(row));
  assert.ok(values.some((row) => row.endsWith("–")), rows.join("\n"));
  assert.equal(new Set(values.map(width)).size, 1, rows.join("\n"));
});

test("tables have headings in the language of the rest, and of the units of the reader", async (t) => {
  const db = await demoDatabase(t, undefined, ["2026-07-04", "2026-07-08", "2026-07-11"]);
  const print = (command, ...more) => ok(waterturn(command, ...more, "--db", db, "--today", DEMO_DAY, { env: { LANG: "es_MX.UTF-8" } }));
  assert.match(print("sources"), /^Fuente +Estación +Clase +Estado +Último éxito +Último intento +Días de\n/m);
  const hindsight = print("hindsight", "--units", "us");
  for (const heading of [/^ {2}Dicho +Veces +Media +Vino$/m, /^ {2} +Días de +Avisos +Resueltos +Seco +Ese día +Después +Días de$/m, /^ {2}Puntuación de Brier \(0 es perfecta\): 0,\d+\./m]) assert.match(hindsight, heading);
  for (const text of [print("sources"), hindsight, print("workings", "North pivot", "2026-07-10")])
    assert.doesNotMatch(text.replace(/ten-day forecast|valley (?:floor|station)|Tannow/g, ""), /\b(said|times|mean|came|days|calls|with|odd|behind|source|state|score)\b/i);
  assert.match(print("workings", "North pivot", "2026-07-10"), /^ {6}con [A-Z]/m);
});

test("calls of another morning say so before all else", async (t) => {
  const { db } = await demoBook(t);
  assert.match(ok(waterturn("call", "--db", db, "--today", "2026-07-20")), /\n! Last run on Tuesday at 0:00: these calls are old\n/);
  assert.doesNotMatch(ok(waterturn("call", "--db", db, "--today", DEMO_DAY)), /Last run/);
});

test("what a full disk swallowed is no success, however much it was", async (t) => {
  const { db } = await demoBook(t);
  const from = ["--db", db, "--today", DEMO_DAY];
  const full = openSync("/dev/full", "w");
  t.after(() => closeSync(full));
  for (const args of [["--help"], ["call", "--help"], ["call", ...from], ["call", "--json", ...from], ["ledger", "North pivot", ...from], ["replay", "--csv", ...from], ["trial", ...from], ["people", "--db", db], ["page", "/", ...from]]) {
    const done = spawnSync(program, args, { stdio: ["ignore", full, "pipe"], encoding: "utf8" });
    assert.equal(done.status, 1, args.join(" "));
    assert.match(done.stderr, /^standard output: /, args.join(" "));
  }
});

test("the tables of sources and hindsight stand in columns, and say nothing of fields where nothing grows", async (t) => {
  const ends = (farm) => {
    farm.plantings.find(({ field }) => field === "Seed beds").stage_days = [5, 5, 5, 5];
    return farm;
  };
  const db = await demoDatabase(t, ends, ["2026-07-12", "2026-07-13"]);
  const table = (command) => ok(waterturn(command, "--db", db, "--today", DEMO_DAY)).split("\n");
  const sources = table("sources").filter((line) => /^(Source|valley station|ten-day forecast) {2}/.test(line));
  assert.equal(sources.length, 3);
  for (const column of ["Station", "Kind", "State", "Last success", "Last try", "Days"]) {
    const at = sources[0].indexOf(`  ${column}`);
    for (const line of sources) assert.match(line.slice(at, at + 3), /^ {2}\S/, line);
  }
  const calls = table("hindsight").filter((line) => /^2026-07-1[23] /.test(line));
  assert.equal(calls.length, 2 * 8, "eight fields of nine");
  assert.ok(!calls.some((line) => line.includes("Seed beds")));
  assert.equal(new Set(calls.map((line) => line.search(/ {2}(water|rain|hold|cannot)/))).size, 1);
});

test("people says so when nobody was let in", async (t) => {
  const { db } = await demoBook(t);
  assert.match(ok(waterturn("people", "--db", db)), /no device was let in yet: .*\n`waterturn pair NAME` makes a link/);
});

test("one of a kind is one, and more are many", (t) => {
  const directory = scratch(t), farm = path.join(directory, "farm.json"), days = path.join(directory, "days.csv");
  writeFileSync(farm, JSON.stringify({ farm: { name: "Gate" }, supplies: [{ name: "well", flow: "80 m3/h" }] }));
  assert.equal(ok(waterturn("check", farm)), "Gate: 0 fields, 0 plantings, 0 records, 0 stations, 1 supply\n");
  writeFileSync(days, "date,tmax_c\n2026-07-01,30\n");
  assert.match(ok(waterturn("layout", "try", days)), /plain: 1 day, 1 value\n[^]*observed days, 1 day from/);
});

test("no two names of the ledger's columns run together, and no line ends in blanks", async (t) => {
  const { db } = await demoBook(t);
  const lines = ok(waterturn("ledger", "Seed beds", "--db", db, "--today", DEMO_DAY)).split("\n");
  assert.match(lines[1], /^date +stage +ET0 +Kc +Ks +ETa +rain +runoff +net irr\. +percol\. +Dr +allowed$/);
  assert.deepEqual(lines.filter((line) => /\s$/.test(line)), []);
  assert.ok(lines.some((line) => line.endsWith("  past allowed")));
});

test("the commands' summaries stand below each other", () => {
  const lines = ok(waterturn("--help")).split("\n").filter((line) => /^ {2}[a-z]/.test(line));
  assert.ok(lines.length > 20);
  for (const line of lines) assert.match(line, /^.{22} \S/, line);
});
