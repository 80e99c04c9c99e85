// Ten years of mornings, the clock run fast, with the pages being read: the daemon's memory stays flat.
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import path from "node:path";
import { ask } from "../support/book.mjs";
import { largeFarm } from "../support/large_farm.mjs";
import { firstLine, startWaterturn, waterturn } from "../support/program.mjs";

const YEARS = Number(process.env.YEARS ?? 10), FIELDS = 8, FIRST = 2026;
const GROWTH_MOST_KB = 512;
const directory = mkdtempSync(path.join(tmpdir(), "waterturn-endurance-"));
const resident = (pid) => Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, "utf8"))[1]);
let daemon;

try {
  const years = Array.from({ length: YEARS }, (_, i) => FIRST + i);
  const db = largeFarm(directory, { fields: FIELDS, years, days: Math.ceil(YEARS * 365.25) + 1 });
  const end = `${FIRST + YEARS}-01-01`;
  daemon = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0", "--today", end], { stdio: ["ignore", "pipe", "inherit"] });
  const address = /http:\/\/[^/]+/.exec(await firstLine(daemon))[0];
  const sizes = [];
  for (const year of years) {
    for (let day = Date.UTC(year, 0, 2); day <= Date.UTC(year + 1, 0, 1); day += 86400000) {
      const today = new Date(day).toISOString().slice(0, 10);
      const done = waterturn("morning", "--db", db, "--today", today);
      if (done.status !== 0) throw new Error(done.stderr);
      for (const where of ["/", "/field/Field%201", "/field/Field%202/ledger", "/api/today"]) {
        const { status } = await ask(address, where);
        if (status !== 200 && status !== 404) throw new Error(`${today} ${where}: ${status}`);
      }
    }
    sizes.push(resident(daemon.pid));
    console.log(`# measured: resident at the end of ${year}: ${sizes.at(-1)} kB`);
  }
  const growth = sizes.at(-1) - sizes[0];
  console.log(`# measured: growth from the first year to the last: ${growth} kB, at most ${GROWTH_MOST_KB}`);
  if (growth > GROWTH_MOST_KB) process.exitCode = 1;
} finally {
  daemon?.kill("SIGTERM");
  rmSync(directory, { recursive: true, force: true });
}
