// Ten years of a farm of 500 fields, the clock run fast: the daemon runs its mornings, its pages are read and its forms
// sent, and its memory stays small and flat. FIELDS, YEARS and MORNINGS (a year) bound it; more mornings take longer.
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { ask, fillIn } from "../support/book.mjs";
import { clock } from "../support/clock.mjs";
import { largeFarm } from "../support/large_farm.mjs";
import { firstLine, root, startWaterturn } from "../support/program.mjs";

const FIELDS = Number(process.env.FIELDS ?? 500), YEARS = Number(process.env.YEARS ?? 10), MORNINGS = Number(process.env.MORNINGS ?? 3);
const FIRST = 2026, GROWTH_MOST_KB = 512, RESIDENT_MOST_KB = 16 * 1024;
const PAGES = ["/", "/?from=50", "/?lang=es&units=us", "/api/today", "/field/Field%207", "/field/Field%207/ledger", "/field/Field%207/ledger.csv", "/field/Field%207/record/irrigation",
  "/field/Field%207/settings", "/sources", "/people", "/metrics", "/healthz", "/replay?field=Field%207&rainfed=1", "/hindsight", "/style.css", "/no/such/page"];
const directory = mkdtempSync(path.join(tmpdir(), "waterturn-endurance-"));
const memory = (pid, what) => Number(new RegExp(`^${what}:\\s+(\\d+) kB`, "m").exec(readFileSync(`/proc/${pid}/status`, "utf8"))[1]);
const days = (year, from, count) => Array.from({ length: count }, (_, i) => new Date(Date.UTC(year, from, 15 + Math.round((i * 330) / count))).toISOString().slice(0, 10));
let daemon, kept = 0;

/** The day of the newest morning, as the page's model has it. */
const newest = async (address) => Number(/^waterturn_morning_timestamp_seconds ([\d.e+]+)$/m.exec((await ask(address, "/metrics")).body)?.[1] ?? 0);

async function morning(address, set, day) {
  set(`${day}T12:00:00Z`);
  daemon.kill("SIGUSR1"); // at once, instead of within five seconds
  for (const end = Date.now() + 120000; Date.now() < end; await sleep(20)) if ((await newest(address)) * 1000 >= Date.parse(day)) return;
  throw new Error(`no morning of ${day}`);
}

async function read(address, day) {
  for (const where of [...PAGES, `/field/Field%207/workings/${new Date(Date.parse(day) - 86400000 * 2).toISOString().slice(0, 10)}`]) {
    for (const headers of [{}, { "Accept-Encoding": "gzip" }]) {
      const { status } = await ask(address, where, { headers });
      if (status !== 200 && status !== 404) throw new Error(`${day} ${where}: ${status}`);
    }
  }
  // Outside the season the book takes no record.
  const sent = await fillIn(address, "/field/Field%207/record/irrigation", { water: "1", water_unit: "mm" });
  if (sent.status !== 303 && sent.status !== 422) throw new Error(`${day} a record: ${sent.status}`);
  kept += sent.status === 303;
}

try {
  const years = Array.from({ length: YEARS }, (_, i) => FIRST + i);
  const db = largeFarm(directory, { fields: FIELDS, years, days: Math.ceil((YEARS + 1) * 365.25) });
  const { set, env } = clock(directory);
  set(`${FIRST}-01-02T12:00:00Z`);
  daemon = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0"], { stdio: ["ignore", "pipe", "inherit"], env: { ...process.env, LANG: "en", WATERTURN_LAYOUTS: path.join(root, "fixtures/layouts"), ...env } });
  const address = /http:\/\/[^/]+/.exec(await firstLine(daemon))[0];
  const sizes = [];
  for (const year of years) {
    let most = 0;
    for (const day of days(year, 0, MORNINGS)) {
      await morning(address, set, day);
      await read(address, day);
      most = Math.max(most, memory(daemon.pid, "VmRSS"));
    }
    sizes.push(most);
    console.log(`# measured: ${year}, ${FIELDS} fields: resident at most ${most} kB between pages (VmRSS), ${memory(daemon.pid, "VmHWM")} kB for a moment since the start (VmHWM)`);
  }
  const growth = Math.max(...sizes.slice(1)) - sizes[0], peak = memory(daemon.pid, "VmHWM");
  console.log(`# measured: ${kept} of ${YEARS * MORNINGS} records were kept, the others were outside the season`);
  console.log(`# measured: growth from the first year to the largest later one: ${growth} kB, at most ${GROWTH_MOST_KB}; for a moment at most ${peak} kB, of ${RESIDENT_MOST_KB}`);
  if (growth > GROWTH_MOST_KB || peak > RESIDENT_MOST_KB || kept === 0) process.exitCode = 1;
} finally {
  daemon?.kill("SIGTERM");
  rmSync(directory, { recursive: true, force: true });
}
