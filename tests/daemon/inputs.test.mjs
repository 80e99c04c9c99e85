// What people write into forms: commas, marks between thousands, the meter beside an amount, the same rain twice.
import assert from "node:assert/strict";
import test from "node:test";
import { DEMO_DAY, demoBook, waterturn } from "../support/program.mjs";
import { ask, fillIn, formsOf, plain, send, servePages, wordsOf } from "../support/book.mjs";

const path = (kind) => `/field/Seed%20beds/record/${kind}`;
const newest = (db) => JSON.parse(waterturn("export", "--db", db).stdout).records.filter(({ field, date }) => field === "Seed beds" && date >= "2026-07-13").at(-1);

async function demo(t) {
  const book = await demoBook(t);
  return { ...book, ...(await servePages(t, ["--db", book.db, "--today", DEMO_DAY])) };
}

async function kept(address, answer) {
  assert.equal(answer.status, 303, wordsOf(answer.body));
  return wordsOf((await ask(address, answer.headers.location)).body);
}

async function refused(answer, name, words) {
  assert.equal(answer.status, 422);
  assert.match(plain(answer.body), new RegExp(`<p class="error" id="${name}-error">${words}</p>`));
}

test("a comma is a decimal sign where it can be nothing else, in any language", async (t) => {
  const { address, db } = await demo(t);
  for (const [language, written, depth] of [["en", "12,5", "12.5 mm"], ["en", "0,125", "0.125 mm"], ["es", "1,500", "1.5 mm"], ["es", "12.5", "12.5 mm"]]) {
    const headers = { "Accept-Language": language };
    await kept(address, await fillIn(address, path("irrigation"), { water: written }, headers));
    assert.equal(newest(db).depth, depth, `${language} ${written}`);
  }
});

test("a number that may be a thousand times another is refused, and how to write it is said", async (t) => {
  const { address } = await demo(t);
  for (const written of ["1,500", "-12,500", "1,234,567", "1,234.5"])
    await refused(await fillIn(address, path("irrigation"), { water: written }), "water", "Write it without marks between the thousands: 1500, or 1.5 for one and a half.");
});

test("limits are said in plain digits, with the language's decimal sign", async (t) => {
  const { address } = await demo(t);
  await refused(await fillIn(address, path("irrigation"), { water: "0" }), "water", "Write a number above 0 mm and up to 2000 mm.");
  await refused(await fillIn(address, "/fields/new", { area: "1e9" }), "area", "Write a number from 0.0001 ha to 1000000 ha.");
  await refused(await fillIn(address, "/supply/Mill%20well", { supply_flow: "0" }), "supply_flow", "Write a number above 0 m3/h.");
  await refused(await fillIn(address, "/supply/Mill%20well", { allotment: "-1" }), "allotment", "Write a number, 0 m3 or more.");
  const spanish = await fillIn(address, "/fields/new", { area: "1e9" }, { "Accept-Language": "es" });
  await refused(spanish, "area", "Escriba un número de 0,0001 ha a 1000000 ha.");
});

test("numbers that stand in a form have the decimal sign of the page's language, and sent back change nothing", async (t) => {
  const { address, db } = await demo(t);
  const headers = { "Accept-Language": "es", Cookie: "language=es" };
  const before = waterturn("export", "--db", db).stdout;
  const page = await ask(address, "/farm?lang=es", { headers });
  assert.match(page.body, /inputmode="text" id="latitude" name="latitude" value="33,2"/);
  assert.match(page.body, /inputmode="text" id="longitude" name="longitude" value="-88,9"/);
  assert.match(page.body, /inputmode="decimal" id="wind_height"/);
  await kept(address, await fillIn(address, "/farm?lang=es", {}, headers));
  assert.equal(waterturn("export", "--db", db).stdout, before);
  await kept(address, await fillIn(address, "/farm", { longitude: "−88,95" }));
  assert.equal(JSON.parse(waterturn("export", "--db", db).stdout).stations[0].longitude, -88.95);
});

test("the meter's readings stand in place of the amount that the form already had", async (t) => {
  const { address, db } = await demo(t);
  await kept(address, await fillIn(address, path("irrigation?as=called"), { meter_from: "100", meter_to: "150" }));
  // 50 m3 on 0.3 ha are 16.7 mm (arithmetic).
  assert.match(newest(db).depth, /^16\.66/);
  await refused(await fillIn(address, path("irrigation?as=called"), { meter_from: "100" }), "meter_to", "Fill this in.");
});

