// The pages over a book that cannot be written, or not be read: a clear message, no damage, reading goes on.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { createHash } from "node:crypto";
import { chmodSync, copyFileSync, cpSync, mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import path from "node:path";
import test from "node:test";
import { DEMO_DAY, demoBook, dump, firstLine, program, root, runSql, tool, waterturn } from "../support/program.mjs";
import { ask, fillIn, formsOf, plain, send, servePages, wordsOf } from "../support/book.mjs";

const ok = (done) => {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
};
const hash = (file) => createHash("sha256").update(readFileSync(file)).digest("hex");
const NOTE = "/field/Long%20rows/record/note";

/** Starts a command that ends in waterturn's pages: their address. */
async function start(t, command, args, options = {}) {
  const child = spawn(command, args, { cwd: root, stdio: ["ignore", "pipe", "pipe"], ...options });
  let errors = "";
  child.stderr.on("data", (chunk) => (errors += chunk));
  t.after(() => child.kill("SIGKILL"));
  const line = await firstLine(child).catch((error) => assert.fail(`${error.message}: ${errors}`));
  return { address: /http:\/\/[^/]+/.exec(line)[0], child, errors: () => errors };
}

test("a disk that is full: the form is handed back with what was written, pages are read, and nothing is spoilt", async (t) => {
  const { db } = await demoBook(t);
  // A limit on the size of files (in KiB), as the page's own process meets it; its signal is ignored, so that writing fails.
  const limit = Math.ceil(statSync(db).size / 1024) - 16;
  const serve = `trap '' XFSZ; ulimit -f ${limit}; exec "$0" serve --listen 127.0.0.1:0 --db "$1" --today ${DEMO_DAY}`;
  const pages = await start(t, "bash", ["-c", serve, program, db], { env: { ...process.env, WATERTURN_DB: "", LANG: "en" } });
  let kept = 0;
  let answer;
  const long = "n".repeat(1000);
  do {
    answer = await fillIn(pages.address, NOTE, { note: `${long}${kept}` });
    if (answer.status === 303) kept++;
  } while (answer.status === 303 && kept < 4000);
  assert.equal(answer.status, 503, `after ${kept} records`);
  assert.equal(answer.headers["retry-after"], "10");
  assert.match(wordsOf(answer.body), /Not kept: the book cannot be written\. \(.*(full|disk I\/O error).*\)/);
  assert.ok(answer.body.includes(`>${long}${kept}</textarea>`), "what was written is still in the form");
  assert.equal((await ask(pages.address, "/")).status, 200);
  assert.match(wordsOf((await ask(pages.address, "/field/Long%20rows")).body), /Newest records/);
  const waits = formsOf(answer.body)[0];
  pages.child.kill("SIGTERM");
  await new Promise((resolve) => pages.child.on("exit", resolve));

  dump(db); // fails unless integrity_check is ok
  const notes = () => JSON.parse(ok(waterturn("export", "--db", db))).records.filter(({ text }) => text?.startsWith(long)).length;
  assert.equal(notes(), kept, "what was acknowledged is there, and no more");
  // With room again the very same form goes through, once.
  const again = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
  for (let i = 0; i < 2; i++) assert.equal((await send(again.address, waits.action, waits.fields)).status, 303);
  assert.equal(notes(), kept + 1);
});

/** `use` has the program and a copy of the database that may only be read: its path, and options with which it is so. */
async function onlyRead(directory, db, use) {
  const place = path.join(directory, "still");
  mkdirSync(place);
  const file = path.join(place, "farm.db");
  copyFileSync(db, file);
  const copy = path.join(directory, "waterturn");
  cpSync(program, copy);
  for (const [what, mode] of [[directory, 0o755], [copy, 0o755], [file, 0o444], [place, 0o555]]) chmodSync(what, mode);
  // For root nothing is read-only: it becomes nobody.
  const who = process.getuid() === 0 ? { uid: 65534, gid: 65534 } : {};
  const before = hash(file);
  try {
    await use(copy, file, who);
  } finally {
    chmodSync(place, 0o755); // else it could not be removed
  }
  assert.equal(hash(file), before);
}

test("a database that may only be read is shown, its forms say so, and it stays as it is", async (t) => {
  const { directory, db } = await demoBook(t);
  await onlyRead(directory, db, (copy, file, who) => shownOnly(t, copy, file, who));
});

test("a device that was let in reads a database that may only be read, though it cannot be noted that it was seen", async (t) => {
  const { directory, db } = await demoBook(t);
  const token = ok(waterturn("pair", "Ana", "--role", "reader", "--token", "--db", db)).trim().split("\n").at(-1).trim();
  runSql(db, "UPDATE device SET seen_at = 0; PRAGMA wal_checkpoint(TRUNCATE)");
  await onlyRead(directory, db, async (copy, file, who) => {
    const pages = await start(t, copy, ["serve", "--listen", "127.0.0.1:0", "--db", file, "--today", DEMO_DAY], { cwd: "/", ...who });
    const page = await ask(pages.address, "/", { headers: { Authorization: `Bearer ${token}` } });
    assert.equal(page.status, 200);
    assert.match(wordsOf(page.body), /Water \d fields today/);
    assert.equal((await ask(pages.address, "/")).status, 401);
    assert.doesNotMatch(pages.errors(), /refused while/);
  });
});

async function shownOnly(t, copy, file, who) {
  const pages = await start(t, copy, ["serve", "--listen", "127.0.0.1:0", "--db", file, "--today", DEMO_DAY], { cwd: "/", ...who });
  const page = await ask(pages.address, "/");
  assert.equal(page.status, 200);
  assert.match(wordsOf(page.body), /Water \d fields today/);
  assert.ok(!page.body.includes("<form"), "what cannot be written is not offered");
  const links = [...plain(page.body).matchAll(/<a [^>]*href="(\/[^"#]*)"/g)].map(([, href]) => href);
  assert.ok(links.length > 10, links.join(" "));
  for (const where of links) {
    assert.equal((await ask(pages.address, where)).status, 200, `${where}: no link leads nowhere`);
  }
  const answer = await fillIn(pages.address, NOTE, { note: "nothing" });
  assert.equal(answer.status, 503);
  assert.match(wordsOf(answer.body), /Not kept: the book cannot be written/);
  // What looks up a key of the book makes none of it.
  for (const where of ["/turns", "/turns/feeds", "/turns/sheet", "/sources", "/field/Long%20rows/settings"]) assert.equal((await ask(pages.address, where)).status, 200, where);
  assert.match(pages.errors(), /may only be read/);
  assert.doesNotMatch(pages.errors(), /readonly/);
}

test("a database of a newer version is left alone, by the pages and by every command", async (t) => {
  const { directory, db } = await demoBook(t);
  const bytes = readFileSync(db);
  bytes.writeUInt32BE(bytes.readUInt32BE(60) + 1, 60); // user_version: SQLite's file format, section 1.3
  const newer = path.join(directory, "newer.db");
  writeFileSync(newer, bytes);
  const before = hash(newer);
  for (const args of [["serve", "--listen", "127.0.0.1:0"], ["morning", "--stored", "--today", DEMO_DAY], ["call", "--today", DEMO_DAY], ["export"], ["import", path.join(directory, "farm.json")]]) {
    const done = waterturn(...args, "--db", newer, { timeout: 10000 });
    assert.equal(done.status, 1, args[0]);
    assert.match(done.stderr, /newer\.db.*found database version \d+, expected \d+; a newer waterturn made it, and it was not changed/, args[0]);
  }
  assert.equal(hash(newer), before);
});

test("a form waits for a morning that is written beside it, and is handed back when that takes long", async (t) => {
  const { db } = await demoBook(t);
  const pages = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
  const holder = spawn(tool("hold_db"), [db], { stdio: ["pipe", "pipe", "inherit"] });
  t.after(() => holder.kill("SIGKILL"));
  assert.equal((await firstLine(holder)).trim(), "held");
  const began = Date.now();
  const answer = await fillIn(pages.address, NOTE, { note: "later" });
  assert.equal(answer.status, 503);
  assert.match(wordsOf(answer.body), /Not kept: the book is busy\. Try again in a moment\./);
  assert.ok(Date.now() - began < 8000);
  assert.equal((await ask(pages.address, "/")).status, 200);
  const waits = formsOf(answer.body)[0];
  holder.stdin.end();
  await new Promise((resolve) => holder.on("exit", resolve));
  assert.equal((await send(pages.address, waits.action, waits.fields)).status, 303);
});
