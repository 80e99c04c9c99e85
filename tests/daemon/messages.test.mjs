// What people are told: by mail over a real SMTP server (npm smtp-server), and by webhook; each matter at most once.
import assert from "node:assert/strict";
import http from "node:http";
import path from "node:path";
import { spawnSync } from "node:child_process";
import { chmodSync, readFileSync, writeFileSync } from "node:fs";
import test from "node:test";
import { setTimeout as sleep } from "node:timers/promises";
import { SMTPServer } from "smtp-server";
import { fillIn, servePages } from "../support/book.mjs";
import { demoDatabase, serve } from "../support/guarded.mjs";
import { DEMO_DAY, demoFarm, scratch, startWaterturn, waterturn } from "../support/program.mjs";

/** A mail server: { port, mails: [{ from, to, login, headers, body }], answers }. `refuse` may throw at any step. */
async function mailServer(t, { options = {}, onData } = {}) {
  const mails = [];
  const server = new SMTPServer({
    authOptional: true,
    disabledCommands: ["STARTTLS"],
    logger: false,
    onAuth: (auth, session, done) => (auth.username === "farm" && auth.password === "s3cret:x" ? done(null, { user: "farm" }) : done(new Error("no"))),
    onData(stream, session, done) {
      let text = "";
      stream.setEncoding("latin1");
      stream.on("data", (chunk) => (text += chunk));
      stream.on("end", () => {
        const error = onData?.(session, text, mails.length);
        if (error === "hang") return server.close();
        if (error) return done(error);
        mails.push({ from: session.envelope.mailFrom.address, to: session.envelope.rcptTo.map(({ address }) => address), user: session.user, ...parse(text) });
        done();
      });
    },
    ...options,
  });
  server.on("error", () => {});
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  t.after(() => new Promise((resolve) => server.close(resolve)));
  return { port: server.server.address().port, mails };
}

function parse(text) {
  const [head, ...rest] = text.split("\r\n\r\n");
  const headers = Object.fromEntries(head.replace(/\r\n[ \t]+/g, " ").split("\r\n").map((line) => [line.slice(0, line.indexOf(":")).toLowerCase(), line.slice(line.indexOf(":") + 1).trim()]));
  const words = (value) => value.replace(/\?= =\?/g, "?==?").replace(/=\?UTF-8\?B\?([^?]*)\?=/g, (_, word) => Buffer.from(word, "base64").toString("latin1"));
  const decoded = Object.fromEntries(Object.entries(headers).map(([name, value]) => [name, Buffer.from(words(value), "latin1").toString("utf8")]));
  let body = rest.join("\r\n\r\n");
  const boundary = /boundary="?([^";]+)/.exec(headers["content-type"] ?? "")?.[1];
  let encoding = headers["content-transfer-encoding"];
  if (boundary) {
    const part = body.split(`--${boundary}`)[1];
    encoding = /transfer-encoding: (\S+)/i.exec(part)[1];
    body = part.slice(part.indexOf("\r\n\r\n") + 4);
  }
  assert.equal(encoding, "quoted-printable");
  for (const line of text.split("\r\n")) assert.ok(line.length <= 998, "RFC 5322, 2.1.1");
  body = Buffer.from(body.replace(/=\r\n/g, "").replace(/=([0-9A-F]{2})/g, (_, hex) => String.fromCharCode(parseInt(hex, 16))), "latin1").toString("utf8");
  return { headers: decoded, body };
}

