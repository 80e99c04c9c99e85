// The Replay page over the demo farm's database, in a real browser.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import test, { after, before } from "node:test";
import { chromium } from "playwright-core";
import { DEMO_DAY, demoWeather, firstLine, program, root, scratch, startWaterturn, unmade, waterturn } from "../support/program.mjs";

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

let origin, browser, server, undo, directory, db;

before(async () => {
  const undoing = [];
  undo = () => undoing.forEach((work) => work());
  directory = scratch({ after: (work) => undoing.push(work) });
  demoWeather(directory);
  const farm = path.join(directory, "farm.json");
  db = path.join(directory, "farm.db");
  writeFileSync(farm, readFileSync(path.join(root, "fixtures/demo/farm.json"), "utf8").replaceAll("http://127.0.0.1:0/", "file:weather/"));
  assert.equal(waterturn("import", farm, "--db", db).status, 0);
  const morning = waterturn("morning", "--db", db, "--today", DEMO_DAY, { cwd: directory });
  assert.equal(morning.status, 0, morning.stderr);
  server = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0", "--today", DEMO_DAY], { cwd: directory });
  origin = /http:\/\/127\.0\.0\.1:\d+/.exec(await firstLine(server))[0];
  browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
});

after(async () => {
  await browser?.close();
  server?.kill("SIGTERM");
  undo?.();
});

const get = async (where) => (await fetch(origin + where)).text();

test("the form is filled in by hand and the scenarios stand side by side, as the API has them", async () => {
  const page = await browser.newPage({ javaScriptEnabled: false, locale: "en-US" });
  await page.goto(`${origin}/`);
  await page.getByRole("link", { name: "Replay a season" }).click();
  await page.getByLabel("The field").selectOption("North pivot");
  await page.getByLabel("watered whenever").check();
  await page.getByLabel("What if 1: How").fill("50");
  await page.getByLabel("What if 2: What is otherwise").selectOption("Settings of the farm file");
  await page.getByLabel("What if 2: How").fill("irrigation.share = 50 %");
  await page.getByText("Worth and cost").click();
  await page.getByLabel("Yield without water stress").fill("14");
  await page.getByLabel("Price of one unit of the yield").fill("200");
  await page.getByRole("button", { name: "Replay" }).click();
  const api = JSON.parse(await get(`/api/replay${new URL(page.url()).search}`));
  assert.deepEqual(api.scenarios.map((scenario) => scenario.name),
    ["as it was", "without irrigation", "watered whenever the allowed depletion is passed", "Share of the water that was given: 50 %", "irrigation.share = 50 %"]);
  const rows = page.locator("[aria-labelledby=season] tbody tr");
  assert.equal(await rows.count(), api.season.length);
  const gross = api.season.findIndex((row) => row.key === "irrigation_gross_mm");
  assert.deepEqual(await rows.nth(gross).locator("td").allTextContents(), api.season[gross].cells);
  assert.equal(api.season[gross].values[1], 0);
  for (const half of [3, 4]) assert.ok(Math.abs(api.season[gross].values[half] - api.season[gross].values[0] / 2) < 1e-9);
  assert.ok(await page.locator("img.chart").evaluate((image) => image.complete && image.naturalWidth === 1600));
  assert.ok(api.has_harvest && (await page.locator("[aria-labelledby=harvest] tbody tr").count()) === api.harvest.length);
  await page.close();
});

test("yields per cubic metre are shown with three figures, in tonnes too", async () => {
  const query = new URLSearchParams({ field: "North pivot", max_yield: "14", yield_unit: "t", price: "200", water_cost: "0.1" });
  const api = JSON.parse(await get(`/api/replay?${query}`));
  const row = api.season.find(({ key }) => key === "per_m3");
  row.values.forEach((value, i) => {
    assert.ok(value > 0 && value < 0.1, String(value));
    assert.match(row.cells[i], /^0\.0*[1-9]\d\d$/);
    assert.ok(Math.abs(Number(row.cells[i]) / value - 1) < 0.005);
  });
  assert.doesNotMatch((await get(`/replay?${query}&units=us`)).replace(/<[^>]*>/g, ""), /depths in\s+in\b/);
});

