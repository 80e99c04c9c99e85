// The layers are linked as archives, where a second definition of a name goes unnoticed and the wrong one may be called.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readdirSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { build } from "../support/program.mjs";

test("no external name is defined in two layers", () => {
  const archives = readdirSync(path.join(build, "lib")).filter((file) => /^(core|daemon)_.*\.a$/.test(file));
  assert.ok(archives.length >= 10, `archives were found: ${archives.length}`);
  const owner = new Map();
  for (const archive of archives) {
    const listing = spawnSync("nm", ["--extern-only", "--defined-only", path.join(build, "lib", archive)], { encoding: "utf8" });
    assert.equal(listing.status, 0, listing.stderr);
    for (const [, name] of listing.stdout.matchAll(/^[0-9a-f]+ [A-Z] (\S+)$/gm)) {
      assert.ok(!owner.has(name), `${name} is defined in ${owner.get(name)} and in ${archive}`);
      owner.set(name, archive);
    }
  }
  assert.ok(owner.size > 200, `names were found: ${owner.size}`);
});
