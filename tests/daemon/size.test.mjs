// What the daemon needs: memory, time to its first page, and disk, with 500 fields and 3 seasons.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readFileSync, statSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { setTimeout as sleep } from "node:timers/promises";
import { ask } from "../support/book.mjs";
import { largeFarm } from "../support/large_farm.mjs";
import { firstLine, program, scratch, startWaterturn, waterturn } from "../support/program.mjs";

const RESIDENT_MOST_KB = 16 * 1024; // "16 MB resident or less"
const BINARY_MOST_BYTES = 1.5e6; // "1.5 MB or less, stripped"
const TODAY = "2026-07-14";

const memory = (pid, what) => Number(new RegExp(`^${what}:\\s+(\\d+) kB`, "m").exec(readFileSync(`/proc/${pid}/status`, "utf8"))[1]);

test("the program is small", (t) => {
  const stripped = path.join(scratch(t), "waterturn");
  assert.equal(spawnSync("strip", ["-o", stripped, program]).status, 0);
  const { size } = statSync(stripped);
  t.diagnostic(`measured: binary, stripped: ${(size / 1e6).toFixed(2)} MB`);
  assert.ok(size <= BINARY_MOST_BYTES, `${size} bytes`);
});

test("500 fields and 3 seasons take little memory; how soon the first page comes is measured, and held by the bench", async (t) => {
  const db = largeFarm(scratch(t), { fields: 500, years: [2024, 2025, 2026], days: 925, forecast: TODAY });
  const morning = waterturn("morning", "--db", db, "--today", TODAY);
  assert.equal(morning.status, 0, morning.stderr);
  const times = [];
  let daemon;
  for (let i = 0; i < 5; i++) {
    const began = performance.now();
    daemon = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0", "--today", TODAY]);
    const address = /http:\/\/[^/]+/.exec(await firstLine(daemon))[0];
    const page = await ask(address, "/");
    times.push(performance.now() - began);
    assert.match(page.body, /Field \d+/);
    if (i < 4) {
      daemon.kill("SIGTERM");
      await new Promise((resolve) => daemon.on("exit", resolve));
    } else {
      daemon.address = address;
    }
  }
  t.after(() => daemon.kill("SIGTERM"));
  const best = Math.min(...times);
  t.diagnostic(`measured: start to first page with 500 fields: best of 5 ${best.toFixed(0)} ms`);

  const paths = ["/", "/?from=50", "/?from=450", "/api/today", "/field/Field%207", "/field/Field%207/ledger", "/field/Field%207/ledger.csv", "/field/Field%207/workings/2026-07-01", "/sources", "/metrics", "/people", "/?lang=es&units=us"];
  let most = 0, first = 0;
  for (let round = 0; round < 10; round++) {
    for (const where of paths) {
      const reading = ask(daemon.address, where, { headers: round % 2 ? { "Accept-Encoding": "gzip" } : {} });
      most = Math.max(most, memory(daemon.pid, "VmRSS"));
      assert.equal((await reading).status, 200, where);
      most = Math.max(most, memory(daemon.pid, "VmRSS"));
    }
    if (round === 1) first = memory(daemon.pid, "VmRSS");
  }
  await sleep(50);
  const last = memory(daemon.pid, "VmRSS");
  t.diagnostic(`measured: resident with 500 fields while pages are read: ${(most / 1024).toFixed(1)} MB, at rest ${(last / 1024).toFixed(1)} MB, for a moment at most ${(memory(daemon.pid, "VmHWM") / 1024).toFixed(1)} MB`);
  assert.ok(most <= RESIDENT_MOST_KB, `${most} kB`);
  assert.ok(last - first < 512, `grew from ${first} to ${last} kB`);
});

test("of hundreds of fields each stands on one page of Today, the most pressing first", async (t) => {
  const db = largeFarm(scratch(t), { fields: 120, years: [2026], days: 195, forecast: TODAY });
  assert.equal(waterturn("morning", "--db", db, "--today", TODAY).status, 0);
  const daemon = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0", "--today", TODAY]);
  t.after(() => daemon.kill("SIGTERM"));
  const address = /http:\/\/[^/]+/.exec(await firstLine(daemon))[0];
  const seen = [];
  let where = "/api/today";
  for (let pages = 0; where; pages++) {
    assert.ok(pages < 5);
    const view = JSON.parse((await ask(address, where)).body);
    seen.push(...view.fields.map(({ name }) => name));
    assert.match(view.summary, /\d+ fields today|No field/, "the summary is of all fields");
    where = view.after && `/api/today${view.after.href}`;
  }
  assert.equal(seen.length, 120);
  assert.equal(new Set(seen).size, 120);
  const whole = JSON.parse(waterturn("call", "--json", "--db", db, "--today", TODAY).stdout).fields.map(({ name }) => name);
  assert.deepEqual(seen, whole);
  for (const odd of ["999", "-1", "x", "18446744073709551616", "60"]) assert.equal((await ask(address, `/?from=${odd}`)).status, 200, odd);
});
