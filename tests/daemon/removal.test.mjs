// Taking a field, or a source and its weather, out of the book through the pages: what is left is the book that never had it.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, demoFarm, demoWeather, dump, scratch, serveFiles, unmade, waterturn } from "../support/program.mjs";
import { ask, fillIn, formsOf, plain, send, servePages, wordsOf } from "../support/book.mjs";

const ok = (done) => {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
};
const link = (name, tail = "") => `/field/${encodeURIComponent(name)}${tail}`;
const morning = (db, day = DEMO_DAY) => ok(waterturn("morning", "--db", db, "--today", day));

// Beside the demo's station file a second one, that has some days before and lacks the last ones; other weather.
function secondFile(weather) {
  const [head, ...rows] = readFileSync(path.join(weather, "observed.csv"), "utf8").trim().split("\n");
  const rain = head.split(",").findIndex((name) => /^rain/.test(name));
  assert.notEqual(rain, -1, head);
  const wetter = rows.slice(0, -9).map((row) => row.split(",").map((cell, i) => (i === rain ? "4.5" : cell)).join(","));
  writeFileSync(path.join(weather, "second.csv"), [head, ...wetter, ""].join("\n"));
}

/** The demo farm with two sources of measured days, of which "gauge" goes first. */
async function farm(t) {
  const directory = scratch(t), db = path.join(directory, "farm.db"), weather = demoWeather(directory);
  secondFile(weather);
  const file = demoFarm(directory, await serveFiles(t, weather));
  const text = readFileSync(file, "utf8");
  const source = /\{\s*"name": "valley station"[^}]*\}/.exec(text)[0];
  writeFileSync(file, text.replace(source, `${source.replace("valley station", "gauge").replace("observed.csv", "second.csv")}, ${source}`));
  ok(waterturn("import", file, "--db", db));
  morning(db);
  return { directory, db, ...(await servePages(t, ["--db", db, "--today", DEMO_DAY])) };
}

/** How many rows each table has. */
function counts(db) {
  const out = {};
  for (const part of dump(db).split(/^table /m).slice(1)) {
    const [name, ...rows] = part.trimEnd().split("\n");
    out[name] = rows.length;
  }
  return out;
}

const exported = (db) => JSON.parse(ok(waterturn("export", "--db", db)));

/** The book that is left has no row without what it refers to (dump() looks), and the ledgers, calls and rows of one that was made from its own farm file. */
function assertAsFresh(directory, db, day = DEMO_DAY) {
  const file = path.join(directory, "left.json"), fresh = path.join(directory, `fresh ${day} ${Math.random()}.db`);
  ok(waterturn("export", file, "--db", db));
  for (const { name } of exported(db).fields)
    assert.equal(ok(waterturn("ledger", name, "--db", db, "--today", day, "--csv")), unmade(ok(waterturn("replay", file, "--today", day, "--field", name, "--csv"))), name);
  ok(waterturn("import", file, "--db", fresh));
  morning(fresh, day);
  const calls = (book) => ok(waterturn("call", "--db", book, "--today", day)).replace(/^ {4}Turn.*\n(?: {6}.*\n)*/gm, "");
  // On another morning the forecast is a day old in the one and new in the other.
  if (day === DEMO_DAY) assert.equal(calls(db), calls(fresh));
  const left = counts(db), made = counts(fresh);
  delete left.ahead_beside; // of a morning under way, until it puts it into the other's place
  // What was done, and the turns, which follow from those that stood.
  for (const table of Object.keys(left).filter((name) => /^(entry|secret|turn|sqlite_)/.test(name) || (day !== DEMO_DAY && /^(call|outlook|morning|fetch|weather)$/.test(name))))
    made[table] = left[table];
  assert.deepEqual(left, made);
}

