// Pages that compute much are made by runs of the program beside the daemon.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import test from "node:test";
import { setTimeout as sleep } from "node:timers/promises";
import { ask } from "../support/book.mjs";
import { demoDatabase, serve } from "../support/guarded.mjs";
import { DEMO_DAY, waterturn } from "../support/program.mjs";

const REPLAY = "/replay?field=North%20pivot%20pivot&rainfed=1&what1=efficiency%20%3D%20100%20%25";
const children = (pid) => readdirSync(`/proc/${pid}/task`).flatMap((task) => readFileSync(`/proc/${pid}/task/${task}/children`, "utf8").trim().split(/\s+/)).filter(Boolean).map(Number);

/** Asks for a page whose run is stopped before it has answered; SIGCONT to `child` lets it go on. */
async function askStopped(daemon, where) {
  const before = children(daemon.process.pid);
  const answer = ask(daemon.address, where);
  for (const end = Date.now() + 5000; Date.now() < end; ) {
    const child = children(daemon.process.pid).find((pid) => !before.includes(pid));
    if (child) {
      process.kill(child, "SIGSTOP");
      return { answer, child };
    }
    await new Promise(setImmediate);
  }
  throw new Error("no run was seen");
}

test("the same page comes from the daemon and from the command", async (t) => {
  const { db } = await demoDatabase(t);
  const daemon = await serve(t, db);
  for (const where of [REPLAY, "/api/replay?field=North%20pivot", "/replay.svg?field=North%20pivot", "/replay.csv?field=North%20pivot", "/hindsight", "/api/hindsight", "/api/today", "/field/North%20pivot/ledger.csv"]) {
    const served = await ask(daemon.address, where);
    assert.equal(served.status, 200, where);
    const printed = waterturn("page", where, "--db", db, "--today", DEMO_DAY, "--language", "en", "--role", "manager");
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
