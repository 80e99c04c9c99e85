// `make demo` as a person meets it: the whole path on the invented farm, the calls that its fields are meant to get,
// the pages, and nothing left running.
import assert from "node:assert/strict";
import { execFile, spawn } from "node:child_process";
import { mkdtemp, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, test } from "node:test";
import { promisify } from "node:util";

const build = process.env.BUILD ?? "build";
const run = promisify(execFile);
let made, shown;

const demo = (environment) => ({ env: { ...process.env, BUILD: build, MADE: made, ...environment } });
const program = async (...words) => (await run(path.join(build, "waterturn"), words)).stdout;

before(async () => {
  made = await mkdtemp(path.join(tmpdir(), "waterturn-demo-"));
  shown = (await run("tests/tools/demo.sh", [], demo({ ONCE: "1" }))).stdout;
});

after(() => rm(made, { recursive: true }));

const answers = (address) =>
  fetch(address).then(
    (answer) => answer.text(),
    () => null,
  );

const patiently = async (what, ask) => {
  for (let tries = 0; tries < 100; tries++) {
    const found = await ask();
    if (found) return found;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  assert.fail(`waited ten seconds for ${what}`);
};

test("every field of the demo gets the call that its state asks for", async () => {
  const today = JSON.parse(
    await program("call", "--db", path.join(made, "farm.db"), "--today", "2026-07-14", "--json"),
  );
  const calls = Object.fromEntries(today.fields.map((field) => [field.name, field.call]));
  // What each field was planted, watered and cut for is told in fixtures/demo/README.md.
  assert.deepEqual(calls, {
    "Seed beds": "water_today",
    "North pivot": "water_today",
    "Long rows": "water_today",
    "East pivot": "water_by",
    "Trial plot B": "water_by",
    "Ridge pivot": "rain_may_cover",
    "Trial plot A": "rain_may_cover",
    "Bottom meadow": "hold",
    "Trial plot C": "hold",
  });
});

test("the demo prints a sentence for every field", () => {
  for (const sentence of ["Water today", "Water by", "Rain may cover it", "Hold"])
    assert.ok(shown.includes(sentence), `no "${sentence}" in:\n${shown}`);
});

test("the farm file of the demo is without fault", async () => {
  await program("check", "fixtures/demo/farm.json");
});

test("the calls do not depend on what is downloaded a second time", async () => {
  const file = path.join(made, "farm.db");
  const first = await program("call", "--db", file, "--today", "2026-07-14", "--csv");
  await program("morning", "--db", file, "--today", "2026-07-14", "--stored");
  assert.equal(await program("call", "--db", file, "--today", "2026-07-14", "--csv"), first);
});

test("the pages come up, and Ctrl-C leaves nothing running", { timeout: 60_000 }, async () => {
  const child = spawn("tests/tools/demo.sh", [], { ...demo({ ONCE: "" }), stdio: ["ignore", "pipe", "inherit"] });
  const ended = new Promise((resolve) => child.on("close", resolve));
  let text = "";
  child.stdout.on("data", (bytes) => (text += bytes));
  try {
    const address = await patiently("the address", () => text.match(/http:\/\/127\.0\.0\.1:[1-9]\d*\//)?.[0]);
    const page = await patiently("the page", () => answers(address));
    assert.match(page, /Quillmere Farm/);
    assert.match(await answers(`${address}field/North%20pivot`), /North pivot/);
    const weather = (await readFile(path.join(made, "farm.json"), "utf8")).match(/http:\/\/127\.0\.0\.1:\d+\//)[0];
    assert.match(await answers(`${weather}observed.csv`), /^date,/);
    child.kill("SIGINT");
    assert.equal(await ended, 0);
    assert.equal(await answers(address), null);
    assert.equal(await answers(weather), null);
  } finally {
    child.kill("SIGTERM");
  }
});
