// What the book itself refuses, on pages in both languages: every sentence is one of the page's language.
import assert from "node:assert/strict";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, demoBook, demoFarm, demoWeather, dump, root, runSql, scratch, serveFiles, waterturn } from "../support/program.mjs";
import { ask, fillIn, plain, servePages, wordsOf } from "../support/book.mjs";

const link = (name, tail = "") => `/field/${encodeURIComponent(name)}${tail}`;
const words = Object.fromEntries(["en", "es"].map((language) => [language, JSON.parse(readFileSync(path.join(root, `web/words.${language}.json`), "utf8"))]));

/** The demo farm with what brings refusals about that no page can set: salt. */
async function farm(t) {
  const directory = scratch(t), db = path.join(directory, "farm.db");
  const file = demoFarm(directory, await serveFiles(t, demoWeather(directory)));
  const put = (text, from, into) => {
    assert.ok(text.includes(from), from);
    return text.replace(from, into);
  };
  writeFileSync(file, put(readFileSync(file, "utf8"), '"planted": "2026-05-18",', '"planted": "2026-05-18", "ece": "2 dS/m",'));
  for (const args of [["import", file, "--db", db], ["morning", "--db", db, "--today", DEMO_DAY]]) {
    const done = waterturn(...args);
    assert.equal(done.status, 0, done.stderr);
  }
  return { db, ...(await servePages(t, ["--db", db, "--today", DEMO_DAY])) };
}

/** What a refused page says: beside its inputs, and above the form. */
const saidOn = (body) => [...body.matchAll(/<p class="(?:error|wrong)"[^>]*>([^<]*)<\/p>/g)].map(([, text]) => plain(text));

test("what the book refuses is said in the language of the page, in English as the command line has it", async (t) => {
  const { db, address } = await farm(t);
  const pinned = await fillIn(address, "/turns/new", { field: "North pivot", date: "2026-07-18", hour: "20", run_hours: "12" });
  assert.equal(pinned.status, 303, wordsOf(pinned.body));
  const before = dump(db);
  const refusals = [
    ["name_dots", "/fields/new", { name: "..", area: "1", soil: "river silt", system: "drip" }],
    ["overlap", link("East pivot", "/planting/new"), { crop: ["maize, grain", "maíz, grano"], planted: "2026-07-20" }],
    ["stage_order", link("North pivot", "/planting/2026-04-14"), { planted: "2026-06-21" }],
    ["record_not_planted", link("North pivot", "/planting/2026-04-14"), { planted: "2026-07-13" }],
    ["record_before", link("East pivot", "/planting/2026-05-18"), { start: "2026-06-20", planted: "2026-06-20" }],
    ["record_no_forage", link("Bottom meadow", "/planting/2026-03-25"), { crop: ["maize, grain", "maíz, grano"] }],
    ["value_missing", link("East pivot", "/planting/2026-05-18"), { crop: ["pineapple, bare soil", "piña, suelo desnudo"] }],
    ["turn_no_system", link("North pivot", "/settings"), { system: "none" }],
    ["turn_moment", "/turns/new", { field: "North pivot", date: "2026-07-01", hour: "5", run_hours: "3" }],
  ];
  const met = [];
  for (const [code, where, values] of refusals) {
    const said = {};
    for (const [i, language] of ["en", "es"].entries()) {
      const own = Object.fromEntries(Object.entries(values).map(([name, value]) => [name, Array.isArray(value) ? value[i] : value]));
      const answer = await fillIn(address, where, own, { "Accept-Language": language });
      assert.equal(answer.status, 422, `${code}: ${wordsOf(answer.body)}`);
      said[language] = saidOn(answer.body);
      // The sentence is that of the code, up to what stands in its holes.
      const sentence = words[language][`problem.${code}`].replace(/[.*+?^$()|[\]\\]/g, "\\$&").replace(/\{\w+\}/g, ".+");
      assert.ok(said[language].some((text) => new RegExp(`: ${sentence}$`).test(text)), `${code}, ${language}: ${said[language].join(" / ")}`);
    }
    assert.equal(said.en.length, said.es.length, code);
    for (const text of said.es) {
      assert.ok(!said.en.includes(text), text);
      assert.doesNotMatch(text, /\b(found|expected|which|the|planted|days?|hours?)\b/i, code);
    }
    met.push(code);
  }
  assert.equal(met.length, refusals.length);
  assert.equal(dump(db), before);
});