test("a season on the page is that of the command line", async () => {
  const api = JSON.parse(await get("/api/replay?field=Trial%20plot%20B&rainfed=1"));
  const csv = await get("/replay.csv?field=Trial%20plot%20B&rainfed=1");
  assert.match(unmade(csv), /^field,crop,planted,scenario,date,stage,/);
  const days = unmade(csv).trim().split("\r\n").length - 1;
  assert.equal(days, api.season.find((row) => row.key === "days").values.reduce((sum, value) => sum + value, 0));
});

test("what the page hands out is made again on the command line from the same database", async () => {
  const query = "field=Trial%20plot%20B&rainfed=1&what1=irrigation.share%20%3D%2050%20%25&set2=due&what2=62.5&price=2&max_yield=30";
  for (const name of ["replay.csv", "replay.json", "replay.svg", "api/replay"]) {
    const answer = await fetch(`${origin}/${name}?${query}&units=us`);
    assert.equal(answer.status, 200);
    const file = path.join(directory, path.basename(name));
    writeFileSync(file, Buffer.from(await answer.arrayBuffer()));
    const done = waterturn("replay", "--verify", file, "--db", db);
    assert.equal(done.status, 0, done.stderr);
    assert.match(done.stdout, name === "api/replay" ? /made from the same inputs/ : /every byte the same/, name);
  }
  const file = path.join(directory, "replay.csv");
  writeFileSync(file, readFileSync(file, "utf8").replace("rain_mm", "rain_in"));
  assert.match(waterturn("replay", "--verify", file, "--db", db).stderr, /the inputs are the same and the output is not/);
});

test("the page says how it was made: version, settings, the book's hash and the weather's", async () => {
  const page = await browser.newPage({ javaScriptEnabled: false, locale: "en-US" });
  await page.goto(`${origin}/replay?field=Trial%20plot%20B&rainfed=1`);
  const { made, command_line: line } = JSON.parse(await get("/api/replay?field=Trial%20plot%20B&rainfed=1"));
  assert.deepEqual(made.inputs.map(({ what }) => what), ["farm", "weather of Tannow valley floor"]);
  await page.getByText("How this was made").click();
  const told = await page.locator("details:has(code)").textContent();
  for (const words of [made.version, line, ...made.inputs.map(({ sha256 }) => sha256)]) assert.ok(told.includes(words), words);
  assert.equal(line, `waterturn replay --what-if 'irrigation = none' --field 'Trial plot B' --today ${DEMO_DAY}`);
  // The line that the page gives prints the seasons that it shows.
  const printed = execFileSync("/bin/sh", ["-c", `${line.replace("waterturn", `"${program}"`)} --db "${db}"`], { encoding: "utf8" });
  assert.match(printed, /irrigation, gross\s+140\.0\s+0\.0/);
  await page.close();
});

test("wrong settings come back in the form with what is wrong", async () => {
  const page = await browser.newPage({ javaScriptEnabled: false });
  await page.goto(`${origin}/replay?field=North%20pivot&what1=irrigation%3Dsometimes%3Cb%3E`);
  assert.match(await page.getByRole("alert").textContent(), /^Not computed yet: see what is marked\.$/);
  assert.match(await page.locator("#what1-error").textContent(), /expected "recorded", "none" or "automatic"/);
  assert.equal(await page.locator("#what1").inputValue(), "irrigation=sometimes<b>");
  assert.equal(await page.locator("main b").count(), 0);
  await page.goto(`${origin}/replay?field=No%20such%20field`);
  assert.equal(await page.getByRole("alert").count(), 1);
  assert.equal((await fetch(`${origin}/replay.svg?field=No%20such%20field`)).status, 404);
  assert.equal((await fetch(`${origin}/replay.csv`)).status, 404);
  await page.close();
});

// An acre is 4046.8564224 m2, an acre-inch 102.7901531 m3 (NIST SP 811, Appendix B).
const ACRE_HA = 0.40468564224, ACRE_INCH_M3 = 102.79015312896;