test("a field is removed with all that is kept of it, after its page said what goes, and the rest is as if it had never been there", async (t) => {
  const { directory, db, address } = await farm(t);
  assert.equal((await fillIn(address, link("East pivot", "/record/irrigation"), { water: "7" })).status, 303);
  assert.equal((await fillIn(address, link("East pivot", "/record/note"), { note: "gone soon" })).status, 303);
  const before = dump(db);
  assert.match(plain((await ask(address, link("East pivot", "/settings"))).body), /href="\/field\/East%20pivot\/remove">Remove this field/);
  const page = await ask(address, link("East pivot", "/remove"));
  const records = exported(db).records.filter(({ field }) => field === "East pivot").length;
  const days = ok(waterturn("ledger", "East pivot", "--db", db, "--today", DEMO_DAY, "--csv")).trim().split("\n").length - 1;
  const said = wordsOf(page.body);
  for (const part of ["Plantings: 1 ", `Days of the ledger: ${days} `, `what was seen: ${records} `, "Calls: 1 ", "Days of the outlook: 10", "Turns: "]) assert.ok(said.includes(part), `${part} in ${said}`);
  // It has a season under way: there is another way, and a copy first.
  assert.match(said, /A season is under way here\..*do not remove the field/);
  for (const href of [link("East pivot", "/record/stage"), link("East pivot", "/planting/2026-05-18"), "/farm.json"]) assert.ok(plain(page.body).includes(`href="${href}"`), href);

  const form = formsOf(page.body)[0];
  for (const confirm of ["", "East", "North pivot"]) {
    const refused = await send(address, form.action, { ...form.fields, confirm });
    assert.equal(refused.status, 422);
    assert.match(refused.body, /id="confirm-error"/);
  }
  assert.equal(dump(db), before);
  const done = await send(address, form.action, { ...form.fields, confirm: " east pivot" });
  assert.deepEqual([done.status, done.headers.location], [303, "/"]);
  assert.ok(!exported(db).fields.some(({ name }) => name === "East pivot"));
  assert.doesNotMatch(wordsOf((await ask(address, "/")).body), /East pivot/);
  assert.equal((await ask(address, link("East pivot"))).status, 404);
  assert.equal((await send(address, form.action, { ...form.fields, confirm: "East pivot" })).status, 404);
  // No turn of it stands on the board, and those that share the well are planned anew.
  assert.ok(!ok(waterturn("turns", "--db", db, "--today", DEMO_DAY)).includes("East pivot"));
  assertAsFresh(directory, db);
  // Its name is free again.
  morning(db, "2026-07-15");
  assertAsFresh(directory, db, "2026-07-15");
});

test("a field that has nothing is removed too, one of a trial stays and is told why", async (t) => {
  const { directory, db, address } = await farm(t);
  assert.equal((await fillIn(address, "/fields/new", { name: "Mistake", area: "1", soil: "river silt", system: "drip" })).status, 303);
  const empty = wordsOf((await ask(address, link("Mistake", "/remove"))).body);
  assert.doesNotMatch(empty, /season is under way|Plantings|Days of the ledger/);
  const trial = exported(db).trials[0], field = trial.treatments[0].field;
  const page = await ask(address, link(field, "/remove"));
  assert.ok(wordsOf(page.body).includes(`The field is a treatment of the trial ${trial.name}`));
  assert.doesNotMatch(page.body, /type="submit">Remove/);
  // The new field's morning may still be under way: what it writes is not looked at.
  const kept = () => [exported(db), ...["field", "planting", "record", "ledger"].map((table) => counts(db)[table])];
  const form = formsOf(page.body)[0], before = kept();
  const refused = await send(address, form.action, { ...form.fields, confirm: field });
  assert.equal(refused.status, 422);
  assert.ok(wordsOf(refused.body).includes(`does not fit the book: The field is a treatment of the trial ${trial.name}`));
  assert.deepEqual(kept(), before);
  assert.equal((await fillIn(address, link("Mistake", "/remove"), { confirm: "Mistake" })).status, 303);
  assertAsFresh(directory, db);
});

test("a soil that no other field has goes when it is its texture's, and stays at will when it was described", async (t) => {
  const { db, address } = await farm(t);
  const soils = () => exported(db).soils.map(({ name }) => name).sort();
  const before = soils();
  const page = async (name) => wordsOf((await ask(address, link(name, "/remove"))).body);
  const add = async (name, soil) => assert.equal((await fillIn(address, "/fields/new", { name, area: "1", soil, system: "drip" })).status, 303);
  // Shared with a field of the demo.
  await add("Shared", "river silt");
  assert.match(await page("Shared"), /What other fields use stays: the weather, the supplies and the soil river silt\./);
  // As its texture: chosen once more it is the same.
  await add("Plain", "texture:sand");
  assert.deepEqual(soils(), [...before, "sand"].sort());
  assert.match(await page("Plain"), /With it go: .*Its soil, sand: no other field has it, and it can be chosen again as it is/);
  assert.doesNotMatch(await page("Plain"), /Keep it/);
  assert.match(wordsOf((await ask(address, link("Plain", "/remove"), { headers: { "Accept-Language": "es" } })).body), /Su suelo, arena: ningún otro campo lo tiene/);
  for (const name of ["Shared", "Plain"]) assert.equal((await fillIn(address, link(name, "/remove"), { confirm: name })).status, 303);
  assert.deepEqual(soils(), before);
  // Described on its page: kept unless it is to go.
  await add("Sampled", "texture:sand");
  assert.equal((await fillIn(address, link("Sampled", "/soil"), { fc_1: "14", wp_1: "5" })).status, 303);
  assert.match(await page("Sampled"), /Its soil, sand, which no other field has Keep it, to choose it for another field Remove it too/);
  assert.doesNotMatch(await page("Sampled"), /can be chosen again as it is/);
  assert.equal((await fillIn(address, link("Sampled", "/remove"), { confirm: "Sampled" })).status, 303);
  assert.deepEqual(soils(), [...before, "sand"].sort());
  await add("Again", "sand");
  assert.match(wordsOf((await ask(address, link("Again", "/soil"))).body), /sand|14/);
  const asked = formsOf((await ask(address, link("Again", "/remove"))).body)[0];
  assert.equal(asked.fields.soil_left, "keep");
  // A refusal keeps the choice; a field that has the soil by then keeps the soil.
  const refused = await send(address, asked.action, { ...asked.fields, soil_left: "remove", confirm: "no" });
  assert.equal(refused.status, 422);
  assert.equal(formsOf(refused.body)[0].fields.soil_left, "remove");
  await add("Late", "sand");
  assert.equal((await send(address, asked.action, { ...asked.fields, soil_left: "remove", confirm: "Again" })).status, 303);
  assert.deepEqual(soils(), [...before, "sand"].sort());
  assert.equal((await fillIn(address, link("Late", "/remove"), { soil_left: "remove", confirm: "Late" })).status, 303);
  assert.deepEqual(soils(), before);
  dump(db); // no row without what it refers to
});