test("what an older build took and this one does not is said with its field, and each is set right on its own page", async (t) => {
  const { directory, db } = await demoBook(t);
  runSql(db, "UPDATE field SET hours_per_day = 0 WHERE name IN ('Long rows', 'Ridge pivot')");
  const { address, stop } = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
  const forms = [
    [link("North pivot", "/settings"), { area: "41" }],
    [link("Seed beds", "/soil"), {}],
    ["/fields/new", { name: "New", area: "1", soil: "river silt", system: "drip" }],
    ["/turns/new", { field: "Seed beds", date: "2026-07-15", hour: "5", run_hours: "3" }],
  ];
  for (const [language, sentence] of [["en", 'or the kind "none": set it in the settings of Ridge pivot'], ["es", "se corrige en los ajustes del campo Ridge pivot"]])
    for (const [where, values] of forms) {
      const answer = await fillIn(address, where, values, { "Accept-Language": language }), said = saidOn(answer.body);
      assert.equal(answer.status, 422, where);
      // Above the form, and beside none of its inputs: it is another field's.
      assert.equal(said.length, 1, `${where}: ${said.join(" / ")}`);
      assert.ok(said[0].endsWith(sentence), `${where}: ${said[0]}`);
    }
  // Records and calls are kept meanwhile.
  assert.equal((await fillIn(address, link("Long rows", "/record/irrigation"), { water: "5" })).status, 303);
  assert.equal(waterturn("morning", "--stored", "--db", db, "--today", DEMO_DAY).status, 0);
  // A mending that is none, or that brings something else about, is refused beside its input.
  const never = await fillIn(address, link("Ridge pivot", "/settings"), { hours_per_day: "0" });
  assert.equal(never.status, 422);
  assert.equal((await fillIn(address, link("Ridge pivot", "/settings"), { hours_per_day: "20", shortest: "30", longest: "10" })).status, 422);
  assert.equal((await fillIn(address, link("Ridge pivot", "/settings"), { hours_per_day: "20" })).status, 303);
  const still = await fillIn(address, "/fields/new", { name: "New", area: "1", soil: "river silt", system: "drip" });
  assert.match(saidOn(still.body)[0], /set it in the settings of Long rows/);
  assert.equal((await fillIn(address, link("Long rows", "/settings"), { hours_per_day: "12" })).status, 303);
  assert.equal((await fillIn(address, "/fields/new", { name: "New", area: "1", soil: "river silt", system: "drip" })).status, 303);
  await stop();
  const file = path.join(directory, "mended.json");
  assert.equal(waterturn("export", file, "--db", db).status, 0);
  const checked = waterturn("check", file);
  assert.equal(checked.status, 0, checked.stderr);
});

