// The workings: what they say is what the ledger holds, and each formula gives its number.
import assert from 'node:assert/strict';
import test from 'node:test';
import { reckon } from '../support/formula.mjs';
import { ask, demoDatabase, openBrowser, servePages } from '../support/pages.mjs';
import { csvRows, DEMO_DAY, waterturn } from '../support/program.mjs';

const json = async (port, where) => {
  const answer = await ask(port, where);
  assert.equal(answer.status, 200, where);
  return JSON.parse(answer.body);
};
const path = (field) => encodeURIComponent(field);

/** Days spread over a ledger, and those on which something happened. */
function someDays(rows) {
  const spread = rows.filter((row, i) => i % 9 === 0 || i >= rows.length - 3);
  const eventful = rows.filter((row) => Number(row.irrigation_net_mm) > 0 || Number(row.runoff_mm) > 0 || Number(row.ks) < 1 || Number(row.reading_shift_mm) !== 0 || Number(row.percolation_mm) > 0 || Number(row.unmet_mm) > 0);
  return [...new Set([...spread, ...eventful.filter((row, i) => i % 4 === 0)])];
}

const demo = { port: undefined, fields: [] };

test('the_workings', async (t) => {
  // A thin and a dense stand, the single method, salt, and a water table are put into the demo's fields.
  const { port } = await servePages(t, await demoDatabase(t, (farm) => {
    const [first, second, third] = farm.fields.map((field) => field.name);
    farm.records.push({ field: first, date: '2026-06-10', kind: 'cover', cover: '40 %' }, { field: second, date: '2026-06-12', kind: 'cover', cover: '98 %' });
    Object.assign(farm.plantings.find((p) => p.field === third), { method: 'single', water_table: '1.4 m', capillary_max: '2 mm' });
    return farm;
  }));
  demo.port = port;
  for (const { name } of (await json(port, '/api/today')).fields)
    demo.fields.push({ name, rows: csvRows((await ask(port, `/field/${path(name)}/ledger.csv`)).body.toString()) });

  await t.test('equal_the_ledger_to_the_last_bit', async () => {
    let numbers = 0, days = 0;
    for (const { name, rows } of demo.fields) {
      assert.ok(rows.length > 10, name);
      for (const row of someDays(rows)) {
        const view = await json(port, `/api/field/${path(name)}/workings/${row.date}`);
        assert.equal(view.agrees, true, `${name} ${row.date}`);
        days++;
        for (const [member, value] of Object.entries(view.row)) {
          assert.ok(member in row, member);
          if (value !== null) assert.equal(value, Number(row[member]), `${name} ${row.date} ${member}`);
          else assert.equal(row[member], '');
          numbers++;
        }
        for (const line of view.sections.flatMap((s) => s.lines).filter((l) => l.ledger))
          assert.equal(line.value, Number(row[line.ledger]), `${name} ${row.date} ${line.key}`);
      }
    }
    console.log(`measured: ${numbers} numbers of ${days} days of ${demo.fields.length} fields equal the ledger's to the last bit`);
    assert.ok(days > 100);
  });

  await t.test('each_formula_gives_its_number', async () => {
    const seen = new Set();
    let count = 0;
    for (const { name, rows } of demo.fields) {
      for (const row of someDays(rows)) {
        const view = await json(port, `/api/field/${path(name)}/workings/${row.date}`);
        for (const line of view.sections.flatMap((s) => s.lines).filter((l) => l.formula)) {
          const inputs = Object.fromEntries(line.inputs.map((i) => [i.symbol, i.value]));
          const result = reckon(line.formula, inputs);
          // Both sides are sums and products of doubles: nothing but rounding may part them.
          assert.ok(Math.abs(result - line.value) <= 1e-9 * Math.max(1, Math.abs(line.value)), `${name} ${row.date} ${line.symbol} = ${line.formula}: ${result}, shown ${line.value}`);
          seen.add(line.formula);
          count++;
        }
      }
    }
    console.log(`measured: ${count} formulas, ${seen.size} different ones, give the numbers beside them`);
    assert.ok(seen.size > 65, String(seen.size));
  });

  await t.test('a_formula_uses_only_what_stands_above_it', async () => {
    for (const { name, rows } of demo.fields) {
      const view = await json(port, `/api/field/${path(name)}/workings/${rows[40 % rows.length].date}`);
      const above = new Map();
      for (const line of view.sections.flatMap((s) => s.lines)) {
        for (const input of line.inputs ?? []) {
          // What is zero today has no line of its own.
          if (!above.has(input.key)) assert.equal(input.value, 0, `${line.key} uses ${input.key}`);
          else assert.equal(input.value, above.get(input.key));
        }
        assert.ok(line.formula ? line.equation : line.source, line.key);
        assert.ok(line.name !== `work.${line.key}`);
        above.set(line.key, line.value);
      }
    }
  });

  await t.test('the_page_says_what_the_api_says', async () => {
    const browser = await openBrowser(t);
    const page = await (await browser.newContext({ javaScriptEnabled: false, locale: 'en-US' })).newPage();
    const { name, rows } = demo.fields[0];
    const where = `/field/${path(name)}/workings/${rows.at(-1).date}`;
    const view = await json(port, `/api${where}`);
    await page.goto(`http://127.0.0.1:${port}${where}`);
    const lines = view.sections.flatMap((s) => s.lines);
    assert.deepEqual(await page.locator('.workings .result b').allTextContents(), lines.map((l) => l.text));
    assert.deepEqual(await page.locator('.workings .formula').allTextContents(), lines.filter((l) => l.formula).map((l) => `${l.symbol} = ${l.formula}`));
    await page.getByRole('link', { name: 'Day before' }).click();
    assert.match(page.url(), new RegExp(`${rows.at(-2).date}$`));
  });

  await t.test('days_to_come_have_workings_and_others_do_not', async () => {
    const field = path(demo.fields[0].name);
    const ahead = await json(port, `/api/field/${field}/workings/${DEMO_DAY}`);
    assert.equal(ahead.ahead, true);
    assert.equal(ahead.agrees, false);
    for (const day of ['1999-01-01', '2026-09-01', '2026-07-24', '2026-02-30', 'today', '2026-7-1'])
      assert.equal((await ask(port, `/field/${field}/workings/${day}`)).status, 404, day);
    assert.equal((await ask(port, `/field/none/workings/${DEMO_DAY}`)).status, 404);
  });
});

test('the_command_prints_the_same_workings', async (t) => {
  const db = await demoDatabase(t);
  const done = waterturn('workings', 'North pivot', '2026-07-01', '--db', db);
  assert.equal(done.status, 0, done.stderr);
  const data = JSON.parse(waterturn('workings', 'North pivot', '2026-07-01', '--json', '--db', db).stdout);
  const lines = data.sections.flatMap((s) => s.lines);
  assert.ok(lines.length > 50);
  for (const line of lines) assert.ok(done.stdout.includes(`${line.symbol} = `) && done.stdout.includes(line.text), line.key);
  assert.equal(waterturn('workings', 'North pivot', '1990-01-01', '--db', db).status, 1);
  assert.match(waterturn('workings', 'North pivot', 'then', '--db', db).stderr, /found then, expected a date/);
});
