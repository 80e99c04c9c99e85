// The system's clock as a test wants it, for runs of the program: a library that is preloaded, compiled here.
import { spawnSync } from "node:child_process";
import { renameSync, writeFileSync } from "node:fs";
import path from "node:path";
import { root } from "./program.mjs";

/** { set(instant), env }: what runs with `env` sees the clock that was set last. */
export function clock(directory) {
  const library = path.join(directory, "clock.so"), file = path.join(directory, "clock");
  const made = spawnSync(process.env.CC ?? "cc", ["-std=c11", "-D_GNU_SOURCE", "-shared", "-fPIC", "-o", library, path.join(root, "tests/support/preload/clock.c")], { encoding: "utf8" });
  if (made.status !== 0) throw new Error(made.stderr);
  // Put in place whole: what runs reads it at any moment.
  const set = (instant) => {
    writeFileSync(`${file}.new`, String(Math.round((Date.parse(instant) - Date.now()) / 1000)));
    renameSync(`${file}.new`, file);
  };
  return { set, env: { LD_PRELOAD: library, TEST_CLOCK: file } };
}
