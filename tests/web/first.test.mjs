// A new user in a browser, with and without JavaScript: a field is added, a watering recorded, the changed call read.
import assert from 'node:assert/strict';
import test from 'node:test';
import { demoDatabase, openBrowser, servePages } from '../support/pages.mjs';

for (const [words, javaScriptEnabled, viewport] of [['with_javascript_on_a_phone', true, { width: 360, height: 740 }],
  ['with_javascript_at_a_desk', true, { width: 1280, height: 800 }], ['without_javascript_on_a_phone', false, { width: 360, height: 740 }]]) {
  test(`a_new_user_adds_a_field_records_a_watering_and_reads_the_changed_call_${words}`, async (t) => {
    const { origin } = await servePages(t, await demoDatabase(t));
    const page = await (await (await openBrowser(t)).newContext({ locale: 'en-US', javaScriptEnabled, viewport })).newPage();
    await page.goto(origin);
    await page.getByRole('link', { name: 'Add a field' }).click();
    await page.locator('#name').fill('Back forty');
    await page.locator('#area').fill('16');
    await page.locator('#soil').selectOption({ label: 'sandy loam' });
    await page.locator('#system').selectOption({ label: 'centre pivot' });
    await page.locator('#crop').fill('corn');
    await page.locator('#planted').fill('2026-05-01');
    await page.locator('main form button[type=submit]').click();
    await page.waitForURL((url) => !url.pathname.endsWith('/fields/new'));

    await page.goto(origin);
    await page.getByRole('link', { name: 'Back forty' }).click();
    const before = await page.locator('.call').first().textContent();
    assert.match(before, /^Water today:/);
    await page.getByRole('link', { name: 'Watering', exact: true }).click();
    await page.locator('#water').fill('60');
    await page.locator('main form button[type=submit]').click();
    await page.waitForURL(/\/entry\//);
    assert.match(await page.locator('.kept').textContent(), /60\smm/);
    assert.ok((await page.locator('.was').textContent()).includes(before.trim()));
    const now = await page.locator('.now').textContent();
    assert.doesNotMatch(now, /Water today/);
    await page.goto(`${origin}/field/Back%20forty`);
    assert.ok(now.includes((await page.locator('.call').first().textContent()).trim()));
  });
}