test("the words of both languages have each problem that forms can bring about, and no other", () => {
  const sources = ["daemon/farm", "daemon/morning", "daemon/replay", "daemon/http"].flatMap((folder) => readdirSync(path.join(root, folder)).filter((name) => name.endsWith(".c")).map((name) => readFileSync(path.join(root, folder, name), "utf8")));
  const codes = new Set();
  for (const text of sources) {
    // A table of codes with their sentences, or a call:
    for (const [, code] of text.matchAll(/\{"([a-z_]+)", "found \{/g)) codes.add(code);
    // The first plain word in quotes behind the place or the list of problems is the code; some calls choose between two.
    for (const [call] of text.matchAll(/\b(?:check_tell|problem_tell(?:_at)?|record_problem)\([^;]*;/g))
      for (const [, code] of call.matchAll(/"([a-z]+(?:_[a-z]+)*)"/g)) if (words.en[`problem.${code}`] !== undefined) codes.add(code);
  }
  const table = readFileSync(path.join(root, "daemon/farm/check_values.c"), "utf8");
  const members = [...table.matchAll(/^ {4}\{"(\w+)", "[\w.]+",/gm)].map(([, member]) => `problem.expected.${member}`);
  assert.deepEqual(members.sort(), Object.keys(words.en).filter((key) => key.startsWith("problem.expected.")).sort());
  const sentences = Object.keys(words.en).filter((key) => /^problem\.[a-z_]+$/.test(key)).map((key) => key.slice("problem.".length));
  assert.ok(sentences.length > 30);
  assert.deepEqual(sentences.filter((code) => !codes.has(code)), []);
  assert.deepEqual(sentences.filter((code) => words.en[`problem.${code}`] === words.es[`problem.${code}`]), []);
});

test("wrong dates of a file are told a few times, then how many more there are and in which lines, in the terminal and on the page", async (t) => {
  const directory = scratch(t), db = path.join(directory, "farm.db"), weather = demoWeather(directory), days = path.join(weather, "observed.csv");
  const file = demoFarm(directory, await serveFiles(t, weather));
  const lines = readFileSync(days, "utf8").split("\n");
  // Lines 8 to 107, the first of which is the header's: day and month in the other order.
  writeFileSync(days, lines.map((line, i) => (i >= 7 && i < 107 ? line.replace(/^(\d{4})-(\d\d)-(\d\d)/, "$3.$2.$1") : line)).join("\n"));
  const tried = waterturn("layout", "try", days, "--layout", "plain");
  const told = `${tried.stdout}${tried.stderr}`.split("\n").filter((line) => line.startsWith(days));
  assert.deepEqual(told.map((line) => line.slice(days.length).replace(/ found .*/, "")), [8, 9, 10, 11, 12].map((line) => `:${line}:1: date:`).concat(": and 95 more of this kind in lines 13 to 107"));
  assert.equal(waterturn("import", file, "--db", db).status, 0);
  const morning = waterturn("morning", "--db", db, "--today", DEMO_DAY, "--tries", "1");
  assert.match(morning.stderr, /observed\.csv: and 95 more of this kind in lines 13 to 107/);
  assert.equal(morning.stderr.match(/expected a date/g).length, 5);
  const { address } = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
  assert.match(wordsOf((await ask(address, "/sources")).body), /observed\.csv:8:1: date: found "07\.03\.2026", expected a date as [\d-]+ \(and 99 more in lines 9 to 107\)/);
  const spanish = /observed\.csv:8:1: date: dice "07\.03\.2026" y se espera una fecha como [\d-]+ \(y 99 más en las líneas 9 a 107\)/;
  for (const where of ["/sources", "/"]) assert.match(wordsOf((await ask(address, where, { headers: { "Accept-Language": "es" } })).body), spanish, where);
  for (const command of ["sources", "call"])
    assert.match(waterturn(command, "--db", db, "--today", DEMO_DAY, { env: { LANG: "es_MX.UTF-8" } }).stdout, spanish, command);
  assert.match(waterturn("doctor", "--db", db).stdout, /observed\.csv:8:1: date: found "07\.03\.2026", expected a date as [\d-]+ \(and 99 more in lines 9 to 107\)\n/);

  // The same of a farm file.
  const farm = path.join(directory, "wrong.json");
  writeFileSync(farm, readFileSync(file, "utf8").replaceAll('"date": "2026-0', '"date": "2026-3'));
  const checked = waterturn("check", farm).stderr.trim().split("\n");
  assert.equal(checked.length, 6, checked.join("\n"));
  assert.match(checked[5], /wrong\.json: and \d+ more of this kind in lines \d+ to \d+$/);
});

/** The texts in quotes of a piece of C, those side by side as one. */
const literals = (text) => [...text.matchAll(/"(?:[^"\\]|\\.)*"(?:\s*"(?:[^"\\]|\\.)*")*/g)].map(([group]) =>
  [...group.matchAll(/"((?:[^"\\]|\\.)*)"/g)].map(([, part]) => part.replace(/\\(["\\])/g, "$1")).join(""));

test("why weather could not be had is said in Spanish too, whatever the reason, and no sentence is left over", () => {
  const files = [...readdirSync(path.join(root, "daemon/source")).map((name) => path.join("daemon/source", name)), "daemon/morning/ingest.c"].filter((name) => name.endsWith(".c"));
  const all = new Set(), untold = [];
  for (const name of files) {
    const text = readFileSync(path.join(root, name), "utf8").replace(/^#include.*$/gm, "").replace(/\/\*[^]*?\*\//g, "");
    for (const literal of literals(text)) all.add(literal);
    // The credentials file, libcurl and layouts of one's own are told to whoever starts the program, in English.
    if (/credentials|libcurl|layout_parse/.test(name)) continue;
    for (const [call] of text.matchAll(/\b(?:problem_add|say)\((?!const|struct)[^]*?\);\n/g)) {
      const sentences = literals(call).filter((literal) => literal !== "%s" && literal.length > 12);
      if (sentences.length > 0 && !sentences.some((sentence) => words.es[`problem.${sentence}`] !== undefined)) untold.push(sentences[0]);
    }
  }
  assert.deepEqual(untold, ["found an address with {...}, which only the daemon fills; expected that of a file"]); // `waterturn ingest FILE` alone
  const own = Object.keys(words.es).filter((key) => key.startsWith("problem.") && key.includes(" ") && !/^problem\.(said|status)\./.test(key)).map((key) => key.slice("problem.".length));
  assert.ok(own.length > 50);
  assert.deepEqual(own.filter((sentence) => !all.has(sentence)), []);
  for (const sentence of own) {
    // Every hole is one that the sentence has: conversions side by side are one.
    const holes = sentence.replaceAll("%%", "").match(/(?:%[-+0 #*.\dhlzjt]*[a-z])+/gi)?.length ?? 0;
    for (const [, hole] of words.es[`problem.${sentence}`].matchAll(/\{(\w+)\}/g)) assert.ok(Number(hole) >= 1 && Number(hole) <= holes, `${sentence}: {${hole}}`);
  }
});
