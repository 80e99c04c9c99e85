// The farm book through its forms, as a browser without JavaScript uses them.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { csvRows, DEMO_DAY, demoBook, demoFarm, demoWeather, program, root, scratch, serveFiles, unmade, waterturn } from "../support/program.mjs";
import { ask, fillIn, formsOf, plain, send, servePages, wordsOf } from "../support/book.mjs";

const ok = (done) => {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
};

const link = (name, tail = "") => `/field/${encodeURIComponent(name)}${tail}`;
const recordsOf = (db, field) => JSON.parse(ok(waterturn("export", "--db", db))).records.filter((record) => record.field === field);

async function demo(t) {
  const book = await demoBook(t);
  return { ...book, ...(await servePages(t, ["--db", book.db, "--today", DEMO_DAY])) };
}

/** The page that a form was answered with. */
async function follow(address, answer) {
  assert.equal(answer.status, 303, wordsOf(answer.body));
  const page = await ask(address, answer.headers.location);
  assert.equal(page.status, 200, wordsOf(page.body));
  return page.body;
}

/** The ledger that is kept equals the replay of what is exported. */
function assertReplay(directory, db, field) {
  const exported = path.join(directory, "exported.json");
  ok(waterturn("export", exported, "--db", db));
  const kept = ok(waterturn("ledger", field, "--db", db, "--today", DEMO_DAY, "--csv"));
  assert.equal(kept, unmade(ok(waterturn("replay", exported, "--today", DEMO_DAY, "--field", field, "--csv"))), field);
}

test("one tap records the call as it was made, and the page says what it changes", async (t) => {
  const { address, db } = await demo(t);
  const today = await ask(address, "/");
  const done = formsOf(today.body).find(({ action }) => action === link("North pivot", "/record/irrigation"));
  const before = recordsOf(db, "North pivot").length;
  const page = await follow(address, await send(address, done.action, done.fields));
  assert.match(wordsOf(page), /Kept North pivot Watered 35 mm gross today .*Before: Water today: .* Now: (Hold|Rain may cover it)/);
  const records = recordsOf(db, "North pivot");
  assert.equal(records.length, before + 1);
  assert.equal(records.at(-1).date, DEMO_DAY);
  // There is nothing left to do on that field today.
  assert.ok(!formsOf((await ask(address, "/")).body).some(({ action }) => action === done.action));
});

test("the same form sent twice makes one record, from one page or from two", async (t) => {
  const { address, db } = await demo(t);
  const before = recordsOf(db, "North pivot").length;
  const pages = [await ask(address, "/"), await ask(address, "/")];
  const forms = pages.map(({ body }) => formsOf(body).find(({ action }) => action === link("North pivot", "/record/irrigation")));
  const answers = await Promise.all([0, 1, 0, 1, 0].map((i) => send(address, forms[i].action, forms[i].fields)));
  assert.deepEqual(new Set(answers.map(({ status }) => status)), new Set([303]));
  assert.equal(new Set(answers.map(({ headers }) => headers.location)).size, 1);
  assert.equal(recordsOf(db, "North pivot").length, before + 1);
  // A form of its own token is another record: two waterings of a day may be of the same depth.
  await fillIn(address, link("North pivot", "/record/irrigation"), { water: "5" });
  await fillIn(address, link("North pivot", "/record/irrigation"), { water: "5" });
  assert.equal(recordsOf(db, "North pivot").length, before + 3);
});