test("in US units worth and cost are for an acre and an acre-inch, in the form and in what comes out", async () => {
  const money = { yield_unit: "bu", price: "5" };
  const ask = async (query) => JSON.parse(await get(`/api/replay?${new URLSearchParams({ field: "North pivot", rainfed: "1", ...money, ...query })}`));
  const us = await ask({ units: "us", max_yield: "200", water_cost: "12", pass_cost: "4" });
  const metric = await ask({ max_yield: String(200 / ACRE_HA), water_cost: String(12 / ACRE_INCH_M3), pass_cost: String(4 / ACRE_HA) });
  const row = (api, key) => api.season.find((each) => each.key === key);
  const shown = (text) => Number(text.replace("%", ""));
  for (const [key, factor, name] of [["yield", ACRE_HA, "Yield, per acre"], ["income", ACRE_HA, "Income, per acre"], ["water_cost", ACRE_HA, "Cost of water, per acre"],
    ["pass_cost", ACRE_HA, "Cost of passes, per acre"], ["margin", ACRE_HA, "Margin, per acre"], ["margin_over_rainfed", ACRE_HA, "Margin over rainfed, per acre"],
    ["per_mm", ACRE_HA * 25.4, "Yield per acre-inch of ET"], ["irrigation_per_mm", ACRE_HA * 25.4, "Gain per acre-inch of irrigation"],
    ["per_m3_in", ACRE_INCH_M3, "Yield per acre-inch that came in"], ["relative_per_100mm", 25.4, "Relative yield for an inch of ET"]]) {
    const value = row(metric, key).values[0];
    assert.equal(row(us, key).name, name);
    assert.ok(Math.abs(row(us, key).values[0] / value - 1) < 1e-9, `${key}: the same season, whatever it was entered in`);
    // Cells have three figures at least.
    assert.ok(Math.abs(shown(row(us, key).cells[0]) / (value * factor) - 1) < 0.02, `${key}: ${row(us, key).cells[0]}`);
  }
  // An inch on an acre is an acre-inch, so that these would say the same again.
  for (const key of ["per_m3", "irrigation_per_m3"]) assert.ok(row(us, key) === undefined && row(metric, key) !== undefined);
  assert.doesNotMatch(JSON.stringify(us.season.map(({ name }) => name)), /\bmm\b|hectare|m³/);
  // What was entered by one reader is another's, in the other's units.
  const page = await browser.newPage({ javaScriptEnabled: false, locale: "es" });
  await page.goto(`${origin}/replay?${new URLSearchParams({ field: "North pivot", ...money, max_yield: "200", max_yield_unit: "/ac", water_cost: "12", water_cost_unit: "/ac-in" })}`);
  assert.equal(await page.locator("#max_yield").inputValue(), "494,211");
  assert.equal(await page.locator("[name=max_yield_unit]").inputValue(), "/ha");
  assert.equal(await page.locator("#water_cost").inputValue(), "0,116743");
  await page.close();
});

test("what is asked for, and what is wrong with it, is in the reader's language, decimal signs too", async () => {
  const page = await browser.newPage({ javaScriptEnabled: false, locale: "es-MX" });
  await page.goto(`${origin}/replay?field=North%20pivot&set1=share&what1=62,5&set2=stop&what2=2026-07-01&set3=due&what3=55`);
  assert.deepEqual(await page.locator(".scenarios li").evaluateAll((items) => items.map((item) => item.childNodes[1].textContent.trim())),
    ["como fue", "Parte del agua que se dio: 62,5 %", "Sin riego desde este día: 1 de julio de 2026", "Regado cada vez que se pasa este agotamiento: 55 %"]);
  const words = await page.locator("form").textContent();
  assert.doesNotMatch(words, /\b(what|the|water|yield|cost|share|settings)\b/i);
  await page.goto(`${origin}/replay?field=North%20pivot&set1=share&what1=mucho&set2=planted&what2=junio&max_yield=x&yield_unit=a;b`);
  for (const [name, error] of [["what1", "Escriba un número, como 12 o 0,5."], ["what2", "Escriba una fecha, como 2026-07-14."],
    ["max_yield", "Escriba un número, como 12 o 0,5."], ["yield_unit", "Escríbalo sin punto y coma."]]) {
    assert.equal(await page.locator(`#${name}-error`).textContent(), error);
    assert.equal(await page.locator(`#${name}`).getAttribute("aria-invalid"), "true");
  }
  await page.close();
});