/** A webhook: { address, posts, answers: statuses to give, one after the other }. */
async function hook(t, answers = []) {
  const posts = [];
  const server = http.createServer((request, response) => {
    let text = "";
    request.on("data", (chunk) => (text += chunk));
    request.on("end", () => {
      posts.push({ headers: request.headers, body: JSON.parse(text) });
      const answer = answers.shift() ?? 200;
      if (answer === "hang up") return request.socket.destroy();
      response.writeHead(answer, answer === 429 ? { "Retry-After": "7200" } : {}).end();
    });
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  t.after(() => server.close());
  return { address: `http://127.0.0.1:${server.address().port}/hook`, posts };
}

/** Runs `tell` beside this process, which has the servers. */
function tell(...args) {
  return new Promise((resolve) => {
    const child = startWaterturn(["tell", ...args]);
    let stdout = "", stderr = "";
    child.stdout.on("data", (text) => (stdout += text));
    child.stderr.on("data", (text) => (stderr += text));
    child.on("close", (status) => resolve({ status, stdout, stderr }));
  });
}

async function farm(t, settings) {
  const { db, directory } = await demoDatabase(t);
  const config = path.join(directory, "daemon.json");
  writeFileSync(config, JSON.stringify(settings));
  const at = (time, more = []) => tell("--db", db, "--config", config, "--today", DEMO_DAY, "--time", time, ...more);
  return { db, directory, config, at };
}

/** A record that turns a call round: a lot of water on a field that is called to be watered. */
function recordWater(db, directory) {
  const book = path.join(directory, "book.json");
  assert.equal(waterturn("export", book, "--db", db).status, 0);
  const calls = JSON.parse(waterturn("call", "--json", "--db", db, "--today", DEMO_DAY).stdout);
  const field = calls.fields.find(({ call }) => call === "water_today").name;
  const text = JSON.parse(readFileSync(book, "utf8"));
  (text.records ??= []).push({ field, date: DEMO_DAY, kind: "irrigation", depth: "60 mm" });
  writeFileSync(book, JSON.stringify(text));
  const imported = waterturn("import", book, "--db", db);
  assert.equal(imported.status, 0, imported.stderr);
  assert.equal(waterturn("morning", "--stored", "--db", db, "--today", DEMO_DAY).status, 0);
  return field;
}

test("a digest says in its subject that data are missing", async (t) => {
  const { port, mails } = await mailServer(t);
  const settings = { mail: { server: `smtp://127.0.0.1:${port}`, from: "waterturn@farm.example", plain: true }, people: [{ name: "Bo", mail: "bo@farm.example" }] };
  const directory = scratch(t), db = path.join(directory, "dark.db"), config = path.join(directory, "daemon.json");
  writeFileSync(config, JSON.stringify(settings));
  assert.equal(waterturn("import", demoFarm(directory, "http://127.0.0.1:9"), "--db", db).status, 0);
  assert.equal(waterturn("morning", "--db", db, "--today", DEMO_DAY, "--tries", "1").status, 0);
  assert.equal((await tell("--db", db, "--config", config, "--today", DEMO_DAY, "--time", "05:00")).status, 0);
  assert.equal(mails[0].headers.subject, "Quillmere Farm: No field is known to need water today. 9 fields need data first.");
});

test("the digest goes to each person once, in their language and units", async (t) => {
  const { port, mails } = await mailServer(t);
  const { at } = await farm(t, {
    address: "https://farm.example",
    mail: { server: `smtp://127.0.0.1:${port}`, from: "waterturn@farm.example", plain: true },
    people: [
      { name: "Ana Ruíz", mail: "ana@farm.example", language: "es", units: "metric" },
      { name: "Bo", mail: "bo@farm.example", units: "us" },
    ],
  });
  const first = await at("05:00");
  assert.equal(first.status, 0, first.stderr);
  assert.equal(mails.length, 2);
  const [ana, bo] = ["ana", "bo"].map((who) => mails.find(({ to }) => to[0] === `${who}@farm.example`));
  assert.match(bo.headers.subject, /^Quillmere Farm: Water \d fields today$/);
  assert.match(ana.headers.subject, /^Quillmere Farm: /);
  assert.match(bo.body, /\d\sin gross/);
  assert.match(ana.body, /Regar hoy: [^\n]*\smm/);
  assert.doesNotMatch(bo.body, /\smm\b/);
  assert.match(bo.body, /^https:\/\/farm\.example\/\r?$/m);
  assert.equal(bo.headers.from, "waterturn@farm.example");
  assert.match(bo.headers["message-id"], /^<[0-9a-f]{32}@farm\.example>$/);
  assert.match(bo.headers.date, /^[A-Z][a-z]{2}, \d+ [A-Z][a-z]{2} 2026 \d\d:\d\d:\d\d \+0000$/);
  assert.equal(bo.headers["auto-submitted"], "auto-generated");
  assert.equal((await at("05:01")).status, 0);
  assert.equal((await at("09:00")).status, 0);
  assert.equal(mails.length, 2);
});

test("a call that turns after the digest is told once, to those who want it", async (t) => {
  const all = await hook(t), digests = await hook(t), urgent = await hook(t);
  const { at, db, directory } = await farm(t, {
    people: [
      { name: "all", webhook: all.address },
      { name: "digests", webhook: digests.address, messages: ["digest"] },
      { name: "urgent", webhook: urgent.address, messages: ["urgent"] },
    ],
  });
  await at("05:00");
  assert.deepEqual([all.posts.length, digests.posts.length], [1, 1]);
  assert.equal(all.posts[0].body.matter, "digest");
  const today = all.posts[0].body.calls.filter(({ call }) => call === "water_today").length;
  assert.ok(today > 0);
  assert.equal(urgent.posts.length, today, "who gets no digest is told of each field to be watered");
  const field = recordWater(db, directory);
  await at("08:00");
  await at("08:05");
  assert.equal(all.posts.length, 2);
  assert.deepEqual([all.posts[1].body.matter, all.posts[1].body.call.name, all.posts[1].body.before], ["change", field, "water_today"]);
  assert.notEqual(all.posts[1].body.call.call, "water_today");
  assert.equal(digests.posts.length, 1);
  assert.equal(urgent.posts.length, today + 1);
});

test("a message about a field that is removed while it waits is not sent, one about another is", async (t) => {
  const { address, posts } = await hook(t);
  const { at, db } = await farm(t, { people: [{ name: "urgent", webhook: address, messages: ["urgent"], quiet: ["21:00", "05:30"] }] });
  const calls = JSON.parse(waterturn("call", "--json", "--db", db, "--today", DEMO_DAY).stdout).fields.filter(({ call }) => call === "water_today");
  const [gone, ...others] = calls.map(({ name }) => name);
  assert.ok(others.length > 0);
  await at("05:00");
  assert.equal(posts.length, 0);
  const pages = await servePages(t, ["--db", db, "--today", DEMO_DAY]);
  assert.equal((await fillIn(pages.address, `/field/${encodeURIComponent(gone)}/remove`, { confirm: gone })).status, 303);
  await at("05:30");
  assert.deepEqual(posts.map(({ body }) => body.call.name).sort(), others.sort());
});

test("quiet hours and a person's own time are waited for", async (t) => {
  const { address, posts } = await hook(t);
  const late = await hook(t);
  const { at } = await farm(t, {
    people: [
      { name: "early", webhook: address, quiet: ["21:00", "05:30"] },
      { name: "late", webhook: late.address, at: "07:15" },
    ],
  });
  await at("04:40");
  assert.deepEqual([posts.length, late.posts.length], [0, 0]);
  await at("05:29");
  assert.equal(posts.length, 0);
  await at("05:30");
  assert.deepEqual([posts.length, late.posts.length], [1, 0]);
  await at("07:15");
  assert.deepEqual([posts.length, late.posts.length], [1, 1]);
});

test("what did not arrive is tried again, later and later; what may have arrived is not", async (t) => {
  const again = await hook(t, [503, 500, 200]), gone = await hook(t, [404]), unsure = await hook(t, ["hang up"]), asked = await hook(t, [429, 200]);
  const { at } = await farm(t, { people: [["again", again], ["gone", gone], ["unsure", unsure], ["asked", asked]].map(([name, { address }]) => ({ name, webhook: address, messages: ["digest"] })) });
  const counts = () => [again, gone, unsure, asked].map(({ posts }) => posts.length);
  const first = await at("05:00");
  assert.deepEqual(counts(), [1, 1, 1, 1]);
  assert.match(first.stderr, /again: digest 2026-07-14: the server answered 503; it is tried again/);
  assert.match(first.stderr, /gone: .*404; it is given up/);
  assert.match(first.stderr, /unsure: .*it may have arrived, and is not sent again/);
  await at("05:00");
  assert.deepEqual(counts(), [1, 1, 1, 1], "not before a minute");
  await at("05:01");
  assert.deepEqual(counts(), [2, 1, 1, 1]);
  await at("05:06");
  assert.deepEqual(counts(), [3, 1, 1, 1]);
  await at("06:59");
  assert.deepEqual(counts(), [3, 1, 1, 1], "a server that asks for two hours gets them");
  await at("07:00");
  await at("08:00");
  assert.deepEqual(counts(), [3, 1, 1, 2]);
  const key = again.posts[0].headers["idempotency-key"];
  assert.match(key, /^[0-9a-f]{32}$/);
  assert.deepEqual(new Set(again.posts.map(({ headers }) => headers["idempotency-key"])), new Set([key]));
});

test("a mail server that is down, busy or refuses is told apart", async (t) => {
  const busy = (text, code) => Object.assign(new Error(text), { responseCode: code });
  const { port, mails } = await mailServer(t, {
    onData: (session, text, count) => (session.envelope.rcptTo[0].address.startsWith("never") ? busy("no such user", 550) : count === 0 && !text.includes("X") && tries++ === 0 ? busy("greylisted", 451) : null),
  });
  let tries = 0;
  const { at, config } = await farm(t, {});
  const settings = (server) => writeFileSync(config, JSON.stringify({ mail: { server, from: "w@farm.example", plain: true }, people: ["now", "never"].map((name) => ({ name, mail: `${name}@farm.example` })) }));
  settings("smtp://127.0.0.1:9");
  assert.match((await at("05:00")).stderr, /now: .*; it is tried again/);
  settings(`smtp://127.0.0.1:${port}`);
  const second = await at("05:01");
  assert.match(second.stderr, /never: .*550.*; it is given up/);
  assert.match(second.stderr, /now: .*451.*; it is tried again/);
  assert.equal(mails.length, 0);
  await at("05:06");
  await at("05:30");
  assert.deepEqual(mails.map(({ to }) => to[0]), ["now@farm.example"]);
});

test("mail goes by TLS and with the login of the credentials file, or not at all", async (t) => {
  const plain = await mailServer(t);
  const { at, config, directory } = await farm(t, { mail: { server: `smtp://127.0.0.1:${plain.port}`, from: "w@farm.example" }, people: [{ name: "Ana", mail: "ana@farm.example" }] });
  assert.match((await at("05:00")).stderr, /Ana: .*; it is tried again/, "a server without TLS gets nothing");
  assert.equal(plain.mails.length, 0);
  const certificate = path.join(directory, "c.pem"), key = path.join(directory, "k.pem"), credentials = path.join(directory, "credentials.json");
  assert.equal(spawnSync("openssl", ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", key, "-out", certificate, "-days", "2", "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1"]).status, 0);
  const secure = await mailServer(t, { options: { secure: true, key: readFileSync(key), cert: readFileSync(certificate), authOptional: false } });
  writeFileSync(credentials, JSON.stringify({ mail: { user: "farm", password: "s3cret:x" } }));
  chmodSync(credentials, 0o600);
  writeFileSync(config, JSON.stringify({ mail: { server: `smtps://127.0.0.1:${secure.port}`, from: "w@farm.example" }, people: [{ name: "Ana", mail: "ana@farm.example" }] }));
  const refused = await at("05:01", ["--credentials", credentials]);
  assert.match(refused.stderr, /certificate/i, "nobody vouches for this certificate");
  assert.equal(secure.mails.length, 0);
  assert.doesNotMatch(refused.stderr, /s3cret/);
  const settings = JSON.parse(readFileSync(config, "utf8"));
  settings.mail.authority = certificate;
  writeFileSync(config, JSON.stringify(settings));
  const sent = await at("05:06", ["--credentials", credentials]);
  assert.equal(secure.mails.length, 1, sent.stderr);
  assert.equal(secure.mails[0].user, "farm");
});

test("the daemon sends the digest after its morning, once however often it is started", async (t) => {
  const { address, posts } = await hook(t);
  const { db, config } = await farm(t, { people: [{ name: "Ana", webhook: address }] });
  const first = await serve(t, db, ["--config", config]);
  first.process.kill("SIGUSR1");
  for (let i = 0; i < 500 && posts.length === 0; i++) await sleep(20);
  assert.equal(posts.length, 1);
  first.process.kill("SIGTERM");
  await new Promise((resolve) => first.process.on("exit", resolve));
  const second = await serve(t, db, ["--config", config]);
  second.process.kill("SIGUSR1");
  await sleep(1500);
  assert.equal(posts.length, 1);
});
