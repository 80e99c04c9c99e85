// A daemon over the demo farm to which somebody was let in, for the tests of who may come in.
import net from "node:net";
import path from "node:path";
import { ask, send } from "./book.mjs";
import { DEMO_DAY, demoFarm, demoWeather, firstLine, scratch, serveFiles, startWaterturn, waterturn } from "./program.mjs";

/** The demo farm in a database, its morning run: { directory, db }. */
export async function demoDatabase(t) {
  const directory = scratch(t);
  const address = await serveFiles(t, demoWeather(directory));
  const db = path.join(directory, "farm.db");
  for (const args of [["import", demoFarm(directory, address), "--db", db], ["morning", "--db", db, "--today", DEMO_DAY]]) {
    const done = waterturn(...args);
    if (done.status !== 0) throw new Error(done.stderr);
  }
  return { directory, db };
}

/** The daemon on a free port: { address, port, process, lines }. Ended when the test ends. */
export async function serve(t, db, more = [], options = {}) {
  const process = startWaterturn(["serve", "--db", db, "--listen", "127.0.0.1:0", "--today", DEMO_DAY, ...more], options);
  const errors = [];
  process.stderr.setEncoding("utf8").on("data", (text) => errors.push(text));
  t.after(() => process.kill("SIGTERM"));
  const line = await firstLine(process).catch((error) => {
    throw new Error(`${error.message}: ${errors.join("")}`);
  });
  const address = /https?:\/\/[^/]+/.exec(line)[0];
  return { address, port: Number(new URL(address).port), process, errors };
}

/** A one-time link of `waterturn pair`. */
export function linkFor(db, role, name, address) {
  const done = waterturn("pair", "--db", db, "--role", role, name, "--no-picture", "--address", address);
  if (done.status !== 0) throw new Error(done.stderr);
  return done.stdout.split("\n")[0];
}

/** Opens a link as a phone does, and taps its button: the cookie that it then holds. */
export async function pair(address, link) {
  const paired = await send(address, new URL(link).pathname, {}, { Origin: address });
  if (paired.status !== 303) throw new Error(`pairing: ${paired.status}`);
  return paired.headers["set-cookie"][0].split(";")[0];
}

export const phone = (cookie) => ({
  get: (address, where) => ask(address, where, { headers: { Cookie: cookie } }),
  send: (address, where, fields, headers = {}) => send(address, where, fields, { Cookie: cookie, Origin: address, ...headers }),
});

/** Sends bytes as they are and returns all that comes back until the other side closes, or `ms` are over. */
export function raw(port, bytes, ms = 3000) {
  return new Promise((resolve) => {
    let text = "";
    const socket = net.connect(port, "127.0.0.1", () => socket.write(bytes));
    const done = () => {
      socket.destroy();
      resolve(text);
    };
    socket.setEncoding("latin1");
    socket.on("data", (chunk) => (text += chunk));
    socket.on("close", done);
    socket.on("error", done);
    setTimeout(done, ms).unref();
  });
}
