// Every answer of the API is held against the OpenAPI document that the program serves at /api/.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import test from 'node:test';
import Ajv from 'ajv/dist/2020.js';
import { ask, demoDatabase, servePages } from '../support/pages.mjs';
import { csvRows, DEMO_DAY, root } from '../support/program.mjs';

const formats = { date: /^\d{4}-\d{2}-\d{2}$/ };

async function api(t, change, mornings) {
  const { port } = await servePages(t, await demoDatabase(t, change, mornings));
  const answer = await ask(port, '/api/');
  assert.equal(answer.status, 200);
  assert.match(answer.headers['content-type'], /^application\/json/);
  const document = JSON.parse(answer.body);
  const ajv = new Ajv({ strict: true, allowUnionTypes: true, allErrors: true, formats });
  ajv.addVocabulary(['openapi', 'jsonSchemaDialect', 'info', 'servers', 'security', 'paths', 'components']);
  ajv.addSchema(document, 'api');
  return { port, document, ajv };
}

/** Fetches a path of the document and validates what comes. */
async function hold({ port, document, ajv }, pattern, values, query = '', expected = 200, headers = {}) {
  const operation = document.paths[pattern].get;
  const where = pattern.replaceAll(/\{(\w+)\}/g, (_, name) => encodeURIComponent(values[name])) + query;
  const answer = await ask(port, where, headers);
  assert.equal(answer.status, expected, where);
  let response = operation.responses[String(expected)], pointer = `#/paths/${pattern.replaceAll('~', '~0').replaceAll('/', '~1')}/get/responses/${expected}`;
  assert.ok(response, `${where}: ${expected} is not described`);
  if (response.$ref) {
    pointer = response.$ref;
    response = response.$ref.slice(2).split('/').reduce((at, key) => at[key], document);
  }
  const [type] = Object.keys(response.content);
  assert.ok(answer.headers['content-type'].startsWith(type), `${where}: ${answer.headers['content-type']}`);
  if (type !== 'application/json') return answer.body.toString();
  const body = JSON.parse(answer.body);
  const valid = ajv.getSchema(`api${encodeURI(pointer)}/content/application~1json/schema`);
  assert.ok(valid, pointer);
  assert.ok(valid(body), `${where}: ${JSON.stringify(valid.errors?.slice(0, 3))}`);
  return body;
}

test('every_answer_is_as_the_document_says', async (t) => {
  const served = await api(t, (farm) => {
    farm.fields.push({ ...farm.fields[0], name: 'New <ground>/1' });
    farm.records.push({ field: farm.fields[1].name, date: '2026-06-12', kind: 'reading', water_content: '22 %', sd: '2 %' });
    return farm;
  }, ['2026-07-04', '2026-07-08', '2026-07-11']);
  let count = 0;
  for (const query of ['', '?units=us', '?lang=es&units=us']) {
    const today = await hold(served, '/api/today', {}, query);
    await hold(served, '/api/sources', {}, query);
    const hindsight = await hold(served, '/api/hindsight', {}, query);
    assert.ok(hindsight.calls.length > 0);
    const turns = await hold(served, '/api/turns', {}, query);
    assert.ok(turns.supplies.some(({ fields }) => fields.some((field) => field.turns.length > 0)));
    count++;
    const first = query === '' ? '?' : `${query}&`;
    assert.equal((await hold(served, '/api/replay', {}, query)).has_result, false);
    const replay = await hold(served, '/api/replay', {}, `${first}field=North%20pivot&rainfed=1&automatic=1`);
    assert.equal(replay.scenarios.length, 3);
    assert.ok(replay.season.length > 10 && replay.season.every((row) => row.values.length === 3));
    const refused = await hold(served, '/api/replay', {}, `${first}field=North%20pivot&what1=nonsense`);
    assert.match(refused.what[0].error, query.includes('lang=es') ? /^dice «nonsense» y se espera/ : /^found "nonsense", expected/);
    count += 3;
    count += 3;
    for (const { name } of today.fields) {
      await hold(served, '/api/field/{name}', { name }, query);
      const ledger = await hold(served, '/api/field/{name}/ledger', { name }, query);
      const csv = await hold(served, '/field/{name}/ledger.csv', { name });
      assert.equal(csvRows(csv).length, ledger.rows.length);
      count += 3;
      for (const row of ledger.rows.filter((_, i) => i % 25 === 0)) {
        await hold(served, '/api/field/{name}/workings/{day}', { name, day: row.date }, query);
        count++;
      }
    }
    await hold(served, '/api/field/{name}/workings/{day}', { name: 'North pivot', day: DEMO_DAY }, query);
  }
  console.log(`measured: ${count} answers of the API are as its document says`);
});

test('refusals_are_as_the_document_says', async (t) => {
  const served = await api(t);
  for (const pattern of Object.keys(served.document.paths).filter((path) => path.includes('{name}') && path.startsWith('/api/'))) {
    const { error } = await hold(served, pattern, { name: 'nowhere', day: DEMO_DAY }, '', 404);
    assert.equal(error, 'not_found');
    await hold(served, pattern, { name: '\u0001', day: DEMO_DAY }, '?lang=es', 400);
  }
});

test('the_document_has_every_route_below_api', async (t) => {
  const { document } = await api(t);
  const routes = [...readFileSync(`${root}/daemon/http/routes.c`, 'utf8').matchAll(/\{"(\/api\/[^"]*)"/g)].map((match) => match[1]);
  assert.ok(routes.length >= 6);
  const described = Object.keys(document.paths).map((path) => path.replaceAll(/\{\w+\}/g, '*'));
  assert.deepEqual(routes.filter((route) => !described.includes(route)), []);
});

test('what_the_document_does_not_describe_is_found', async (t) => {
  const { port, ajv } = await api(t);
  const body = JSON.parse((await ask(port, '/api/today')).body);
  const valid = ajv.getSchema('api#/components/schemas/Today');
  assert.ok(valid(body));
  for (const break_ of [(b) => { b.surprise = 1; }, (b) => { b.fields[0].surprise = 1; }, (b) => { delete b.summary; }, (b) => { b.fields[0].call = 'maybe'; }, (b) => { b.fields[0].hours = '3'; }]) {
    const broken = structuredClone(body);
    break_(broken);
    assert.equal(valid(broken), false, String(break_));
  }
});
