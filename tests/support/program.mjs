// Runs the program, its tools and the fixture server for the JavaScript tests.
import { spawn, spawnSync } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import path from "node:path";
import { fileURLToPath } from "node:url";

export const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), "../..");
export const build = path.resolve(root, process.env.BUILD ?? "build");
export const program = path.join(build, "waterturn");
export const tool = (name) => path.join(build, "tests/tools", name);

const environment = { ...process.env, LANG: "en", LC_ALL: "", WATERTURN_DB: "", WATERTURN_LAYOUTS: path.join(root, "fixtures/layouts") };

/** Runs waterturn to its end: { status, stdout, stderr }. */
export function waterturn(...args) {
  const options = typeof args.at(-1) === "object" ? args.pop() : {};
  const { env, ...rest } = options;
  return spawnSync(program, args, { encoding: "utf8", cwd: root, maxBuffer: 1 << 28, env: { ...environment, ...env }, ...rest });
}

/** Starts waterturn and does not wait. */
export function startWaterturn(args, options = {}) {
  return spawn(program, args, { cwd: root, env: environment, stdio: ["ignore", "pipe", "pipe"], ...options });
}

/** Every row of a database as text. */
export function dump(db) {
  const done = spawnSync(tool("dump_db"), [db], { encoding: "utf8", maxBuffer: 1 << 28 });
  if (done.status !== 0) throw new Error(`dump_db: ${done.stderr}`);
  return done.stdout;
}

/** Changes a database behind the program's back. */
export function runSql(db, sql) {
  const done = spawnSync(tool("run_sql"), [db, sql], { encoding: "utf8" });
  if (done.status !== 0) throw new Error(done.stderr);
}

/** A directory of its own for a test; removed when the test ends. */
export function scratch(t) {
  const directory = mkdtempSync(path.join(tmpdir(), "waterturn-test-"));
  t.after(() => rmSync(directory, { recursive: true, force: true }));
  return directory;
}

/** The fixture server over a directory: its address. Stopped when the test ends. */
export async function serveFiles(t, directory) {
  const server = spawn(tool("fixture_server"), [directory], { stdio: ["ignore", "pipe", "inherit"] });
  t.after(() => server.kill("SIGTERM"));
  return (await firstLine(server)).trim();
}

/** The first line that a process prints. */
export function firstLine(process) {
  return new Promise((resolve, reject) => {
    let text = "";
    process.stdout.setEncoding("utf8");
    process.stdout.on("data", (chunk) => {
      text += chunk;
      if (text.includes("\n")) resolve(text.slice(0, text.indexOf("\n")));
    });
    process.on("exit", (code) => reject(new Error(`ended (${code}) before its first line`)));
  });
}

/** The demo farm with its weather in `directory`/weather, its sources at `address`; returns the farm file's path. */
export function demoFarm(directory, address) {
  const farm = path.join(directory, "farm.json");
  const text = readFileSync(path.join(root, "fixtures/demo/farm.json"), "utf8");
  writeFileSync(farm, text.replaceAll("http://127.0.0.1:0", address));
  return farm;
}

export function demoWeather(directory) {
  const weather = path.join(directory, "weather");
  cpSync(path.join(root, "fixtures/demo/weather"), weather, { recursive: true });
  return weather;
}

export const DEMO_DAY = "2026-07-14";

/** Sentences that a command broke into lines, whole again. */
export const unwrapped = (text) => text.replace(/\n {6,}(?=\S)/g, " ");

/** An output in CSV without its first line, the note on how it was made. */
export const unmade = (csv) => csv.replace(/^# made: \{.*\}\r\n/, "");

/** A CSV whose cells hold no commas, as a list of objects. */
export function csvRows(text) {
  const [header, ...lines] = unmade(text).trim().split(/\r?\n/);
  const names = header.split(",");
  return lines.map((line) => Object.fromEntries(line.split(",").map((cell, i) => [names[i], cell.replace(/^"(.*)"$/, "$1")])));
}

/** The demo farm in a book with its morning made: { directory, db }. */
export async function demoBook(t) {
  const directory = scratch(t), db = path.join(directory, "farm.db");
  const file = demoFarm(directory, await serveFiles(t, demoWeather(directory)));
  for (const args of [["import", file, "--db", db], ["morning", "--db", db, "--today", DEMO_DAY]]) {
    const done = waterturn(...args);
    if (done.status !== 0) throw new Error(done.stderr);
  }
  return { directory, db };
}