/** What Today calls for, by the pages of the fields. */
const callsOf = async (address, headers) =>
  [...(await ask(address, "/", { headers })).body.matchAll(/<h2[^>]*>\s*<a href="([^"]*)"[^]*?<p class="call">([^]*?)<\/p>/g)].map(([, where, call]) => [plain(where), wordsOf(call)]).filter(([, call]) => call.startsWith("Water today"));

test("the form offers the depth that the call says, in either unit", async (t) => {
  const { address } = await demo(t);
  for (const [units, symbol] of [["us", "in"], ["metric", "mm"]]) {
    const headers = { Cookie: `units=${units}` }, called = await callsOf(address, headers);
    assert.ok(called.length > 2);
    for (const [where, call] of called) {
      const form = await ask(address, `${where}/record/irrigation?as=called`, { headers });
      const said = new RegExp(`for ([\\d.]+)\\s${symbol} gross`).exec(call), offered = /id="water" name="water" value="([^"]*)"/.exec(form.body)[1];
      assert.ok(said, call);
      assert.equal(Number(offered), Number(said[1]), `${where}: ${call}`);
    }
  }
});

test("one tap records the depth that the call says, in either unit", async (t) => {
  const { address, db } = await demo(t);
  for (const [units, name, mm] of [["metric", "North pivot", 1], ["us", "Seed beds", 25.4]]) {
    const headers = { Cookie: `units=${units}` }, where = `/field/${encodeURIComponent(name)}`;
    const amount = /for (\S+\s\S+) gross/.exec((await callsOf(address, headers)).find(([page]) => page === where)[1])[1];
    const form = formsOf((await ask(address, "/", { headers })).body).find(({ action }) => action === `${where}/record/irrigation`);
    const answer = await send(address, form.action, form.fields, headers), page = wordsOf((await ask(address, answer.headers.location, { headers })).body);
    assert.ok(page.includes(`Watered ${amount} gross today`), page);
    const { depth } = JSON.parse(waterturn("export", "--db", db).stdout).records.filter(({ field }) => field === name).at(-1);
    // 25.4 mm are an inch by its definition; 1e-9 mm for rounding.
    assert.ok(Math.abs(parseFloat(depth) - mm * parseFloat(amount)) < 1e-9, `${depth}, ${amount}`);
  }
});

test("rain that is entered twice is said to add up, and can be corrected from there", async (t) => {
  const { address } = await demo(t);
  const first = await kept(address, await fillIn(address, path("rain"), { rain: "0.4" }));
  assert.match(first, /Rain gauge: 0\.4 mm yesterday/);
  assert.doesNotMatch(first, /With this/);
  const answer = await fillIn(address, path("rain"), { rain: "7" });
  assert.match(await kept(address, answer), /Rain gauge: 7 mm yesterday With this, 2 entries yesterday make 7\.4 mm of rain\..* Undo Correct/);
  const correct = /class="button" href="([^"]*replaces[^"]*)"/.exec((await ask(address, answer.headers.location)).body)[1].replaceAll("&#x2F;", "/").replaceAll("&#x3D;", "=");
  assert.match(await kept(address, await fillIn(address, correct, { rain: "6" })), /Corrected .* 2 entries yesterday make 6\.4 mm/);
  // Gone back to, the record that was corrected is no longer there, and the page says why.
  const gone = await ask(address, correct);
  assert.equal(gone.status, 404);
  assert.match(wordsOf(gone.body), /was corrected or taken back meanwhile/);
});

test("a reading is said as it was written, in per cent", async (t) => {
  const { address } = await demo(t);
  assert.match(await kept(address, await fillIn(address, path("reading"), { content: "22.5" })), /Soil water read: 22\.5% today/);
  for (const slip of ["0.225", "90"])
    await refused(await fillIn(address, path("reading"), { content: slip }), "content", "Write a number from 1 % to 80 %.");
});

test("a source that is there already is not added again, and an address names a host", async (t) => {
  const { address, db } = await demo(t);
  const sources = () => JSON.parse(waterturn("export", "--db", db).stdout).sources.length;
  const before = sources();
  await kept(address, await fillIn(address, "/sources/new", { service: "met-norway" }));
  await refused(await fillIn(address, "/sources/new", { service: "met-norway" }), "service", "The source met-norway reads this already\\.");
  const own = { service: "file:plain", kind: "forecast" };
  for (const wrong of ["http://", "https:///days.csv", "http://me@/days.csv", "https://example.org/my days.csv", "example.org/days.csv"])
    await refused(await fillIn(address, "/sources/new", { ...own, address: wrong }), "address", "Write a whole address that begins with http:// or https://, without blanks\\.");
  await kept(address, await fillIn(address, "/sources/new", { ...own, address: "https://example.org/days.csv" }));
  await refused(await fillIn(address, "/sources/new", { ...own, address: "https://example.org/days.csv" }), "address", "The source plain reads this already\\.");
  assert.equal(sources(), before + 2);
  // One that is sent back as it is stays.
  await kept(address, await fillIn(address, "/source/plain", {}));
});