test("a form of another site, without a good token, or of another action is refused", async (t) => {
  const { address, db } = await demo(t);
  const before = recordsOf(db, "Long rows").length;
  const path = link("Long rows", "/record/note");
  const { fields } = formsOf((await ask(address, path)).body)[0];
  const note = { ...fields, note: "from elsewhere" };
  assert.equal((await send(address, path, note, { Origin: "http://elsewhere.example" })).status, 403);
  assert.equal((await send(address, path, note, { Origin: "null" })).status, 403);
  assert.equal((await send(address, path, note, { "Sec-Fetch-Site": "cross-site" })).status, 403);
  assert.equal((await send(address, path, note, { Host: "elsewhere.example" })).status, 421);
  for (const token of ["", "0".repeat(64), fields.token.replace(/.$/, (c) => (c === "0" ? "1" : "0"))])
    assert.equal((await send(address, path, { ...note, token })).status, 422, token);
  assert.equal((await send(address, link("North pivot", "/record/note"), note)).status, 422, "the token of another field");
  assert.equal((await ask(address, path, { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" })).status, 400);
  assert.equal((await ask(address, path, { method: "PUT" })).status, 405);
  assert.equal(recordsOf(db, "Long rows").length, before);
  assert.equal((await send(address, path, note, { Origin: address })).status, 303);
  assert.equal(recordsOf(db, "Long rows").length, before + 1);
});

test("what is wrong is said beside its input, and what was written stays", async (t) => {
  const { address } = await demo(t);
  const answer = await fillIn(address, link("Long rows", "/record/irrigation"), { water: "a lot", date: "2026-09-30" });
  assert.equal(answer.status, 422);
  assert.match(answer.body, /<p class="error" id="water-error">Write a number, as 12 or 0.5.<\/p>/);
  assert.match(answer.body, /id="water"[^>]*value="a lot"[^>]*aria-describedby="water-hint water-error"[^>]*aria-invalid="true" autofocus/);
  assert.match(answer.body, /<p class="error" id="date-error">Choose a day from [-0-9]+ to 2026-07-14.<\/p>/);
  const early = await fillIn(address, link("Seed beds", "/record/irrigation"), { water: "5", date: "2026-05-01" });
  assert.equal(early.status, 422);
  assert.match(early.body, /<p class="error" id="date-error">Choose a day from 2026-06-15 to 2026-07-14.<\/p>/);
  const felt = await fillIn(address, link("Seed beds", "/feel"), { feel: "2", date: "2026-05-01" }, { "Accept-Language": "es" });
  assert.match(felt.body, /id="date-error">Elija un día de 2026-06-15 a 2026-07-14.<\/p>/);
  const stage = await fillIn(address, link("Seed beds", "/record/stage"), { stage: "mid", date: "2026-06-16" });
  assert.equal(stage.status, 422);
  assert.match(stage.body, /id="date-error">Nothing was planted on this field on that day.<\/p>/);
  const later = await fillIn(address, link("North pivot", "/planting/2026-04-14"), { planted: "2026-07-13" });
  assert.equal(later.status, 422);
  assert.match(wordsOf(later.body), /Not kept, it does not fit the book: found stage on 2026-06-21/);
  const cutting = await fillIn(address, link("Seed beds", "/record/cutting"), { date: "2026-07-10" }, { "Accept-Language": "es" });
  assert.equal(cutting.status, 422);
  assert.match(cutting.body, /id="date-error">Solo tiene cortes lo que se corta y rebrota/);
  assert.equal((await fillIn(address, link("Bottom meadow", "/record/cutting"), { date: "2026-07-12" })).status, 303);
});

test("amounts are taken in the visitor's units: depth, volume, hours, meter", async (t) => {
  const { address, db } = await demo(t);
  const exported = JSON.parse(ok(waterturn("export", "--db", db)));
  const field = exported.fields.find(({ name }) => name === "North pivot");
  const area_m2 = Number.parseFloat(field.area);
  const flow_m3_h = Number.parseFloat(field.system.flow);
  const record = async (values) => {
    assert.equal((await fillIn(address, link("North pivot", "/record/irrigation"), values)).status, 303);
    return Number.parseFloat(recordsOf(db, "North pivot").filter(({ kind }) => kind === "irrigation").at(-1).depth);
  };
  // An inch is 25.4 mm, an acre-inch 102.79 m3, a US gallon 0.003785 m3 (NIST SP 811); 1 l on 1 m2 is 1 mm.
  const near = (found, expected) => assert.ok(Math.abs(found - expected) < 1e-6 * expected, `${found}, expected ${expected}`);
  near(await record({ water: "1.5", water_unit: "in" }), 38.1);
  near(await record({ water: "0.5 in", water_unit: "mm" }), 12.7);
  near(await record({ water: "10", water_unit: "h" }), (10 * flow_m3_h * 1000) / area_m2);
  near(await record({ water: "40", water_unit: "ac-in" }), (40 * 102.79015312896 * 1000) / area_m2);
  near(await record({ water: "", meter_from: "1200", meter_to: "5200", meter_from_unit: "m3" }), (4000 * 1000) / area_m2);
  const backwards = await fillIn(address, link("North pivot", "/record/irrigation"), { water: "", meter_from: "5200", meter_to: "1200" });
  assert.match(backwards.body, /id="meter_to-error"/);
});

test("every kind of record is kept, and the ledger is a fresh replay", async (t) => {
  const { address, db, directory } = await demo(t);
  const sent = [
    ["Bottom meadow", "rain", { rain: "7.5", date: "2026-07-12" }],
    ["Bottom meadow", "cutting", { date: "2026-07-10" }],
    ["Bottom meadow", "harvest", { yield: "6.5", grade: "second", date: "2026-07-11" }],
    ["Long rows", "reading", { content: "24", sd: "2", date: "2026-07-10" }],
    ["Long rows", "cover", { cover: "55 %", date: "2026-07-09" }],
    ["North pivot", "stage", { stage: "mid", date: "2026-06-22" }],
    ["North pivot", "note", { note: "A ring around the sun.\nWind from the east.", date: "2026-07-13" }],
  ];
  for (const [field, kind, values] of sent) {
    const answer = await fillIn(address, link(field, `/record/${kind}`), values);
    assert.equal(answer.status, 303, `${kind}: ${wordsOf(answer.body)}`);
    const kept = recordsOf(db, field).filter((record) => record.kind === kind && record.date === values.date);
    assert.ok(kept.length >= 1, kind);
  }
  for (const field of new Set(sent.map(([name]) => name))) assertReplay(directory, db, field);
  const [rain] = csvRows(ok(waterturn("ledger", "Bottom meadow", "--db", db, "--today", DEMO_DAY, "--csv"))).filter(({ date }) => date === "2026-07-12");
  assert.equal(Number(rain.rain_mm), 7.5);
});

test("a record is corrected by a new one, taken back, and taken back again", async (t) => {
  const { address, db, directory } = await demo(t);
  const field = "East pivot";
  const depths = () => recordsOf(db, field).filter(({ date }) => date === "2026-07-08").map(({ depth }) => depth);
  const start = depths();
  await fillIn(address, link(field, "/record/irrigation"), { water: "20", date: "2026-07-08" });
  assert.deepEqual(depths(), [...start, "20 mm"]);
  const page = (await ask(address, link(field))).body;
  const correct = /Watered 20\smm[^<]*<\/span> <a href="([^"]*replaces[^"]*)"/.exec(page)[1].replaceAll("&#x2F;", "/").replaceAll("&#x3D;", "=");
  const form = formsOf((await ask(address, correct)).body)[0];
  assert.equal(form.fields.water, "20");
  assert.equal(form.fields.date, "2026-07-08");
  const corrected = await send(address, form.action, { ...form.fields, water: "30" });
  assert.deepEqual(depths(), [...start, "30 mm"]);
  assertReplay(directory, db, field);
  // An amount that is sent back as it was shown stays as it is to the last digit: 1/3 in is 8.4666... mm.
  await fillIn(address, link(field, "/record/irrigation"), { water: "0.33333333333333", water_unit: "in", date: "2026-07-07" });
  const exact = recordsOf(db, field).find(({ date }) => date === "2026-07-07").depth;
  const odd = /Watered 8\.5\smm[^<]*<\/span> <a href="([^"]*replaces[^"]*)"/.exec((await ask(address, link(field))).body)[1].replaceAll("&#x2F;", "/").replaceAll("&#x3D;", "=");
  const dated = formsOf((await ask(address, odd)).body)[0];
  assert.equal((await send(address, dated.action, { ...dated.fields, date: "2026-07-06" })).status, 303);
  assert.equal(recordsOf(db, field).find(({ date }) => date === "2026-07-06").depth, exact);
  // What was corrected cannot be corrected again from an old page.
  const stale = await send(address, form.action, { ...formsOf((await ask(address, link(field, "/record/irrigation"))).body)[0].fields, water: "31", replaces: form.fields.replaces });
  assert.equal(stale.status, 404);

  const undo = formsOf(await follow(address, corrected)).find(({ action }) => action.startsWith("/undo/"));
  const undone = await send(address, undo.action, undo.fields);
  assert.match(wordsOf(await follow(address, undone)), /Taken back/);
  assert.deepEqual(depths(), [...start, "20 mm"], "the record that was corrected holds again");
  assert.equal((await send(address, undo.action, undo.fields)).headers.location, undone.headers.location, "a second tap changes nothing");
  assert.deepEqual(depths(), [...start, "20 mm"]);
  assertReplay(directory, db, field);
});

test("any record is taken back on the page that corrects it, also one of long ago or of the farm file", async (t) => {
  const { address, db, directory } = await demo(t);
  const field = "North pivot";
  const before = recordsOf(db, field);
  const listed = [...(await ask(address, link(field))).body.matchAll(/<a href="([^"]*replaces[^"]*)"/g)].map(([, href]) => plain(href));
  await fillIn(address, link(field, "/record/note"), { note: "entered last" });
  const page = await ask(address, listed.at(-1));
  assert.match(wordsOf(page.body), /Recorded by mistake\? Taken back, it counts no more\. .* Take the record back/);
  const undo = formsOf(page.body).find(({ action }) => action.startsWith("/undo/"));
  assert.match(wordsOf(await follow(address, await send(address, undo.action, undo.fields))), /Taken back North pivot Seen on Sunday 21 June: mid-season began/);
  const after = recordsOf(db, field);
  assert.equal(after.length, before.length, "a note more, a stage less");
  assert.equal(before.filter((one) => !after.some((other) => JSON.stringify(other) === JSON.stringify(one))).length, 1);
  assertReplay(directory, db, field);
  assert.equal((await ask(address, listed.at(-1))).status, 404);
  // A form for a new record has nothing to take back, one that is handed back still has.
  assert.ok(!(await ask(address, link(field, "/record/irrigation"))).body.includes("/undo/"));
  const [correct, other] = formsOf((await ask(address, listed[0])).body);
  const refused = await send(address, correct.action, { ...correct.fields, date: "2031-01-01" });
  assert.equal(refused.status, 422);
  assert.deepEqual(formsOf(refused.body)[1], other);
});

test("the soil by feel becomes a reading between wilting point and field capacity", async (t) => {
  const { address, db } = await demo(t);
  const page = await ask(address, link("North pivot", "/feel"));
  assert.match(wordsOf(page.body), /Estimating Soil Moisture by Feel and Appearance/);
  assert.equal((await fillIn(address, link("North pivot", "/feel"), {})).status, 422);
  assert.equal((await fillIn(address, link("North pivot", "/feel"), { feel: "2" })).status, 303);
  const reading = recordsOf(db, "North pivot").at(-1);
  const soil = JSON.parse(ok(waterturn("export", "--db", db))).soils.find(({ name }) => name === "river silt");
  const [low, high] = [soil.layers[0].wilting_point, soil.layers[0].field_capacity].map((text) => (text.endsWith("%") ? Number.parseFloat(text) / 100 : Number(text)));
  const share = (value) => (typeof value === "string" && value.endsWith("%") ? Number.parseFloat(value) / 100 : Number(value));
  // The middle of the third band: 62.5 % of the available water.
  assert.ok(Math.abs(share(reading.water_content) - (low + 0.625 * (high - low))) < 1e-9);
  assert.ok(Math.abs(share(reading.sd) - 0.12 * (high - low)) < 1e-9);
});

test("the settings of a field and its planting change its calls, and the ledger stays a replay", async (t) => {
  const { address, db, directory } = await demo(t);
  const settings = link("Long rows", "/settings");
  const saved = await fillIn(address, settings, { name: "Longer rows", area: "6", area_unit: "ha", soil: "texture:sandy loam", efficiency: "70" });
  assert.match(wordsOf(await follow(address, saved)), /Saved Longer rows/);
  assert.equal((await ask(address, link("Long rows"))).status, 404);
  const farm = JSON.parse(ok(waterturn("export", "--db", db)));
  const field = farm.fields.find(({ name }) => name === "Longer rows");
  assert.equal(field.area, "60000 m2");
  assert.equal(field.soil, "sandy loam");
  assert.equal(field.system.efficiency, "70 %");
  assert.ok(farm.records.some(({ field: name }) => name === "Longer rows"), "its records came along");
  assertReplay(directory, db, "Longer rows");

  const planting = farm.plantings.find(({ field: name }) => name === "Longer rows");
  const form = link("Longer rows", `/planting/${planting.planted}`);
  const moved = await fillIn(address, form, { planted: "2026-04-22", start: "2026-04-20", allowed_1: "30", allowed_2: "30", allowed_3: "25", allowed_4: "40" });
  assert.match(wordsOf(await follow(address, moved)), /Saved/);
  const [after] = JSON.parse(ok(waterturn("export", "--db", db))).plantings.filter(({ field: name }) => name === "Longer rows");
  assert.equal(after.planted, "2026-04-22");
  assert.equal(after.start, "2026-04-20");
  assertReplay(directory, db, "Longer rows");

  // A planting cannot begin after what was recorded on it; one without records may, and its earlier days go.
  const late = await fillIn(address, link("Longer rows", "/planting/2026-04-22"), { planted: "2026-05-20", start: "2026-05-20" });
  assert.equal(late.status, 422);
  assert.match(late.body, /id="planted-error"/);
  const rainfed = await fillIn(address, link("Trial plot C", "/planting/2026-05-20"), { planted: "2026-05-25", start: "2026-05-25" });
  assert.match(wordsOf(await follow(address, rainfed)), /Saved/);
  assert.equal(csvRows(ok(waterturn("ledger", "Trial plot C", "--db", db, "--today", DEMO_DAY, "--csv")))[0].date, "2026-05-25");
  assertReplay(directory, db, "Trial plot C");
});

test("the values of a soil change all fields that have it, and nothing measured is lost", async (t) => {
  const { address, db, directory } = await demo(t);
  const soilOf = () => JSON.parse(ok(waterturn("export", "--db", db))).soils.find(({ name }) => name === "river silt");
  // Forms that are sent as they are shown change nothing, to the last digit.
  const all = ok(waterturn("export", "--db", db));
  const planted = JSON.parse(all).plantings.find(({ field }) => field === "Ridge pivot").planted;
  for (const where of [link("North pivot", "/soil"), link("Ridge pivot", "/soil"), link("Trial plot A", "/soil"), link("Ridge pivot", "/settings"), link("Long rows", "/settings"), link("Ridge pivot", `/planting/${planted}`), "/farm", "/source/valley%20station"])
    assert.equal((await fillIn(address, where, {})).status, 303, where);
  assert.equal(ok(waterturn("export", "--db", db)), all);
  const form = link("North pivot", "/soil");
  const wrong = await fillIn(address, form, { fc_1: "20", wp_1: "25" });
  assert.match(wrong.body, /id="wp_1-error">The wilting point has to be below field capacity/);
  assert.match(wordsOf(await follow(address, await fillIn(address, form, { fc_1: "33", wp_1: "15", curve_number: "" }))), /Saved North pivot/);
  const after = soilOf();
  assert.equal(after.layers[0].field_capacity, "33 %");
  assert.equal(after.curve_number, undefined);
  for (const field of ["North pivot", "Bottom meadow"]) assertReplay(directory, db, field);
});

test("a form names no file of this machine, whatever way it is written; the farm file may", async (t) => {
  const { address, db } = await demo(t);
  const before = ok(waterturn("export", "--db", db));
  for (const where of ["/etc/passwd", "file:/etc/passwd", "file:///etc/passwd", "FILE:/etc/passwd", "file:days.csv", "file:../days.csv"]) {
    const answer = await fillIn(address, "/sources/new", { service: "file:plain", address: where, kind: "observed" });
    assert.equal(answer.status, 422, where);
    assert.match(answer.body, /id="address-error">A page may not name a file of this machine\. Name it in the farm file/, where);
  }
  for (const where of ["days.csv", "../days.csv", "ftp://example.org/days.csv", "gopher://example.org/", "javascript:1", " file:/etc/passwd", "http:/example.org/", "https:example.org"])
    assert.equal((await fillIn(address, "/sources/new", { service: "file:plain", address: where, kind: "observed" })).status, 422, where);
  assert.equal(ok(waterturn("export", "--db", db)), before);
});

test("a source that the farm file reads from disk may be changed in a form, its file only in the farm file", async (t) => {
  const directory = scratch(t), weather = demoWeather(directory), db = path.join(directory, "farm.db");
  const farm = demoFarm(directory, `file:${weather}`);
  ok(waterturn("import", farm, "--db", db));
  const { address } = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
  const source = () => JSON.parse(ok(waterturn("export", "--db", db))).sources.find(({ name }) => name === "valley station");
  const kept = source();
  assert.match(kept.address, /^file:/);
  const shown = await fillIn(address, "/source/valley%20station", {});
  assert.equal(shown.status, 303, wordsOf(shown.body));
  assert.deepEqual(source(), kept);
  assert.equal((await fillIn(address, "/source/valley%20station", { address: "file:/etc/shadow" })).status, 422);
  assert.deepEqual(source(), kept);
});

test("a page cannot send a login or a key elsewhere by another address", async (t) => {
  const directory = scratch(t), weather = demoWeather(directory), db = path.join(directory, "farm.db");
  const from = await serveFiles(t, weather);
  ok(waterturn("import", demoFarm(directory, from), "--db", db));
  const credentials = path.join(directory, "credentials.json");
  writeFileSync(credentials, JSON.stringify({ "valley station": { token: "s3cret" }, plain: { key: "s3cret" } }), { mode: 0o600 });
  const { address, process } = await servePages(t, ["--db", db, "--today", DEMO_DAY, "--credentials", credentials]);
  const before = ok(waterturn("export", "--db", db));
  const own = { service: "file:plain", kind: "observed" };
  const moved = await fillIn(address, "/source/valley%20station", { ...own, address: "https://elsewhere.example/{key}" });
  assert.equal(moved.status, 422);
  assert.match(moved.body, /The source valley station has a login or a key\. It goes only to the address that the farm file names/);
  assert.equal((await fillIn(address, "/sources/new", { ...own, address: "https://elsewhere.example/{key}" })).status, 422, "a new source with the name of one");
  assert.equal(ok(waterturn("export", "--db", db)), before);
  assert.equal((await fillIn(address, "/source/valley%20station", {})).status, 303, "its own address stays");
  // What has no login may have any address; and so may this one, once its login is gone.
  assert.equal((await fillIn(address, "/source/ten-day%20forecast", { ...own, kind: "forecast", address: `${from}/other.csv` })).status, 303);
  writeFileSync(credentials, "{}", { mode: 0o600 });
  process.kill("SIGHUP");
  let answer;
  for (let i = 0; i < 100 && answer?.status !== 303; i++) {
    await new Promise((resolve) => setTimeout(resolve, 50));
    answer = await fillIn(address, "/source/valley%20station", { ...own, address: `${from}/elsewhere.csv` }).catch(() => undefined);
  }
  assert.equal(answer.status, 303);
});

test("from nothing to the first call: the place, the weather, the first field", async (t) => {
  const directory = scratch(t);
  const weather = await serveFiles(t, demoWeather(directory));
  const { spawn } = await import("node:child_process");
  const { firstLine } = await import("../support/program.mjs");
  const child = spawn(program, ["serve", "--listen", "127.0.0.1:0", "--today", DEMO_DAY], {
    cwd: root,
    env: { ...process.env, WATERTURN_DB: "", XDG_DATA_HOME: directory, LANG: "en" },
    stdio: ["ignore", "pipe", "inherit"],
  });
  t.after(() => child.kill("SIGKILL"));
  const address = /http:\/\/[^/]+/.exec(await firstLine(child))[0];
  const db = path.join(directory, "waterturn/waterturn.db");

  assert.match(wordsOf((await ask(address, "/")).body), /Set up the farm The place .*Go on/);
  assert.equal((await ask(address, "/fields/new")).headers.location, "/");
  assert.equal((await fillIn(address, "/farm", { farm: "", latitude: "95" })).status, 422);
  const place = { farm: "First farm", units: "metric", latitude: "33.2", longitude: "-88.9", elevation: "84", time_zone: "America/Chicago" };
  assert.equal((await fillIn(address, "/farm", place)).headers.location, "/");
  assert.equal((await fillIn(address, "/sources/new", { service: "file:plain", address: "observed.csv" })).status, 422);
  for (const kind of ["observed", "forecast"]) {
    const source = { service: "file:plain", address: `${weather}/${kind}.csv`, kind };
    assert.equal((await fillIn(address, "/sources/new", source)).headers.location, "/");
  }
  assert.match(wordsOf((await ask(address, "/")).body), /Done: The place Done: The weather The first field/);
  const field = { name: "First field", area: "12", area_unit: "ha", soil: "texture:silt loam", system: "centre pivot", crop: "corn", planted: "2026-05-01" };
  const unknown = await fillIn(address, "/fields/new", { ...field, crop: "corm" });
  assert.match(unknown.body, /Did you mean corn\?/);
  assert.equal((await fillIn(address, "/fields/new", field)).status, 303);

  let page = "";
  for (let i = 0; i < 100 && !/field-|class="field/.test(page); i++) {
    await new Promise((resolve) => setTimeout(resolve, 50));
    page = (await ask(address, "/")).body;
  }
  assert.match(wordsOf(page), /First field (Water today|Water by|Rain may cover it|Hold)/);
  const kept = ok(waterturn("ledger", "First field", "--db", db, "--today", DEMO_DAY, "--csv"));
  const exported = path.join(directory, "exported.json");
  ok(waterturn("export", exported, "--db", db));
  assert.equal(kept, unmade(ok(waterturn("replay", exported, "--today", DEMO_DAY, "--csv"))));
  const farm = JSON.parse(readFileSync(exported, "utf8"));
  assert.equal(farm.plantings[0].crop, "maize, grain");
  assert.equal(farm.farm.time_zone, "America/Chicago");

  // A second field has its call at once, from the weather that is stored.
  const second = await fillIn(address, "/fields/new", { ...field, name: "Second field", soil: "silt loam", crop: "potato", system: "none" });
  assert.match(wordsOf(await follow(address, second)), /Saved Second field The call Hold: rainfed/);
});

test("the weather is read again at once, then not before a minute has passed, and the answer says when", async (t) => {
  const directory = scratch(t);
  const file = demoFarm(directory, await serveFiles(t, demoWeather(directory)));
  const db = path.join(directory, "farm.db");
  ok(waterturn("import", file, "--db", db));
  const { address } = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
  const { action, fields } = formsOf((await ask(address, "/")).body).find((form) => form.action === "/morning");
  assert.equal((await send(address, action, fields)).status, 303);
  for (const language of ["en", "es"]) {
    const soon = await send(address, action, fields, { "Accept-Language": language });
    assert.equal(soon.status, 429);
    const left = Number(/ (\d+) (?:seconds|segundos)\./.exec(wordsOf(soon.body))[1]);
    assert.ok(left > 30 && left <= 60, `${left} s`);
    assert.equal(soon.headers["retry-after"], "60");
  }
  // What was asked for was done.
  for (const end = Date.now() + 20000; Date.now() < end && !/North pivot/.test((await ask(address, "/")).body); ) await new Promise((resolve) => setTimeout(resolve, 100));
  assert.match((await ask(address, "/")).body, /North pivot/);
});
