// The forms as people meet them: a real browser on a phone's screen, light and dark, in both languages, without JavaScript.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import path from 'node:path';
import test from 'node:test';
import { DEMO_DAY, firstLine, program, root, scratch, serveFiles } from '../support/program.mjs';
import { axeSource, demoDatabase, openBrowser, servePages } from '../support/pages.mjs';

const kinds = ['irrigation', 'rain', 'reading', 'stage', 'cover', 'cutting', 'harvest', 'note'];
const forms = ['/', '/field/Bottom%20meadow', ...kinds.map((kind) => `/field/Bottom%20meadow/record/${kind}`),
  ...['coarse', 'moderately_coarse', 'medium', 'fine'].map((group) => `/field/North%20pivot/feel?group=${group}`),
  '/fields/new', '/field/North%20pivot/settings', '/field/North%20pivot/soil', '/field/Trial%20plot%20A/soil', '/field/North%20pivot/planting/new', '/field/North%20pivot/planting/2026-04-14',
  '/farm', '/sources', '/sources/new', '/source/valley%20station',
  '/supplies/new', '/supply/Mill%20well', '/turns/new', '/turns/dry', ...['move', 'split', 'dry', 'done', 'late'].map((act) => `/turn/3/${act}`)];

async function demo(t) {
  return (await servePages(t, await demoDatabase(t))).origin;
}

/** The pages of an empty book. */
async function nothing(t) {
  const directory = scratch(t);
  const child = spawn(program, ['serve', '--listen', '127.0.0.1:0', '--today', DEMO_DAY],
    { cwd: root, env: { ...process.env, WATERTURN_DB: '', XDG_DATA_HOME: directory }, stdio: ['ignore', 'pipe', 'inherit'] });
  t.after(() => child.kill('SIGKILL'));
  return `http://127.0.0.1:${(await firstLine(child)).match(/:(\d+)\//)[1]}`;
}

/** Sends what stands in a page's form with one input spoilt, so that the form comes back with its errors. */
async function spoil(page) {
  await page.locator('input[type=text], input[type=date]').first().fill('');
  await page.locator('form[method=post] button[type=submit].main').click();
  await page.waitForSelector('[role=alert]');
}

