// A page of Today that was sent is sent again until the book, the day or the visitor is another.
import assert from "node:assert/strict";
import path from "node:path";
import test from "node:test";
import { ask, formsOf, send, servePages } from "../support/book.mjs";
import { largeFarm } from "../support/large_farm.mjs";
import { scratch, waterturn } from "../support/program.mjs";

const TODAY = "2026-07-14";

async function farm(t) {
  const db = largeFarm(scratch(t), { fields: 3, years: [2026], days: 195, forecast: TODAY });
  assert.equal(waterturn("morning", "--db", db, "--today", TODAY).status, 0);
  return { db, ...(await servePages(t, ["--db", db, "--today", TODAY])) };
}

test("Today asked for twice is the same to the byte, and its tag is answered with 304", async (t) => {
  const { address } = await farm(t);
  for (const where of ["/", "/api/today"]) {
    for (const headers of [{}, { "Accept-Encoding": "gzip" }]) {
      const first = await ask(address, where, { headers }), again = await ask(address, where, { headers });
      assert.equal(again.status, 200);
      assert.equal(again.body, first.body);
      const { date: one, ...before } = first.headers, { date: two, ...after } = again.headers;
      assert.deepEqual(after, before, "and has the same headers");
      const known = await ask(address, where, { headers: { ...headers, "If-None-Match": first.headers.etag } });
      assert.equal(known.status, 304);
      assert.equal(known.body, "");
      assert.equal(known.headers.etag, first.headers.etag);
      assert.equal(known.headers["content-security-policy"], first.headers["content-security-policy"]);
    }
  }
});

test("each language, unit and face has its own Today, in whatever order they are asked for", async (t) => {
  const { address } = await farm(t);
  const wishes = [{}, { cookie: "lang=es" }, { cookie: "units=metric" }, { cookie: "lang=es; units=metric" }, { "Accept-Language": "es" }];
  const cases = wishes.flatMap((headers) => ["/", "/api/today"].map((where) => ({ where, headers })));
  const first = [];
  for (const { where, headers } of cases) first.push((await ask(address, where, { headers })).body);
  assert.equal(new Set(first).size, 8, "Accept-Language and the cookie say the same");
  for (const at of [...cases.keys()].reverse()) assert.equal((await ask(address, cases[at].where, { headers: cases[at].headers })).body, first[at]);
});

test("a morning that is run again leaves Today as it was sent, packed or not", async (t) => {
  const { address, db } = await farm(t);
  const ways = [{}, { "Accept-Encoding": "gzip" }];
  const first = [];
  for (const headers of ways) first.push(await ask(address, "/", { headers }));
  assert.equal(waterturn("morning", "--db", db, "--today", TODAY).status, 0);
  for (const [i, headers] of ways.entries()) {
    const { date: one, ...before } = first[i].headers, again = await ask(address, "/", { headers }), { date: two, ...after } = again.headers;
    assert.equal(again.body, first[i].body);
    assert.deepEqual(after, before);
    assert.equal((await ask(address, "/", { headers: { ...headers, "If-None-Match": before.etag } })).status, 304);
  }
});

test("a record that was entered, from a form or beside the daemon, is in the next Today", async (t) => {
  const { address, db } = await farm(t);
  const before = await ask(address, "/");
  const done = formsOf(before.body).find(({ action }) => action.includes("/record/irrigation"));
  assert.ok(done, "a field wants water");
  assert.equal((await send(address, done.action, done.fields)).status, 303);
  const entered = await ask(address, "/");
  assert.notEqual(entered.body, before.body);
  assert.notEqual(entered.headers.etag, before.headers.etag);
  assert.equal(waterturn("export", path.join(path.dirname(db), "again.json"), "--db", db).status, 0);
  assert.equal((await ask(address, "/")).body, entered.body, "who only reads changes nothing");
  assert.equal(waterturn("morning", "--db", db, "--today", "2026-07-15").status, 0);
  assert.notEqual((await ask(address, "/")).body, entered.body);
});

test("a reader's Today has no buttons, though a manager's was sent before", async (t) => {
  const { address, db } = await farm(t);
  assert.ok(formsOf((await ask(address, "/")).body).length > 0);
  const paired = waterturn("pair", "Ann", "--role", "reader", "--token", "--db", db);
  assert.equal(paired.status, 0, paired.stderr);
  assert.equal((await ask(address, "/")).status, 401, "from the first device on everybody needs a token");
  const token = paired.stdout.trim().split(/\s+/).at(-1);
  const page = await ask(address, "/", { headers: { Authorization: `Bearer ${token}` } });
  assert.equal(page.status, 200);
  assert.ok(!formsOf(page.body).some(({ action }) => action.includes("/record/")));
});