test("what the farm file would refuse stands beside its input, in the reader's language", async () => {
  const page = await browser.newPage({ javaScriptEnabled: false, locale: "es-MX" });
  const query = new URLSearchParams({ field: "Trial plot C", set1: "share", what1: "600,5", what2: "irrigation = sometimes", set3: "allotment", what3: "2000", water_cost: "-1", pass_cost: "3 /m3" });
  await page.goto(`${origin}/replay?${query}`);
  assert.equal(await page.getByRole("alert").textContent(), "Todavía no se calculó: vea lo marcado.");
  assert.equal(await page.locator("#pass_cost-error").textContent(), "Escriba un número, como 12 o 0,5.");
  query.delete("pass_cost");
  await page.goto(`${origin}/replay?${query}`);
  // One thing after the other: a field without a supply, settings, money.
  assert.equal(await page.locator("#what3-error").textContent(), "Trial plot C no toma agua de ningún suministro; se espera un campo que comparta uno");
  query.delete("what3");
  await page.goto(`${origin}/replay?${query}`);
  assert.equal(await page.locator("#what1-error").textContent(), "dice 600,5 % y se espera de 0 % a 500 %");
  query.set("what1", "60");
  await page.goto(`${origin}/replay?${query}`);
  assert.equal(await page.locator("#what2-error").textContent(), 'dice sometimes y se espera "recorded" (lo anotado), "none" (sin riego) o "automatic" (cuando toca)');
  query.delete("what2");
  await page.goto(`${origin}/replay?${query}`);
  assert.equal(await page.locator("#water_cost-error").textContent(), "dice -1 /m3 y se espera 0 /m3 o más");
  await page.goto(`${origin}/replay?field=Trial%20plot%20C&automatic=1`);
  assert.match(await page.getByRole("alert").textContent(), /^el campo no tiene riego; se espera uno con que regarlo/);
  await page.close();
});

test("other units or another language keep what was asked for", async () => {
  const page = await browser.newPage({ javaScriptEnabled: false, locale: "en-US" });
  await page.goto(`${origin}/replay?field=North%20pivot&set1=share&what1=60&max_yield=10&price=2`);
  const row = async (name) => (await page.locator("[aria-labelledby=season] tr", { hasText: name }).first().locator("td").allTextContents()).map(Number);
  const metric = await row("Yield, per hectare");
  await page.getByRole("link", { name: "in", exact: true }).click();
  assert.equal(await page.locator("#max_yield").inputValue(), "4.04686");
  assert.equal(await page.locator("#what1").inputValue(), "60");
  const us = await row("Yield, per acre");
  assert.equal(us.length, 2);
  us.forEach((value, i) => assert.ok(Math.abs(value / (metric[i] * ACRE_HA) - 1) < 0.01, `${value} ${metric[i]}`));
  await page.getByRole("link", { name: "Español" }).click();
  assert.equal(await page.locator("#max_yield").inputValue(), "4,04686");
  assert.equal(await page.locator(".scenarios li").count(), 2);
  // A bare amount of water stays what it was.
  await page.goto(`${origin}/replay?field=North%20pivot&set1=allotment&what1=1.5&units=us`);
  const gross = async () => (await page.locator("[aria-labelledby=season] tr", { hasText: "Riego bruto" }).first().locator("td").allTextContents()).map((text) => Number(text.replace(",", ".")));
  const inches = await gross();
  await page.getByRole("link", { name: "mm", exact: true }).click();
  assert.equal(await page.locator("#what1").inputValue(), "1,5 ac-in");
  (await gross()).forEach((mm, i) => assert.ok(Math.abs(mm - inches[i] * 25.4) <= 0.2, `${mm} ${inches[i]}`));
  await page.close();
});