test("a source that was added by mistake is removed from its page, with a button alone", async (t) => {
  const { address, db } = await demo(t);
  const sources = () => JSON.parse(waterturn("export", "--db", db).stdout).sources.map(({ name }) => name);
  const before = sources();
  await kept(address, await fillIn(address, "/sources/new", { service: "met-norway" }));
  assert.match(wordsOf((await ask(address, "/source/met-norway")).body), /Remove this source/);
  const form = formsOf((await ask(address, "/source/met-norway/remove")).body)[0];
  // Its token is not one for another source, of which there is weather.
  assert.equal((await send(address, "/source/valley%20station/remove", { ...form.fields, confirm: "valley station" })).status, 422);
  const answer = await send(address, form.action, form.fields);
  assert.deepEqual([answer.status, answer.headers.location], [303, "/sources"]);
  assert.deepEqual(sources(), before);
  assert.equal((await send(address, form.action, form.fields)).status, 404);
});

test("no text that a browser lets through is too long to be judged", async (t) => {
  const { address } = await demo(t);
  const page = await ask(address, path("note"));
  const most = Number(/<textarea[^>]*maxlength="(\d+)"/.exec(page.body)[1]);
  // The characters that take most bytes for their length in a browser, which counts in UTF-16.
  await refused(await fillIn(address, path("note"), { note: "\u2603".repeat(most) }), "note", "At most 1023 letters; .*");
  assert.match(await kept(address, await fillIn(address, path("note"), { note: "x".repeat(most) })), /Kept/);
});

test("the price of water is for an acre-inch where people think in those, and sent back as shown it stays", async (t) => {
  const { address, db } = await demo(t);
  const price = () => JSON.parse(waterturn("export", "--db", db).stdout).supplies.find(({ name }) => name === "Creek pump").water_price;
  const us = { Cookie: "units=us" }, pump = "/supply/Creek%20pump";
  /** The form as it is shown, with other values; no check box of a week is set. */
  const shown = async (headers) => {
    const [form] = formsOf((await ask(address, pump, { headers })).body).filter(({ action }) => action === pump);
    return Object.fromEntries(Object.entries(form.fields).filter(([name]) => !name.endsWith("_days")));
  };
  const change = async (values, headers) => send(address, pump, { ...(await shown(headers)), ...values }, headers);
  await kept(address, await change({ water_price: "12" }, us));
  // An acre-inch is 102.79015312896 m3 (NIST SP 811, Appendix B).
  const kept12 = price();
  assert.ok(Math.abs(kept12 * 102.79015312896 / 12 - 1) < 1e-12, String(kept12));
  for (const [headers, price, unit] of [[us, "12", "/ac-in"], [{}, "0.116743", "/m3"]]) {
    const { water_price: stands, water_price_unit: for_each } = await shown(headers);
    assert.deepEqual([stands, plain(for_each)], [price, unit]);
  }
  for (const headers of [us, {}]) {
    await kept(address, await change({}, headers));
    assert.equal(price(), kept12);
  }
  await refused(await change({ water_price: "-1" }, us), "water_price", "Write a number from 0 /ac-in to 102800000 /ac-in.");
});

test("what the tables lack of a crop, and a crop that was meant, are said in the language of the page", async (t) => {
  const { address } = await demo(t);
  const said = async (language, crop) => fillIn(address, "/field/East%20pivot/planting/new", { crop, planted: "2026-07-20" }, { "Accept-Language": language });
  await refused(await said("en", "garlic"), "crop", "The tables lack something for this crop: lengths of its stages \\(FAO-56 Table 11 has no complete row for it\\)\\. Put it into a farm file with your own values\\.");
  await refused(await said("es", "ajo"), "crop", "A las tablas les falta algo de este cultivo: duración de sus etapas \\(la tabla 11 de FAO-56 no tiene una fila completa para él\\)\\. Póngalo en un archivo de finca con sus propios valores\\.");
  await refused(await said("es", "sweet potatoe"), "crop", "No se conoce ningún cultivo con ese nombre\\. ¿Quiso decir batata\\?");
});
