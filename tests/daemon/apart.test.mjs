// Pages that compute much are made, and forms are answered, by runs of the program beside the daemon.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import test from "node:test";
import { setTimeout as sleep } from "node:timers/promises";
import { ask, formsOf, send } from "../support/book.mjs";
import { demoDatabase, serve } from "../support/guarded.mjs";
import { largeFarm } from "../support/large_farm.mjs";
import { DEMO_DAY, firstLine, scratch, tool, waterturn } from "../support/program.mjs";

const REPLAY = "/replay?field=North%20pivot%20pivot&rainfed=1&what1=efficiency%20%3D%20100%20%25";
const children = (pid) => readdirSync(`/proc/${pid}/task`).flatMap((task) => readFileSync(`/proc/${pid}/task/${task}/children`, "utf8").trim().split(/\s+/)).filter(Boolean).map(Number);

/** Whether a child is the run itself already: one that is stopped before it has become that would hold up the daemon's thread, which waits for it. */
function isRun(pid) {
  try {
    return readFileSync(`/proc/${pid}/cmdline`, "utf8").split("\0").includes("page");
  } catch {
    return false; // it has ended
  }
}

/** A request whose run is stopped before it has answered; SIGCONT to `child` lets it go on. A run that was quicker than the eye is asked for again. */
async function stopped(daemon, begin) {
  for (let tries = 0; tries < 50; tries++) {
    const before = children(daemon.process.pid);
    let done = false;
    const answer = begin().finally(() => (done = true));
    while (!done) {
      const child = children(daemon.process.pid).find((pid) => !before.includes(pid) && isRun(pid));
      if (child) {
        process.kill(child, "SIGSTOP");
        return { answer, child };
      }
      await new Promise(setImmediate);
    }
    await answer;
  }
  throw new Error("no run was seen");
}
const askStopped = (daemon, where) => stopped(daemon, () => ask(daemon.address, where));

test("the same page comes from the daemon and from the command", async (t) => {
  const { db } = await demoDatabase(t);
  const daemon = await serve(t, db);
  for (const where of [REPLAY, "/api/replay?field=North%20pivot", "/replay.svg?field=North%20pivot", "/replay.csv?field=North%20pivot", "/hindsight", "/api/hindsight", "/api/today", "/field/North%20pivot/ledger.csv"]) {
    const served = await ask(daemon.address, where);
    assert.equal(served.status, 200, where);
    const printed = waterturn("page", where, "--db", db, "--today", DEMO_DAY, "--language", "en", "--role", "manager", "--writable");
    assert.equal(printed.status, 0, printed.stderr);
    assert.equal(printed.stdout, served.body, where);
  }
  const spanish = await ask(daemon.address, "/hindsight?lang=es&units=us");
  assert.match(spanish.body, /<html lang="es"/);
  assert.match((await ask(daemon.address, "/replay.csv?field=North%20pivot")).headers["content-disposition"], /replay\.csv/);
  const again = await ask(daemon.address, "/api/hindsight", { headers: { "If-None-Match": (await ask(daemon.address, "/api/hindsight")).headers.etag } });
  assert.equal(again.status, 304);
  assert.deepEqual(children(daemon.process.pid), [], "no run is left");
});

test("the command says what is wrong with a page's path", async (t) => {
  const { db } = await demoDatabase(t);
  for (const [args, said] of [
    [["replay"], /found replay, expected a page/],
    [["/no/such"], /found no such page \(HTTP status 404\)/],
    [["/", "--role", "king"], /found king, expected reader/],
  ]) {
    const done = waterturn("page", ...args, "--db", db, "--today", DEMO_DAY);
    assert.notEqual(done.status, 0);
    assert.match(done.stderr, said);
  }
  assert.match(waterturn("page", "/no/such", "--head", "--db", db, "--today", DEMO_DAY, "--language", "en").stdout, /^404\ntext\/html; charset=utf-8\n\n[^]*There is no such page/);
});

test("other pages are answered while one is being made, and a third such page has to wait", async (t) => {
  const { db } = await demoDatabase(t);
  const daemon = await serve(t, db);
  const first = await askStopped(daemon, REPLAY), second = await askStopped(daemon, "/hindsight");
  assert.equal((await ask(daemon.address, "/")).status, 200);
  const third = await ask(daemon.address, "/hindsight");
  assert.equal(third.status, 503);
  assert.equal(third.headers["retry-after"], "10");
  assert.match(third.body, /has its hands full/);
  process.kill(first.child, "SIGCONT");
  assert.equal((await first.answer).status, 200);
  process.kill(second.child, "SIGCONT");
  assert.match((await second.answer).body, /<h1>/);
  assert.equal((await ask(daemon.address, "/hindsight")).status, 200, "there is room again");
});

