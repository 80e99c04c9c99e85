// The pages of a real database for the JavaScript tests: the demo farm, imported, its morning run, served on a free port.
import http from 'node:http';
import net from 'node:net';
import { readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { chromium } from 'playwright-core';
import { DEMO_DAY, demoFarm, demoWeather, firstLine, scratch, serveFiles, startWaterturn, waterturn } from './program.mjs';

export const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

function run(...args) {
  const done = waterturn(...args);
  if (done.status !== 0) throw new Error(`waterturn ${args.join(' ')}: ${done.stderr}`);
  return done.stdout;
}

/** The demo farm in a database of its own; `change` may alter the farm (as JSON) before it is imported, and mornings may be run before the demo's. */
export async function demoDatabase(t, change = (farm) => farm, mornings = []) {
  const directory = scratch(t), db = path.join(directory, 'farm.db'), plain = path.join(directory, 'plain.db');
  const address = await serveFiles(t, demoWeather(directory));
  run('import', demoFarm(directory, address), '--db', plain);
  const farm = path.join(directory, 'changed.json');
  writeFileSync(farm, JSON.stringify(change(JSON.parse(run('export', '--db', plain)))));
  run('import', farm, '--db', db);
  for (const day of [...mornings, DEMO_DAY]) run('morning', '--db', db, '--today', day);
  return db;
}

/** Serves a database: { origin, port }. Stopped when the test ends. */
export async function servePages(t, db, ...options) {
  const child = startWaterturn(['serve', '--db', db, '--listen', '127.0.0.1:0', '--today', DEMO_DAY, ...options],
    { stdio: ['ignore', 'pipe', 'inherit'] });
  t.after(() => new Promise((resolve) => { child.once('close', resolve); process.kill(child.pid, 'SIGTERM'); }));
  const line = await firstLine(child);
  const port = Number(line.match(/:(\d+)\//)[1]);
  return { origin: `http://127.0.0.1:${port}`, port };
}

/** The farm with `count` fields in all, the new ones with names, depths and days of their own. */
export function manyFields(farm, count) {
  const first = farm.fields.length;
  for (let i = first; i < count; i++) {
    const like = farm.fields[i % first], name = `Field ${i} behind the ${['barn', 'creek', 'road', 'hill'][i % 4]}`;
    const planting = farm.plantings.find((p) => p.field === like.name);
    farm.fields.push({ ...like, name });
    farm.plantings.push({ ...planting, field: name, start_depletion: `${5 + (i * 7) % 60} %`, allowed_depletion: `${30 + i} %` });
    for (const record of farm.records.filter((r) => r.field === like.name && r.kind === 'irrigation'))
      farm.records.push({ ...record, field: name, date: record.date.replace(/(?<!3)\d$/, (d) => String((Number(d) + i) % 9 + 1)) });
  }
  return farm;
}

/** GET by hand: { status, headers, body (Buffer) }. */
export function ask(port, where, headers = {}, method = 'GET') {
  return new Promise((resolve, reject) => {
    const request = http.request({ host: '127.0.0.1', port, path: where, method, headers }, (response) => {
      const parts = [];
      response.on('data', (part) => parts.push(part));
      response.on('end', () => resolve({ status: response.statusCode, headers: response.headers, body: Buffer.concat(parts) }));
    });
    request.on('error', reject);
    request.end();
  });
}

/** A proxy that counts the bytes that come back: { port, bytes() }. */
export async function meter(t, port) {
  let bytes = 0;
  const sockets = new Set();
  const server = net.createServer((near) => {
    const far = net.connect(port, '127.0.0.1');
    for (const socket of [near, far]) {
      sockets.add(socket);
      socket.on('error', () => socket.destroy());
      socket.on('close', () => sockets.delete(socket));
    }
    far.on('data', (part) => { bytes += part.length; });
    near.pipe(far);
    far.pipe(near);
  });
  await new Promise((resolve) => server.listen(0, '127.0.0.1', resolve));
  t.after(() => new Promise((resolve) => { for (const socket of sockets) socket.destroy(); server.close(resolve); }));
  return { port: server.address().port, bytes: () => { const now = bytes; bytes = 0; return now; } };
}

/** A browser; closed when the test ends. */
export async function openBrowser(t) {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
      '--disable-component-update', '--disable-sync'],
  });
  t.after(() => browser.close());
  return browser;
}
