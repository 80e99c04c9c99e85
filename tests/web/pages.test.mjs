// The pages as people and machines meet them: invented mornings served on a free loopback port, a real browser.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import http from 'node:http';
import net from 'node:net';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import path from 'node:path';
import test, { after, before } from 'node:test';
import { chromium } from 'playwright-core';

const build = process.env.BUILD ?? 'build';
const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const hostileNames = ["<script>alert('x')</script>", '"><img src=x onerror=alert(1)> {{name}} &amp;', '=1+1/slash'];

function serve(...parameters) {
  const child = spawn(`${build}/tests/tools/sample_server`, parameters, { stdio: ['ignore', 'pipe', 'inherit'] });
  return new Promise((resolve, reject) => {
    child.once('error', reject);
    child.once('exit', (code) => reject(new Error(`the server ended with ${code}`)));
    child.stdout.once('data', (line) => resolve({ child, port: Number(line) }));
  });
}

function stop({ child }) {
  return new Promise((resolve) => {
    child.removeAllListeners('exit');
    child.once('exit', resolve);
    process.kill(child.pid, 'SIGTERM');
  });
}

function ask(path, { port = server.port, method = 'GET', headers = {}, agent } = {}) {
  return new Promise((resolve, reject) => {
    const request = http.request({ host: '127.0.0.1', port, path, method, headers, agent }, (response) => {
      const parts = [];
      response.on('data', (part) => parts.push(part));
      response.on('end', () => resolve({ status: response.statusCode, headers: response.headers, body: Buffer.concat(parts).toString() }));
    });
    request.on('error', reject);
    request.end();
  });
}

function exchange(bytes) {
  return new Promise((resolve, reject) => {
    let answer = '';
    const socket = net.connect(server.port, '127.0.0.1', () => socket.write(bytes));
    socket.on('data', (part) => { answer += part; });
    socket.on('end', () => { socket.destroy(); resolve(answer); });
    socket.on('error', reject);
  });
}

let server, browser, profile, origin;

before(async () => {
  server = await serve();
  origin = `http://127.0.0.1:${server.port}`;
  profile = mkdtempSync(path.join(tmpdir(), 'pages-'));
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
      '--disable-component-update', '--disable-sync', `--disk-cache-dir=${profile}`],
  });
});

after(async () => {
  await browser?.close();
  if (server) await stop(server);
  if (profile) rmSync(profile, { recursive: true, force: true });
});

async function withPage(options, use) {
  const context = await browser.newContext({ locale: 'en-US', ...options });
  const page = await context.newPage();
  const outside = [];
  page.on('request', (request) => { if (!request.url().startsWith(origin)) outside.push(request.url()); });
  const complaints = [];
  page.on('console', (message) => { if (message.type() === 'error') complaints.push(message.text()); });
  page.on('dialog', (dialog) => { complaints.push(`dialog: ${dialog.message()}`); dialog.dismiss(); });
  try {
    await use(page, context, complaints);
    assert.deepEqual(outside, [], 'a request to a third party');
  } finally {
    await context.close();
  }
}

const paths = ['/', '/field/North%20bottom', '/field/%3Cscript%3Ealert%28%27x%27%29%3C%2Fscript%3E', '/field/Fallow%203', '/sources', '/field/North%20bottom/ledger', '/field/%3Cscript%3Ealert%28%27x%27%29%3C%2Fscript%3E/ledger',
  '/field/Fallow%203/ledger', '/no/such/page'];

