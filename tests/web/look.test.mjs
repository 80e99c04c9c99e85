// Every page of the program at the sizes that people use, in both themes, by axe and by the ruler.
import assert from 'node:assert/strict';
import test from 'node:test';
import { axeSource, demoDatabase, openBrowser, servePages } from '../support/pages.mjs';
import { demoDatabase as guardedDatabase, linkFor, pair, serve } from '../support/guarded.mjs';
import { DEMO_DAY, waterturn } from '../support/program.mjs';

const pages = ['/', '/people', '/turns', '/turns/sheet', '/turns/feeds', '/turn/1', '/sources', '/hindsight', '/sources/new', '/farm', '/field/East%20pivot/remove', '/source/valley%20station', '/source/valley%20station/remove', '/supply/Mill%20well/remove', '/field/North%20pivot/soil', '/field/North%20pivot/record/irrigation?replaces=62', '/fields/new', '/no/such/page', '/field/Trial%20plot%20C', '/field/New%20ground', '/field/New%20ground/ledger',
  ...['', '/ledger', `/workings/${DEMO_DAY}`, '/workings/2026-06-20', '/settings', '/planting/new', '/feel', ...['irrigation', 'rain', 'reading', 'stage', 'cover', 'cutting', 'harvest', 'note'].map((kind) => `/record/${kind}`)]
    .map((tail) => `/field/North%20pivot${tail}`)];

async function served(t) {
  const { origin } = await servePages(t, await demoDatabase(t, (farm) => {
    farm.fields.push({ ...farm.fields[0], name: 'New ground' });
    return farm;
  }, ['2026-07-04', '2026-07-08', '2026-07-11']));
  return { origin, browser: await openBrowser(t) };
}

async function onPage(browser, options, use) {
  const context = await browser.newContext({ locale: 'en-US', serviceWorkers: 'block', ...options });
  const outside = [], complaints = [], page = await context.newPage();
  page.on('pageerror', (error) => complaints.push(String(error)));
  page.on('request', (request) => { if (!request.url().startsWith('http://127.0.0.1:')) outside.push(request.url()); });
  await use(page);
  assert.deepEqual([outside, complaints], [[], []]);
  await context.close();
}

test('no_page_breaks_a_rule_of_axe_in_either_theme', async (t) => {
  const { origin, browser } = await served(t);
  let rules = 0;
  for (const colorScheme of ['light', 'dark']) {
    await onPage(browser, { colorScheme, bypassCSP: true, viewport: { width: 360, height: 740 } }, async (page) => {
      for (const where of pages) {
        await page.goto(origin + where);
        // Three kept mornings of nine fields or more stand on it.
        if (where === '/hindsight') assert.ok(await page.locator('main table').last().locator('tbody tr').count() >= 27);
        await page.evaluate(axeSource);
        const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
        assert.deepEqual(result.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(' | ')}`), [], `${where} ${colorScheme}`);
        rules += result.passes.length;
      }
    });
  }
  console.log(`measured: axe found nothing on ${pages.length} pages in two themes, ${rules} rules passed`);
});

for (const [name, viewport, languages] of [
  ['nothing_scrolls_sideways_at_320_pixels', { width: 320, height: 640 }, ['en-US', 'es-MX']],
  ['a_zoom_of_200_per_cent_shows_all_on_a_desk', { width: 640, height: 400 }, ['en-US']], // 1280 × 800 at twice the size
  ['a_phone_shows_all', { width: 360, height: 740 }, ['en-US']],
  ['a_desk_shows_all', { width: 1280, height: 800 }, ['en-US']]]) {
  test(name, async (t) => {
    const { origin, browser } = await served(t);
    for (const locale of languages) {
      await onPage(browser, { viewport, locale }, async (page) => {
        for (const where of pages) {
          await page.goto(origin + where);
          const wide = await page.evaluate(() => document.documentElement.scrollWidth);
          assert.ok(wide <= viewport.width, `${where} ${locale}: ${wide} pixels wide`);
          // Nothing runs out of its box, but for tables that scroll inside theirs.
          const cut = await page.evaluate(() => [...document.querySelectorAll('main *:not(.scroll *):not(.waterings *):not(svg *)')]
            .filter((e) => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5 && e.closest('.scroll, .waterings') === null).map((e) => e.outerHTML.slice(0, 80)));
          assert.deepEqual(cut, [], where);
        }
      });
    }
  });
}

test('what_is_touched_is_44_pixels_or_more', async (t) => {
  const { origin, browser } = await served(t);
  await onPage(browser, { viewport: { width: 360, height: 740 }, hasTouch: true }, async (page) => {
    for (const where of pages) {
      await page.goto(origin + where);
      // Links inside a sentence are text, as WCAG 2.5.8 has it.
      const small = await page.evaluate(() => [...document.querySelectorAll('a:not(.skip):not(p:not(.farm):not(.links):not(.send) a), button, select, input:not([type=hidden]):not([type=radio]):not([type=checkbox]), .week label, textarea')]
        .filter((e) => e.getClientRects().length > 0)
        .map((e) => [e.outerHTML.slice(0, 90), e.getBoundingClientRect().width, e.getBoundingClientRect().height])
        .filter(([, w, h]) => w < 44 || h < 44));
      assert.deepEqual(small, [], where);
    }
  });
});

test('the_pages_of_pairing_hold_to_the_same_rules', async (t) => {
  const { db } = await guardedDatabase(t);
  const { address } = await serve(t, db);
  const names = ['Ana', 'Bernardo de la estación de bombeo del río', 'Chris', 'Old phone'];
  const cookies = [];
  for (const [i, name] of names.entries()) cookies.push(await pair(address, linkFor(db, ['manager', 'operator', 'reader', 'reader'][i], name, address)));
  assert.equal(waterturn('people', '--db', db, '--revoke', '4').status, 0);
  const browser = await openBrowser(t);
  const check = async (page, what, width) => {
    await page.evaluate(axeSource);
    const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
    assert.deepEqual(violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(' | ')}`), [], what);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, `${what} scrolls sideways`);
    const small = await page.evaluate(() => [...document.querySelectorAll('main a.button, button, main input:not([type=hidden]):not([type=radio])')].filter((e) => e.getBoundingClientRect().height < 44).map((e) => e.outerHTML));
    assert.deepEqual(small, [], what);
  };
  for (const colorScheme of ['light', 'dark']) {
    for (const [locale, width] of [['en-US', 360], ['es-MX', 320], ['en-US', 1280]]) {
      await onPage(browser, { colorScheme, locale, bypassCSP: true, viewport: { width, height: 740 } }, async (page) => {
        const what = (where) => `${where} ${colorScheme} ${locale} ${width}`;
        await page.goto(new URL(linkFor(db, 'operator', 'Dora', address)).href);
        await check(page, what('the link'), width);
        await page.goto(`${address}/pair/no-such-code`);
        await check(page, what('a link that is over'), width);
        await page.goto(`${address}/`);
        await check(page, what('a phone that is not paired'), width);
        const [name, value] = cookies[0].split('=');
        await page.context().addCookies([{ name, value, url: address }]);
        await page.goto(`${address}/people`);
        await check(page, what('/people'), width);
        assert.equal(await page.locator('.device').count(), 4);
        assert.equal(await page.locator('.device button').count(), 2, 'not on the own device, nor on a closed one');
        await page.click('button.main');
        await check(page, what('no name'), width);
        await page.fill('#name', 'Elena');
        await page.check('#role_reader');
        await page.click('button.main');
        assert.match(await page.locator('#link').innerText(), /Elena/);
        await check(page, what('a link that was made'), width);
      });
    }
  }
});