test("the board of turns of a large farm is made apart, with its buttons, and here when there is no room", async (t) => {
  const db = largeFarm(scratch(t), { fields: 150, years: [2026], days: 194 });
  assert.equal(waterturn("morning", "--db", db, "--today", DEMO_DAY).status, 0);
  const daemon = await serve(t, db);
  const stable = (body) => body.replaceAll(/(name="token" value=")[^"]*/g, "$1");
  const first = await askStopped(daemon, "/turns"), second = await askStopped(daemon, "/api/turns");
  const here = await ask(daemon.address, "/turns"), sheet = await ask(daemon.address, "/turns/sheet");
  assert.deepEqual([here.status, sheet.status], [200, 200]);
  process.kill(first.child, "SIGCONT");
  process.kill(second.child, "SIGCONT");
  const apart = await first.answer;
  assert.match(apart.body, /href="\/turns\/new"/);
  assert.equal(stable(apart.body), stable(here.body));
  assert.equal(JSON.parse((await second.answer).body).supplies.length, 15);
  assert.equal((await ask(daemon.address, "/turns/sheet")).body, sheet.body);
});

test("a form finds room beside the pages that are being made, and one whose run dies is kept once when it is sent again", async (t) => {
  const { db } = await demoDatabase(t);
  const daemon = await serve(t, db);
  const pages = [await askStopped(daemon, REPLAY), await askStopped(daemon, "/hindsight")];
  const where = "/field/North%20pivot/record/note", form = formsOf((await ask(daemon.address, where)).body)[0];
  const notes = () => JSON.parse(waterturn("export", "--db", db).stdout).records.filter(({ text }) => text === "a & b = c\r\nñ+%41");
  const fields = { ...form.fields, note: "a & b = c\r\nñ+%41" };
  // Its run waits for the book, which is held.
  const hold = spawn(tool("hold_db"), [db], { stdio: ["pipe", "pipe", "inherit"] });
  await firstLine(hold);
  const dying = await stopped(daemon, () => send(daemon.address, where, fields));
  process.kill(dying.child, "SIGKILL");
  assert.equal((await dying.answer).status, 500);
  hold.stdin.end();
  await new Promise((resolve) => hold.on("close", resolve));
  const kept = await send(daemon.address, where, fields);
  assert.equal(kept.status, 303);
  assert.match((await ask(daemon.address, kept.headers.location)).body, /a &amp; b/);
  assert.equal(notes().length, 1, "what was written came through to the last character");
  for (const { child, answer } of pages) {
    process.kill(child, "SIGCONT");
    assert.equal((await answer).status, 200);
  }
});

test("a run that dies leaves an error page and the daemon standing", async (t) => {
  const { db } = await demoDatabase(t);
  const daemon = await serve(t, db);
  const { answer, child } = await askStopped(daemon, REPLAY);
  process.kill(child, "SIGKILL");
  const reply = await answer;
  assert.equal(reply.status, 500);
  assert.match(reply.body, /could not be made/);
  await sleep(50);
  assert.match(daemon.errors.join(""), /its run ended with 137/);
  assert.equal((await ask(daemon.address, REPLAY)).status, 200);
});

test("a daemon that is ended ends what it was making", async (t) => {
  const { db } = await demoDatabase(t);
  const daemon = await serve(t, db);
  const { answer, child } = await askStopped(daemon, REPLAY);
  answer.catch(() => {});
  const ended = new Promise((resolve) => daemon.process.on("exit", (code) => resolve(code)));
  process.kill(child, "SIGCONT");
  daemon.process.kill("SIGTERM");
  assert.equal(await ended, 0);
  assert.throws(() => process.kill(child, 0), { code: "ESRCH" });
});

test("a visitor who leaves while a page is being made does no harm", async (t) => {
  const { db } = await demoDatabase(t);
  const daemon = await serve(t, db);
  const request = new AbortController();
  const gone = fetch(daemon.address + REPLAY, { signal: request.signal }).catch(() => "gone");
  while (children(daemon.process.pid).length === 0) await new Promise(setImmediate);
  request.abort();
  assert.equal(await gone, "gone");
  assert.equal((await ask(daemon.address, REPLAY)).status, 200);
});