for (const colorScheme of ['light', 'dark']) {
  test(`no_page_breaks_a_rule_of_axe_in_${colorScheme}`, async () => {
    // The page's own policy forbids scripts; it is set aside for axe alone.
    await withPage({ colorScheme, bypassCSP: true, viewport: { width: 360, height: 740 } }, async (page) => {
      for (const where of paths) {
        await page.goto(origin + where);
        await page.evaluate(axeSource);
        const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
        const found = result.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(' | ')}`);
        assert.deepEqual(found, [], where);
        assert.ok(result.passes.length > 10);
      }
    });
  });
}

test('in_spanish_a_per_cent_sign_stands_apart_from_its_number', () => {
  const words = JSON.parse(readFileSync('web/words.es.json', 'utf8'));
  assert.deepEqual(Object.entries(words).filter(([, text]) => /[\d}]%/.test(text)).map(([key]) => key), []);
});

test('nothing_scrolls_sideways_at_320_pixels_and_targets_are_large_enough', async () => {
  await withPage({ viewport: { width: 320, height: 640 } }, async (page) => {
    for (const where of [...paths, '/?lang=es&units=us', '/field/North%20bottom?lang=es']) {
      await page.goto(origin + where);
      const width = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(width <= 320, `${where}: ${width} pixels wide`);
      const small = await page.evaluate(() => [...document.querySelectorAll('a:not(.skip)')]
        .map((a) => [a.textContent, a.getBoundingClientRect().width, a.getBoundingClientRect().height])
        .filter(([, w, h]) => w < 44 || h < 44));
      assert.deepEqual(small, [], where);
    }
  });
});

test('the_ledger_scrolls_inside_its_own_box', async () => {
  await withPage({ viewport: { width: 360, height: 740 } }, async (page) => {
    await page.goto(`${origin}/field/North%20bottom/ledger`);
    const [inside, box] = await page.evaluate(() => {
      const scroll = document.querySelector('.days .scroll');
      return [scroll.scrollWidth, scroll.clientWidth];
    });
    assert.ok(inside > box && box < 360, `${inside} in ${box}`);
    assert.equal(await page.locator('.days tbody tr').count(), 41);
  });
});

test('no_name_of_a_column_is_broken_within_a_word', async () => {
  await withPage({ viewport: { width: 1280, height: 800 } }, async (page) => {
    for (const language of ['en', 'es']) {
      await page.goto(`${origin}/field/North%20bottom/ledger?lang=${language}`);
      const broken = await page.evaluate(() => [...document.querySelectorAll('.symbols dt')].filter((name) => {
        const range = document.createRange();
        range.selectNodeContents(name);
        return range.getClientRects().length > name.textContent.trim().split(/\s+/).length;
      }).map((name) => name.textContent));
      assert.deepEqual(broken, [], language);
    }
  });
});

test('without_javascript_the_page_says_the_sentences_of_the_api', async () => {
  await withPage({ javaScriptEnabled: false }, async (page, context, complaints) => {
    const api = JSON.parse((await ask('/api/today')).body);
    await page.goto(origin);
    assert.deepEqual(await page.locator('article h2').allTextContents(), api.fields.map((f) => f.name));
    assert.deepEqual(await page.locator('article .call').allTextContents(), api.fields.map((f) => f.sentence));
    assert.deepEqual(await page.locator('article .why').allTextContents(), api.fields.map((f) => f.why).filter(Boolean));
    assert.equal(await page.locator('h1').textContent(), api.summary);
    assert.equal(await page.locator('svg.ribbon').count(), api.fields.filter((f) => f.ribbon).length);
    assert.deepEqual(complaints, []);
  });
});

test('the_ledgers_page_shows_the_ledger_of_the_api', async () => {
  await withPage({ javaScriptEnabled: false }, async (page) => {
    const api = JSON.parse((await ask('/api/field/North%20bottom/ledger')).body);
    await page.goto(`${origin}/field/North%20bottom/ledger`);
    const rows = page.locator('.days tbody tr:not(.sum)');
    assert.deepEqual(await rows.locator('th').allTextContents(), api.rows.map((r) => r.date));
    assert.deepEqual((await rows.first().locator('td').allTextContents()).slice(0, api.columns.length), api.rows[0].cells);
    assert.deepEqual((await page.locator('.days .sum td').allTextContents()).slice(0, api.columns.length), api.totals.cells);
  });
});

test('one_tap_changes_the_units_and_they_stay', async () => {
  await withPage({ javaScriptEnabled: false, viewport: { width: 360, height: 740 } }, async (page) => {
    await page.goto(origin);
    assert.match(await page.locator('article .call').first().textContent(), /38\smm gross/);
    await page.getByRole('link', { name: 'in', exact: true }).click();
    assert.match(await page.locator('article .call').first().textContent(), /1\.50\sin gross/);
    await page.goto(`${origin}/field/North%20bottom`);
    assert.match(await page.locator('.call').textContent(), /1\.50\sin gross/);
    await page.getByRole('link', { name: 'mm', exact: true }).click();
    await page.goto(origin);
    assert.match(await page.locator('article .call').first().textContent(), /38\smm gross/);
  });
});

test('the_language_follows_the_browser_and_one_tap_changes_it', async () => {
  await withPage({ javaScriptEnabled: false, locale: 'es-MX' }, async (page) => {
    await page.goto(origin);
    assert.equal(await page.locator('html').getAttribute('lang'), 'es');
    assert.match(await page.locator('article .call').first().textContent(), /^Regar hoy: /);
    await page.getByRole('link', { name: 'English' }).click();
    assert.match(await page.locator('article .call').first().textContent(), /^Water today: /);
    await page.goto(origin);
    assert.equal(await page.locator('html').getAttribute('lang'), 'en');
  });
});

test('hostile_names_are_shown_as_text_and_lead_to_their_fields', async () => {
  await withPage({}, async (page, context, complaints) => {
    await page.goto(origin);
    const names = await page.locator('article h2').allTextContents();
    for (const name of hostileNames) {
      assert.ok(names.includes(name), name);
      await page.goto(origin);
      await page.locator('article h2 a', { hasText: name }).click();
      assert.equal(await page.locator('h1').textContent(), name);
    }
    assert.equal(await page.locator('img, body script, main style').count(), 0);
    assert.deepEqual(complaints, []);
  });
});

test('the_call_of_the_first_field_is_on_the_first_screen_of_a_phone', async () => {
  await withPage({ viewport: { width: 360, height: 740 } }, async (page) => {
    await page.goto(origin);
    const box = await page.locator('article .call').first().boundingBox();
    assert.ok(box.y + box.height < 740 / 2, `ends at ${box.y + box.height}`);
    assert.ok((await page.locator('article .call').nth(1).boundingBox()).y < 740);
  });
});

test('only_hosts_that_belong_to_the_server_are_answered', async () => {
  const { port } = server;
  for (const host of [`127.0.0.1:${port}`, 'localhost', `LOCALHOST:${port}`, `[::1]:${port}`])
    assert.equal((await ask('/', { headers: { host } })).status, 200, host);
  for (const host of ['evil.example', `127.0.0.1.evil.example:${port}`, '192.0.2.1', 'localhost.', '[::2]', 'localhost:x', 'localhost@127.0.0.1']) {
    const answer = await ask('/', { headers: { host } });
    assert.ok(answer.status === 421 || answer.status === 400, `${host}: ${answer.status}`);
    assert.ok(!answer.body.includes('North bottom'), host);
  }
  for (const lines of ['GET / HTTP/1.0\r\n\r\n', 'GET / HTTP/1.1\r\nHost:\r\nConnection: close\r\n\r\n', 'GET / HTTP/1.1\r\nConnection: close\r\n\r\n']) {
    const answer = await exchange(lines);
    assert.match(answer, /^HTTP\/1\.[01] 4(00|21) /, lines);
    assert.ok(!answer.includes('North bottom'), lines);
  }
});

test('every_answer_carries_the_security_headers', async () => {
  for (const where of ['/', '/api/today', '/style.css', '/icon.svg', '/field/North%20bottom/ledger.csv', '/none', '/field/%ff']) {
    const { headers } = await ask(where);
    const policy = headers['content-security-policy'];
    assert.match(policy, /default-src 'none'/, where);
    assert.ok(!/unsafe|\*|:/.test(policy), policy);
    assert.deepEqual(policy.split('; ').filter((part) => !/ '(none|self)'$/.test(part)), []);
    assert.equal(headers['x-content-type-options'], 'nosniff', where);
    assert.equal(headers['x-frame-options'], 'DENY', where);
    assert.equal(headers['referrer-policy'], 'same-origin', where);
  }
});

test('no_page_has_script_or_style_inside', async () => {
  for (const where of paths) {
    const { body } = await ask(where);
    assert.ok(!/<script(?! defer src)[\s>]|<style[\s>]|\sstyle=|\son\w+=|javascript:/i.test(body.replaceAll(/>[^<]*</g, '><').replaceAll(/"[^"]*"/g, '""')), where);
  }
});

test('what_did_not_change_is_not_sent_again', async () => {
  const first = await ask('/');
  assert.equal(first.status, 200);
  for (const tag of [first.headers.etag, `"x", ${first.headers.etag}`, '*']) {
    const second = await ask('/', { headers: { 'if-none-match': tag } });
    assert.equal(second.status, 304);
    assert.equal(second.body, '');
    assert.equal(second.headers.etag, first.headers.etag);
  }
  assert.equal((await ask('/', { headers: { 'if-none-match': '"other"' } })).status, 200);
  assert.notEqual((await ask('/?units=us')).headers.etag, first.headers.etag);
  const style = first.body.match(/href="(\/style\.css\?v=\w+)"/)[1];
  assert.match((await ask(style)).headers['cache-control'], /immutable/);
  assert.match((await ask('/style.css')).headers['cache-control'], /no-cache/);
});

test('only_get_and_head_are_answered', async () => {
  for (const method of ['POST', 'PUT', 'DELETE', 'PATCH', 'OPTIONS', 'TRACE']) {
    const answer = await ask('/', { method });
    assert.equal(answer.status, 405, method);
    assert.equal(answer.headers.allow, 'GET, HEAD');
  }
  const head = await ask('/', { method: 'HEAD' }), get = await ask('/');
  assert.equal(head.status, 200);
  assert.equal(head.body, '');
  assert.equal(head.headers['content-length'], String(Buffer.byteLength(get.body)));
  assert.equal(head.headers.etag, get.headers.etag);
});

test('paths_that_lead_nowhere_or_are_malformed_are_refused_without_internals', async () => {
  const expected = { '/none': 404, '/field/none': 404, '/field/': 400, '/field/North%20bottom/': 404, '/field/a/b': 404,
    '/field/%': 400, '/field/%4': 400, '/field/%zz': 400, '/field/%ff': 400, '/field/%C0%AF': 400, '/field/%ED%A0%80': 400,
    '/field/%00': 400, '/field/a%0Ab': 400, '/field/a%7F': 400, [`/field/${'a'.repeat(64)}`]: 400, [`/field/${'%C3%A9'.repeat(31)}`]: 404,
    '/../etc/passwd': 404, '/web/style.css': 404, '//': 404, '/api/field/none/ledger': 404, '/field/none/ledger.csv': 404 };
  for (const [where, status] of Object.entries(expected)) {
    const answer = await ask(where);
    assert.equal(answer.status, status, where);
    assert.ok(!/\.c:|errno|status \d/i.test(answer.body));
    if (where.startsWith('/api/')) assert.equal(JSON.parse(answer.body).error, 'not_found');
  }
  assert.equal((await ask('/field/%3d1%2B1%2fslash')).status, 200);
});

test('a_request_that_is_too_large_is_refused_and_the_next_one_is_answered', async () => {
  const large = await ask('/', { headers: { 'x-filler': 'a'.repeat(60000) } }).then((a) => a.status, () => 'closed');
  assert.ok(large === 431 || large === 413 || large === 'closed', String(large));
  const long = await ask(`/${'a'.repeat(60000)}`).then((a) => a.status, () => 'closed');
  assert.ok([414, 431, 'closed'].includes(long), String(long));
  assert.equal((await ask('/')).status, 200);
});

test('a_connection_is_used_again', async () => {
  const agent = new http.Agent({ keepAlive: true, maxSockets: 1 });
  try {
    const first = await ask('/', { agent }), second = await ask('/style.css', { agent });
    assert.equal(first.status + second.status, 400);
    assert.notEqual(first.headers.connection, 'close');
    assert.equal(Object.values(agent.freeSockets).flat().length, 1);
  } finally {
    agent.destroy();
  }
});

test('cookies_hold_only_what_the_program_knows', async () => {
  assert.deepEqual((await ask('/?units=us&lang=es')).headers['set-cookie'].map((c) => c.split(';')[0]), ['units=us', 'lang=es']);
  assert.equal((await ask('/?units=<script>&lang=xx')).headers['set-cookie'], undefined);
  const { body } = await ask('/api/today', { headers: { cookie: 'units=us; lang=es' } });
  assert.equal(JSON.parse(body).units, 'us');
  assert.equal(JSON.parse(body).language, 'es');
  assert.equal(JSON.parse((await ask('/api/today', { headers: { cookie: 'units=furlong; lang=..' } })).body).units, 'metric');
});

test('the_csv_of_a_name_that_is_a_formula_is_text', async () => {
  const { body, headers } = await ask('/field/%3D1%2B1%2Fslash/ledger.csv');
  assert.match(headers['content-type'], /^text\/csv/);
  assert.match(headers['content-disposition'], /^attachment/);
  const lines = body.trimEnd().split('\r\n');
  assert.equal(lines.length, 41);
  for (const line of lines.slice(1)) assert.ok(line.startsWith(`"'=1+1/slash",2026-0`), line);
});
