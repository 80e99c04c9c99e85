// What goes over the wire: packed where it is taken, small for a phone, and not sent again.
import assert from 'node:assert/strict';
import test from 'node:test';
import { gunzipSync } from 'node:zlib';
import { ask, demoDatabase, manyFields, meter, openBrowser, servePages } from '../support/pages.mjs';

const kilobytes = 1024;

test('a_body_is_packed_for_those_who_take_it_and_is_the_same_bytes', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  for (const where of ['/', '/api/today', '/style.css', '/field/North%20pivot', '/field/North%20pivot/ledger.csv', '/api/field/North%20pivot/ledger']) {
    const plain = await ask(port, where);
    assert.equal(plain.headers['content-encoding'], undefined, where);
    assert.match(plain.headers.vary, /Accept-Encoding/);
    for (const accept of ['gzip', 'br, GZIP;q=0.5', '*', 'identity;q=0.2,gzip ; q=1']) {
      const packed = await ask(port, where, { 'accept-encoding': accept });
      assert.equal(packed.headers['content-encoding'], 'gzip', `${where} ${accept}`);
      assert.deepEqual(gunzipSync(packed.body), plain.body, where);
      assert.ok(packed.body.length < plain.body.length / 2, where);
      assert.equal(packed.headers['content-length'], String(packed.body.length));
    }
    for (const accept of ['', 'identity', 'br', 'gzip;q=0', 'gzip;q=0.0, *', '*;q=0', 'gzipped', 'x-gzip'])
      assert.equal((await ask(port, where, { 'accept-encoding': accept })).headers['content-encoding'], undefined, accept);
  }
});

test('a_small_body_is_sent_as_it_is', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  const icon = await ask(port, '/icon.svg', { 'accept-encoding': 'gzip' });
  assert.ok(icon.body.length < kilobytes);
  assert.equal(icon.headers['content-encoding'], undefined);
});

test('a_packed_body_and_a_plain_one_have_tags_of_their_own', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  for (const where of ['/', '/style.css']) {
    const plain = await ask(port, where), packed = await ask(port, where, { 'accept-encoding': 'gzip' });
    assert.notEqual(plain.headers.etag, packed.headers.etag);
    const again = await ask(port, where, { 'accept-encoding': 'gzip', 'if-none-match': packed.headers.etag });
    assert.equal(again.status, 304);
    assert.equal(again.body.length, 0);
    assert.equal(again.headers['content-encoding'], undefined);
    assert.equal((await ask(port, where, { 'if-none-match': plain.headers.etag })).status, 304);
    assert.equal((await ask(port, where, { 'accept-encoding': 'gzip', 'if-none-match': plain.headers.etag })).status, 200);
    assert.equal((await ask(port, where, { 'if-none-match': packed.headers.etag })).status, 200);
    const head = await ask(port, where, { 'accept-encoding': 'gzip' }, 'HEAD');
    assert.equal(head.headers.etag, packed.headers.etag);
    assert.equal(head.headers['content-length'], String(packed.body.length));
  }
});

test('today_with_twenty_fields_is_small_on_the_first_visit_and_smaller_on_the_next', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t, (farm) => manyFields(farm, 20)));
  const wire = await meter(t, port);
  const browser = await openBrowser(t);
  const page = await (await browser.newContext({ viewport: { width: 360, height: 740 } })).newPage();
  await page.goto(`http://127.0.0.1:${wire.port}/`, { waitUntil: 'networkidle' });
  assert.equal(await page.locator('article').count(), 20);
  const first = wire.bytes();
  // Another day's page: nothing of it can be told to be unchanged.
  await page.goto(`http://127.0.0.1:${wire.port}/?units=us`, { waitUntil: 'networkidle' });
  assert.equal(await page.locator('article').count(), 20);
  const next = wire.bytes();
  await page.goto(`http://127.0.0.1:${wire.port}/?units=us`, { waitUntil: 'networkidle' });
  console.log(`measured: Today with 20 fields: ${first} bytes over the wire on the first visit, ${next} on the next, ${wire.bytes()} when nothing changed`);
  assert.ok(first <= 30 * kilobytes, `first visit: ${first}`);
  assert.ok(next <= 12 * kilobytes, `next visit: ${next}`);
});

test('nothing_but_the_page_and_its_style_sheet_holds_up_the_first_picture', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  for (const where of ['/', '/field/North%20pivot']) {
    const html = (await ask(port, where)).body.toString();
    assert.equal(html.match(/<link[^>]+rel="stylesheet"/g).length, 1);
    for (const script of html.match(/<script[^>]*>/g) ?? []) assert.match(script, /\sdefer\b|type="module"/);
    assert.doesNotMatch(html, /@import|<img|<iframe|<object/);
  }
});