test("settings that do not fit are refused, not cut", async () => {
  const api = JSON.parse(await get(`/api/replay?field=North%20pivot&set1=curve&what1=${"0".repeat(190)}80`));
  assert.match(api.what[0].error, /^(found settings that are too long, expected shorter ones: soil:|Write a number)/);
  assert.equal(api.has_result, false);
});

test("the picture on a Spanish page is Spanish, and made again on the command line", async () => {
  const query = "field=North%20pivot&rainfed=1&automatic=1&max_yield=1.5&yield_unit=kg&units=us";
  const texts = (svg) => [...svg.matchAll(/<text[^>]*>([^<]*)<\/text>/g)].map(([, text]) => text);
  const spanish = await get(`/replay.svg?${query}&lang=es`), english = await get(`/replay.svg?${query}&lang=en`);
  const said = texts(spanish).filter((text) => /[a-z]/i.test(text));
  for (const text of ["0 como fue", "1 sin riego", "Agua que entró: lluvia menos escorrentía, y riego", "pulgadas", "kg por acre", "agua que entró, pulgadas"]) assert.ok(said.includes(text), `${text}: ${said}`);
  assert.match(said[0], /^North pivot, maíz, grano, [\d-]+ a [\d-]+$/);
  assert.deepEqual(said.filter((text) => texts(english).includes(text)), []);
  assert.ok(texts(spanish).some((text) => /^\d,\d$/.test(text)) && !texts(spanish).some((text) => /^\d\.\d$/.test(text)));
  const file = path.join(directory, "spanish.svg");
  writeFileSync(file, spanish);
  const done = waterturn("replay", "--verify", file, "--db", db);
  assert.match(done.stdout, /every byte the same/, done.stderr);
});

test("of several plantings of a field the newest is asked otherwise", () => {
  const farm = path.join(directory, "twice.json"), twice = path.join(directory, "twice.db");
  const text = readFileSync(path.join(directory, "farm.json"), "utf8");
  const at = text.indexOf('"plantings": [') + '"plantings": ['.length;
  writeFileSync(farm, `${text.slice(0, at)} { "field": "Seed beds", "crop": "radish", "region": "Medit.; Europe", "planted": "2026-04-01" },${text.slice(at)}`);
  for (const args of [["import", farm, "--db", twice], ["morning", "--db", twice, "--today", DEMO_DAY]])
    assert.equal(waterturn(...args, { cwd: directory }).status, 0, waterturn(...args, { cwd: directory }).stderr);
  const page = (query) => JSON.parse(waterturn("page", `/api/replay?field=Seed%20beds&${query}`, "--db", twice, "--today", DEMO_DAY).stdout);
  const answer = page("set1=planted&what1=2026-06-25");
  assert.equal(answer.problem, undefined);
  assert.match(answer.command_line, /'planting:Seed beds@2026-06-22\.planted = 2026-06-25'/);
  assert.match(page("what1=planting:Seed%20beds.planted=2026-06-25").what[0].error, /^found 2 plantings of that field, expected one with its date/);
});

for (const colorScheme of ["light", "dark"]) {
  test(`the page breaks no rule of axe in ${colorScheme}, and fits a phone`, async () => {
    const context = await browser.newContext({ colorScheme, bypassCSP: true, viewport: { width: 360, height: 740 } });
    const page = await context.newPage();
    for (const where of ["/replay", "/replay?field=North%20pivot&rainfed=1&automatic=1&what1=irrigation.share%3D50%25", "/replay?field=North%20pivot&what1=x"]) {
      await page.goto(origin + where);
      await page.evaluate(axeSource);
      const { violations } = await page.evaluate(() => globalThis.axe.run());
      assert.deepEqual(violations.map((violation) => `${violation.id}: ${violation.nodes[0].html}`), [], where);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), where);
    }
    await context.close();
  });
}
