// A field's page and its ledger: the picture of the season, sums, the record on paper.
import assert from 'node:assert/strict';
import test from 'node:test';
import { ask, demoDatabase, openBrowser, servePages } from '../support/pages.mjs';
import { csvRows, DEMO_DAY } from '../support/program.mjs';

const json = async (port, where) => JSON.parse((await ask(port, where)).body);
const path = (field) => encodeURIComponent(field);
const near = (a, b, limit) => Math.abs(a - b) <= limit;

test('the_picture_of_the_season_shows_the_days_of_the_ledger_and_those_to_come', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  for (const { name } of (await json(port, '/api/today')).fields) {
    const rows = csvRows((await ask(port, `/field/${path(name)}/ledger.csv`)).body.toString());
    const { picture } = await json(port, `/api/field/${path(name)}`);
    assert.equal(picture.match(/data-first="([\d-]+)"/)[1], rows[0].date, name);
    const days = picture.match(/data-values="([^"]*)"/)[1].split(';').map((day) => day.split(',').map(Number));
    assert.equal(days.length, rows.length + 10, name);
    rows.forEach((row, i) => {
      const [depletion, allowed, rain, water] = days[i];
      // Whole millimetres.
      assert.ok(near(depletion, row.depletion_mm, 0.5) && near(allowed, row.allowed_mm, 0.5) && near(rain, row.rain_mm, 0.5) && near(water, row.irrigation_gross_mm, 0.5), `${name} ${row.date}`);
    });
    const area = picture.match(/class="used" d="M[\d.]+ 44([^"]*)"/)[1].match(/V[\d.]+H/g);
    assert.equal(area.length, rows.length, name);
    const bars = (kind) => (picture.match(new RegExp(`class="${kind}" d="([^"]*)"`))[1].match(/M/g) ?? []).length;
    assert.equal(bars('water'), rows.filter((row) => Number(row.irrigation_gross_mm) >= 0.2).length, name);
    assert.ok(bars('rain') >= rows.filter((row) => Number(row.rain_mm) >= 0.2).length, name);
    assert.ok(!/NaN|inf/.test(picture), name);
  }
});

test('in_inches_the_picture_and_the_facts_are_in_inches', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  const metric = await json(port, '/api/field/North%20pivot'), us = await json(port, '/api/field/North%20pivot?units=us');
  const value = (view, i) => Number(view.picture.match(/data-values="([^"]*)"/)[1].split(';')[i].split(',')[0]);
  for (const day of [50, 80, 100]) assert.ok(near(value(us, day), value(metric, day) / 25.4, 0.03));
  assert.ok(us.season.some((fact) => /\d\sin$/.test(fact.text)) && us.facts.some((fact) => /\d\sac$/.test(fact.text)));
  assert.ok(metric.season.some((fact) => /\d\smm$/.test(fact.text)) && metric.facts.some((fact) => /\d\sha$/.test(fact.text)));
  const spanish = await json(port, '/api/field/North%20pivot?lang=es');
  assert.ok(spanish.facts.some(({ text }) => /, franco limoso$/.test(text)), JSON.stringify(spanish.facts));
  assert.ok(spanish.facts.some((fact) => /^32,0\sha$/.test(fact.text)), JSON.stringify(spanish.facts));
});

test('the_sums_by_stage_add_up_to_those_of_the_season_and_to_the_rows', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  for (const { name } of (await json(port, '/api/today')).fields) {
    const view = await json(port, `/api/field/${path(name)}/ledger`);
    assert.ok(view.stage_totals.length >= 1, name);
    for (const member of Object.keys(view.totals.values)) {
      const stages = view.stage_totals.reduce((sum, stage) => sum + stage.values[member], 0);
      const rows = view.rows.reduce((sum, row) => sum + row.values[member], 0);
      assert.ok(near(stages, view.totals.values[member], 1e-9) && near(rows, view.totals.values[member], 1e-9), `${name} ${member}`);
    }
    assert.equal(view.stage_totals.reduce((sum, stage) => sum + stage.days, 0), view.rows.length);
    assert.ok(view.totals.closure_max_mm < 1e-9);
    assert.equal(view.closure, 'The terms add up on each day.');
  }
});

test('the_record_has_each_watering_with_its_depths_and_volume', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t));
  const { record } = await json(port, '/api/field/North%20pivot/ledger');
  const rows = csvRows((await ask(port, '/field/North%20pivot/ledger.csv')).body.toString()).filter((row) => Number(row.irrigation_gross_mm) > 0);
  assert.deepEqual(record.waterings.map((w) => w.date), rows.map((row) => row.date));
  for (const [i, watering] of record.waterings.entries()) {
    assert.equal(watering.gross_mm, Number(rows[i].irrigation_gross_mm));
    assert.equal(watering.net_mm, Number(rows[i].irrigation_net_mm));
    assert.ok(near(watering.volume_m3, watering.gross_mm * 320000 / 1000, 1e-6)); // 32 ha
  }
  assert.ok(near(record.sum.gross_mm, record.waterings.reduce((sum, w) => sum + w.gross_mm, 0), 1e-9));
  const facts = Object.fromEntries(record.facts.map((fact) => [fact.name, fact.text]));
  assert.deepEqual(['Farm', 'Field', 'Soil', 'Crop', 'System', 'Way of deciding'].filter((name) => !facts[name]), []);
  assert.match(facts['Way of deciding'], /FAO-56/);
});

test('a_ledger_prints_on_one_landscape_page', async (t) => {
  // Sixty waterings in a season are many.
  const { port } = await servePages(t, await demoDatabase(t, (farm) => {
    for (let i = 0; i < 60; i++) {
      const date = new Date(Date.UTC(2026, 4, 10 + i)).toISOString().slice(0, 10);
      farm.records.push({ field: 'Long rows', date, kind: 'irrigation', depth: '4 mm' });
    }
    return farm;
  }));
  const browser = await openBrowser(t);
  const page = await (await browser.newContext({ locale: 'en-US' })).newPage();
  for (const field of ['Long rows', 'North pivot', 'Bottom meadow', 'Trial plot C']) {
    await page.goto(`http://127.0.0.1:${port}/field/${path(field)}/ledger`);
    for (const format of ['A4', 'Letter']) {
      const pdf = (await page.pdf({ format, landscape: true, preferCSSPageSize: false })).toString('latin1');
      assert.equal(pdf.match(/\/Type\s*\/Page\b/g).length, 1, `${field} on ${format}`);
    }
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    const [, width, height] = pdf.match(/\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)/);
    assert.ok(Number(width) > Number(height), 'landscape');
  }
});

test('a_field_on_which_nothing_was_reckoned_has_a_page', async (t) => {
  const { port } = await servePages(t, await demoDatabase(t, (farm) => {
    farm.fields.push({ ...farm.fields[0], name: 'New ground' });
    return farm;
  }));
  for (const where of ['/field/New%20ground', '/field/New%20ground/ledger']) assert.equal((await ask(port, where)).status, 200, where);
  assert.equal((await ask(port, `/field/New%20ground/workings/${DEMO_DAY}`)).status, 404);
});
