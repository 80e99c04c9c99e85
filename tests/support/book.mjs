// The farm book through its pages, as a browser without JavaScript uses it.
import http from "node:http";
import { firstLine, startWaterturn } from "./program.mjs";

/** One request: { status, headers, body }. Redirects are not followed. */
export function ask(address, path, { method = "GET", headers = {}, body } = {}) {
  return new Promise((resolve, reject) => {
    const request = http.request(address + path, { method, headers: { "Accept-Language": "en", ...headers } }, (answer) => {
      let text = "";
      answer.setEncoding("utf8");
      answer.on("data", (chunk) => (text += chunk));
      answer.on("end", () => resolve({ status: answer.statusCode, headers: answer.headers, body: text }));
      answer.on("error", reject);
    });
    request.on("error", reject);
    request.end(body);
  });
}

/** Sends a form's fields. */
export function send(address, path, fields, headers = {}) {
  const body = new URLSearchParams(fields).toString();
  return ask(address, path, {
    method: "POST",
    headers: { "Content-Type": "application/x-www-form-urlencoded", "Content-Length": Buffer.byteLength(body), ...headers },
    body,
  });
}

/** Text out of HTML's escapes. */
export const plain = (text) =>
  text.replace(/&#x([0-9a-f]+);/gi, (_, hex) => String.fromCodePoint(parseInt(hex, 16))).replace(/&#39;/g, "'").replace(/&quot;/g, '"').replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&amp;/g, "&");

const attribute = (tag, name) => {
  const found = new RegExp(`\\b${name}="([^"]*)"`).exec(tag);
  return found ? plain(found[1]) : undefined;
};

/** Every form of a page: { action, fields } with the values that a browser would send. */
export function formsOf(html) {
  return [...html.matchAll(/<form\b([^>]*)>([^]*?)<\/form>/g)].map(([, head, inside]) => {
    const fields = {};
    for (const [tag] of inside.matchAll(/<input\b[^>]*>/g)) {
      const type = attribute(tag, "type");
      if (type === "radio" && !/\bchecked\b/.test(tag)) continue;
      fields[attribute(tag, "name")] = attribute(tag, "value") ?? "";
    }
    for (const [, name, options] of inside.matchAll(/<select\b[^>]*\bname="([^"]*)"[^>]*>([^]*?)<\/select>/g)) {
      const list = [...options.matchAll(/<option\b[^>]*>/g)].map(([tag]) => tag);
      const chosen = list.find((tag) => /\bselected\b/.test(tag)) ?? list[0];
      fields[name] = chosen ? attribute(chosen, "value") : "";
    }
    for (const [, name, text] of inside.matchAll(/<textarea\b[^>]*\bname="([^"]*)"[^>]*>([^]*?)<\/textarea>/g)) fields[name] = plain(text);
    return { action: attribute(head, "action"), fields };
  });
}

/** The page's words without its markup. */
export const wordsOf = (html) => plain(html.replace(/<(svg|style)\b[^]*?<\/\1>/g, "").replace(/<[^>]*>/g, " ").replace(/\s+/g, " ")).trim();

/** Opens a form page and sends it with `values` in place of its own. */
export async function fillIn(address, path, values, headers) {
  const page = await ask(address, path);
  const form = formsOf(page.body).find(({ action }) => action.split("?")[0] === path.split("?")[0]) ?? formsOf(page.body)[0];
  return send(address, form.action, { ...form.fields, ...values }, headers);
}

/** Starts the pages of a database: { address, process, stop }. Stopped when the test ends. */
export async function servePages(t, args) {
  const process = startWaterturn(["serve", "--listen", "127.0.0.1:0", ...args]);
  const ended = new Promise((resolve) => process.on("exit", resolve));
  const stop = async (signal = "SIGTERM") => {
    process.kill(signal);
    await ended;
  };
  t.after(() => stop("SIGKILL"));
  const line = await firstLine(process);
  return { address: /http:\/\/[^/]+/.exec(line)[0], process, stop, ended };
}
