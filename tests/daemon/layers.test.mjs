// Data flows one way: a file includes only what stands below it. The order of the layers is the Makefile's.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { root } from "../support/program.mjs";

const makefile = readFileSync(path.join(root, "Makefile"), "utf8");
const layers = /^LAYERS = ((?:.*\\\n)*.*)$/m.exec(makefile)[1].replaceAll("\\\n", " ").trim().split(/\s+/);
const rank = new Map(layers.map((layer, i) => [layer, layers.length - i]));
const sources = layers.flatMap((layer) => readdirSync(path.join(root, layer)).filter((file) => /\.[ch]$/.test(file)).map((file) => ({ layer, file })));

test("every include points at the same layer or one below it", () => {
  let count = 0;
  for (const { layer, file } of sources) {
    const text = readFileSync(path.join(root, layer, file), "utf8");
    for (const [, included] of text.matchAll(/^#include "(.*)"/gm)) {
      const target = path.dirname(included);
      assert.ok(rank.has(target), `${layer}/${file} includes ${included}, which is in no layer`);
      assert.ok(rank.get(target) <= rank.get(layer), `${layer}/${file} includes ${included}, which stands above it`);
      count++;
    }
  }
  assert.ok(count > 200, "includes were found");
});

test("SQL is in daemon/store only", () => {
  for (const { layer, file } of sources) {
    if (layer === "daemon/store") continue;
    const text = readFileSync(path.join(root, layer, file), "utf8");
    assert.doesNotMatch(text, /sqlite3\.h|"(SELECT|INSERT|UPDATE|DELETE) /, `${layer}/${file}`);
  }
});

test("no C code names a weather service", () => {
  const services = /\b(noaa|ghcn|gsod|uscrn|nasa|met\.no|metno|open-meteo|openmeteo)\b/i;
  for (const { layer, file } of sources) assert.doesNotMatch(readFileSync(path.join(root, layer, file), "utf8"), services, `${layer}/${file}`);
});

test("files stay under 500 lines", () => {
  for (const { layer, file } of sources) {
    const lines = readFileSync(path.join(root, layer, file), "utf8").split("\n").length;
    assert.ok(lines <= 500, `${layer}/${file} has ${lines} lines`);
  }
});

test("the top level holds what it is said to hold, and what is built", () => {
  const built = path.relative(root, path.resolve(root, process.env.BUILD ?? "build")).split(path.sep)[0];
  const there = readdirSync(root).filter((name) => !name.startsWith(".") && name !== "build" && name !== built);
  assert.deepEqual(there.sort(), ["DEVELOPERS.md", "LICENSE", "Makefile", "README.md", "config", "core", "daemon", "fixtures", "tests", "web"]);
});