test("a source goes with its weather, and the ledgers that rest on it are computed anew from its first day on", async (t) => {
  const { directory, db, address } = await farm(t);
  assert.match(wordsOf((await ask(address, "/source/gauge")).body), /Remove this source/);
  const before = ok(waterturn("ledger", "North pivot", "--db", db, "--today", DEMO_DAY, "--csv"));
  const page = await ask(address, "/source/gauge/remove"), said = wordsOf(page.body);
  assert.match(said, /goes from the book for good, with \d+ days of weather, \d+ \w+ 20\d\d to 4 July 2026\./);
  assert.match(said, /North pivot: from 20 March 2026 .*Seed beds: from 15 June 2026/);
  assert.doesNotMatch(said, /no other source/);
  const form = formsOf(page.body)[0], whole = dump(db);
  assert.equal((await send(address, form.action, { ...form.fields, confirm: "valley" })).status, 422);
  assert.equal(dump(db), whole);
  const done = await send(address, form.action, { ...form.fields, confirm: "gauge" });
  assert.deepEqual([done.status, done.headers.location], [303, "/sources"]);
  assert.deepEqual(exported(db).sources.map(({ name }) => name), ["ten-day forecast", "valley station"]);
  assert.notEqual(ok(waterturn("ledger", "North pivot", "--db", db, "--today", DEMO_DAY, "--csv")), before);
  assertAsFresh(directory, db);
  morning(db, "2026-07-15");
  assertAsFresh(directory, db, "2026-07-15");
});

test("the last source of a kind is said to be so; without measured days the calls stop, without a forecast they look less far", async (t) => {
  const { directory, db, address } = await farm(t);
  assert.match(wordsOf((await ask(address, "/source/ten-day%20forecast/remove")).body), /Its station has no other forecast/);
  assert.equal((await fillIn(address, "/source/ten-day%20forecast/remove", { confirm: "ten-day forecast" })).status, 303);
  assertAsFresh(directory, db);
  assert.equal((await fillIn(address, "/source/gauge/remove", { confirm: "gauge" })).status, 303);
  const last = await ask(address, "/source/valley%20station/remove");
  assert.match(wordsOf(last.body), /Its station has no other source of measured days\./);
  assert.equal((await fillIn(address, "/source/valley%20station/remove", { confirm: "valley station" })).status, 303);
  assert.match(ok(waterturn("call", "--db", db, "--today", DEMO_DAY)), /Cannot say/);
  const left = counts(db);
  assert.deepEqual([left.weather, left.fetch, left.finding, left.source], [0, 0, 0, 0]);
  ok(waterturn("morning", "--db", db, "--today", "2026-07-15"));
});

test("only a manager removes, and takes the farm file from the pages; it is the one that export writes", async (t) => {
  const { db, address } = await farm(t);
  const book = await ask(address, "/farm.json");
  assert.equal(book.body, ok(waterturn("export", "--db", db)));
  assert.match(book.headers["content-disposition"], /attachment; filename="farm.json"/);
  const tokens = Object.fromEntries(["reader", "operator", "manager"].map((role) => [role, ok(waterturn("pair", role, "--role", role, "--token", "--db", db)).trim().split("\n").at(-1).trim()]));
  for (const where of ["/farm.json", link("East pivot", "/remove"), "/source/gauge/remove"]) {
    const status = async (token) => (await ask(address, where, { headers: { Authorization: `Bearer ${token}` } })).status;
    assert.deepEqual([await status(tokens.reader), await status(tokens.operator), await status(tokens.manager)], [403, 403, 200], where);
    assert.equal((await ask(address, where)).status, 401, where);
  }
});