async function violations(page) {
  await page.evaluate(axeSource);
  const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
  return result.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(' | ')}`);
}

for (const colorScheme of ['light', 'dark']) {
  test(`no_form_breaks_a_rule_of_axe_in_${colorScheme}`, async (t) => {
    const origin = await demo(t), empty = await nothing(t);
    const browser = await openBrowser(t);
    // axe itself is the only script: the page's own rules would keep it out.
    const page = await browser.newPage({ colorScheme, viewport: { width: 360, height: 740 }, bypassCSP: true });
    for (const where of [...forms.map((form) => origin + form), empty]) {
      await page.goto(where);
      assert.deepEqual(await violations(page), [], where);
    }
    for (const where of ['/field/North%20pivot/record/irrigation', '/fields/new', '/farm']) {
      await page.goto(origin + where);
      await spoil(page);
      assert.deepEqual(await violations(page), [], `${where} with errors`);
      assert.ok(await page.evaluate(() => document.activeElement.getAttribute('aria-invalid') === 'true'), `${where}: the first error has the focus`);
    }
  });
}

test('forms_fit_a_small_phone_their_targets_are_large_and_no_word_is_missing', async (t) => {
  const origin = await demo(t), empty = await nothing(t);
  const browser = await openBrowser(t);
  const page = await browser.newPage({ viewport: { width: 320, height: 640 } });
  for (const language of ['en', 'es']) {
    for (const where of [...forms.map((form) => origin + form), `${empty}/`]) {
      await page.goto(`${where}${where.includes('?') ? '&' : '?'}lang=${language}`);
      const width = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(width <= 320, `${where}: ${width} pixels wide`);
      const small = await page.evaluate(() => [...document.querySelectorAll('main a, main button, main select, main textarea, main input:not([type=hidden]):not([type=radio]):not([type=checkbox]), main .choice label, main .week label')]
        .map((a) => [a.id || a.textContent, a.getBoundingClientRect().width, a.getBoundingClientRect().height])
        .filter(([, w, h]) => w < 44 || h < 44));
      assert.deepEqual(small, [], where);
      const text = await page.evaluate(() => document.body.innerText + [...document.querySelectorAll('option')].map((o) => o.textContent).join(' '));
      assert.doesNotMatch(text, /\b(form|label|input|record|entry|feel|start|link|texture|system|stage_seen|turns|weekday_short)\.[a-z_]/, where);
    }
  }
});

test('without_javascript_one_tap_records_a_form_corrects_and_undo_takes_back', async (t) => {
  const origin = await demo(t);
  const browser = await openBrowser(t);
  const page = await browser.newPage({ javaScriptEnabled: false, viewport: { width: 360, height: 740 } });
  await page.goto(origin);
  const call = page.locator('article', { hasText: 'North pivot' });
  await call.getByRole('button', { name: 'Done as called' }).click();
  assert.match(page.url(), /\/entry\//);
  assert.equal(await page.locator('h1').textContent(), 'Kept');
  assert.match(await page.locator('.was').textContent(), /Before: Water today:/);
  // A page that is loaded again, or gone back to, sends nothing again.
  await page.reload();
  assert.equal(await page.locator('h1').textContent(), 'Kept');
  await page.getByRole('link', { name: 'North pivot' }).click();
  await page.locator('.records a').first().click();
  await page.getByLabel('How much').fill('12.5');
  await page.getByRole('button', { name: 'Keep the correction' }).click();
  assert.match(await page.locator('.kept').textContent(), /Watered 12\.5\smm gross today/);
  await page.getByRole('button', { name: 'Undo' }).click();
  assert.equal(await page.locator('h1').textContent(), 'Taken back');
  await page.goto(`${origin}/field/North%20pivot`);
  assert.match(await page.locator('.records li').first().textContent(), /Watered 35\smm gross today/);
  // The last form can be taken back from the field's page, too.
  await page.getByRole('link', { name: 'Note' }).click();
  await page.getByLabel('Note', { exact: true }).fill('A fox crossed the field.');
  await page.getByRole('button', { name: 'Keep' }).click();
  await page.goto(`${origin}/field/North%20pivot`);
  assert.match(await page.locator('.records').textContent(), /A fox crossed/);
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.goto(`${origin}/field/North%20pivot`);
  assert.doesNotMatch(await page.locator('.records').textContent(), /A fox crossed/);
});

test('without_javascript_a_new_farm_comes_to_its_first_field_in_spanish', async (t) => {
  const weather = await serveFiles(t, path.join(root, 'fixtures/demo/weather'));
  const origin = await nothing(t);
  const browser = await openBrowser(t);
  const page = await browser.newPage({ javaScriptEnabled: false, locale: 'es-MX', viewport: { width: 360, height: 740 } });
  await page.goto(origin);
  await page.getByRole('link', { name: 'Seguir' }).click();
  await page.getByLabel('Nombre de la finca').fill('La Ribera');
  await page.getByLabel('Latitud').fill('25,4');
  await page.getByLabel('Longitud').fill('-107,3');
  await page.getByLabel('Altura sobre el mar').fill('60');
  await page.getByRole('button', { name: 'Seguir' }).click();
  await page.getByRole('link', { name: 'Seguir' }).click();
  await page.getByLabel('De dónde').selectOption('file:plain');
  await page.getByLabel('Su dirección').fill(path.join(root, 'fixtures/demo/weather/observed.csv'));
  await page.getByLabel('días medidos').check();
  await page.getByRole('button', { name: 'Añadirla' }).click();
  assert.match(await page.locator('#address-error').textContent(), /Una página no puede nombrar un archivo de este equipo/);
  await page.getByLabel('Su dirección').fill(`${weather}/observed.csv`);
  await page.getByLabel('días medidos').check();
  await page.getByRole('button', { name: 'Añadirla' }).click();
  await page.getByRole('link', { name: 'Seguir' }).click();
  await page.getByLabel('Nombre').fill('Parcela 1');
  await page.getByLabel('Superficie').fill('3,5');
  await page.getByLabel('Suelo').selectOption({ label: 'franco' });
  await page.getByLabel('Cómo se riega').selectOption({ label: 'goteo' });
  assert.doesNotMatch(await page.locator('main').innerText(), /inglés/, 'crops are listed, and taken, in Spanish');
  await page.getByLabel('Cultivo').fill('tomate');
  await page.getByLabel('Fecha de siembra').fill('2026-05-10');
  await page.getByRole('button', { name: 'Añadir el campo' }).click();
  for (let i = 0; i < 100 && await page.locator('.field').count() === 0; i++) {
    await page.waitForTimeout(50);
    await page.goto(origin);
  }
  assert.equal(await page.locator('.field h2').textContent(), 'Parcela 1');
});

test('every_page_of_a_farm_that_is_not_set_up_leads_to_its_set_up', async (t) => {
  const origin = await nothing(t);
  for (const where of ['/sources', '/turns', '/turns/sheet', '/replay', '/hindsight', '/sources/new', '/fields/new', '/field/North', '/field/North/ledger']) {
    const answer = await fetch(origin + where, { redirect: 'manual' });
    assert.equal(answer.status, 303, where);
    assert.equal(answer.headers.get('location'), '/', where);
  }
  assert.equal((await fetch(`${origin}/api/sources`)).status, 404);
  assert.equal((await fetch(`${origin}/nowhere`)).status, 404);
  // What is linked from there opens.
  const links = [...(await (await fetch(`${origin}/people`)).text()).matchAll(/href="([^"?]*)"/g)].map(([, href]) => href.replaceAll('&#x2F;', '/')).filter((href) => href.startsWith('/'));
  assert.ok(links.length > 4);
  for (const link of links) assert.equal((await fetch(origin + link)).status, 200, link);
});
