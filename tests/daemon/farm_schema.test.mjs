// config/farm.schema.json: what it accepts and what it refuses. Invented examples.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import Ajv2020 from 'ajv/dist/2020.js';
import {text} from '../support/published.mjs';

const schema = JSON.parse(text('config/farm.schema.json'));
const validate = new Ajv2020({strict: true, allowUnionTypes: true, strictRequired: false, allErrors: true}).compile(schema);
const why = () => JSON.stringify(validate.errors?.map((e) => `${e.instancePath} ${e.message}`));

/** Where in the file: a JSON Pointer (RFC 6901). */
const pointer = (...keys) => keys.map((key) => `/${key}`).join('');

const farm = () => ({
  farm: {name: 'Quiet Creek', units: 'us', time_zone: 'America/Chicago'},
  stations: [{name: 'yard', latitude: 38.2, longitude: -98.6, elevation: '512 m', wind_height: '2 m', coastal: false,
    aridity: '2 C', krs: null, angstrom_as: 0.25, angstrom_bs: 0.5, wind_default: '2 m/s'}],
  sources: [{name: 'gauge', station: 'yard', layout: 'plain', address: 'file:weather.csv', kind: 'observed'},
    {name: 'outlook', station: 'yard', layout: 'plain', address: 'https://weather.example/days', kind: 'forecast'}],
  soils: [{name: 'bottom', texture: 'sandy loam', curve_number: 78, intake: '0.5 in/h'},
    {name: 'hill', sand: '62 %', clay: 0.11, organic_matter: '2 %', evaporation_depth: '0.1 m'},
    {name: 'dug', layers: [{bottom: '0.3 m', field_capacity: '24 %', wilting_point: '110 mm/m'}], rew: '9 mm', tew: '20 mm'}],
  supplies: [{name: 'well', flow: '800 gal/min', hours_per_day: '20 h', allotment: '120000 m3', season: {from: '2026-05-01', to: '2026-09-30'},
    users: 2, open: [{days: 'mon tue', from: 22, hours: 8}, {every: 7, first: '2026-05-04', from: 6, hours: '24 h'}],
    closed: [{from: '2026-07-01', to: '2026-07-03'}], allotments: [{from: '2026-05-01', to: '2026-06-30', volume: '40 ac-ft'}],
    water_price: 0.04, hour_price: 6.5}],
  fields: [{name: 'north', area: '130 ac', station: 'yard', soil: 'bottom', supply: 'well', turns: {setup: '2 h', shortest: 4, longest: '3 d', may_pause: true},
    system: {kind: 'centre pivot', efficiency: '85 %', flow: '180 m3/h', hours_per_day: 22, net_min: '8 mm',
      net_max: '1.2 in', wetted_fraction: 1, under_canopy: false}},
  {name: 'dry', area: '2 ha', station: 'yard', soil: 'hill', system: {kind: 'none'}}],
  plantings: [{field: 'north', crop: 'sweet potato', region: 'Mediterranean', planted: '2026-05-20', start: '2026-05-01',
    method: 'dual', start_depletion: '20 %', stage_days: [20, 30, 60, 40], stage_dates: {mid: '2026-07-10'},
    kc: {ini: 0.5, mid: 1.15, end: 0.65}, kcb: {mid: null}, height: '0.4 m', root_depth: {ini: '0.2 m', max: '1.0 m'},
    depletion_fraction: 0.65, allowed_depletion: ['60 %', '45 %', '45 %', '70 %'], ky: 1, water_table: '1.8 m',
    capillary_max: '2 mm', ece: '2 dS/m', reference: 'fao56 grass', clock: 'days'}],
  turns: [{field: 'north', kind: 'kept dry', start: '2026-07-15 06:00', hours: 12, why: 'spraying'}],
  records: [{field: 'north', date: '2026-06-01', kind: 'irrigation', depth: '25 mm'},
    {field: 'north', date: '2026-06-02', kind: 'irrigation', hours: 14},
    {field: 'north', date: '2026-06-03', kind: 'rain', depth: '0.4 in'},
    {field: 'north', date: '2026-06-04', kind: 'reading', water_content: '21 %', sd: '2 %'},
    {field: 'north', date: '2026-06-05', kind: 'stage', stage: 'mid'},
    {field: 'north', date: '2026-06-06', kind: 'cover', cover: '45 %'},
    {field: 'north', date: '2026-06-07', kind: 'cutting'},
    {field: 'north', date: '2026-09-07', kind: 'harvest', yield: 12.5, grade: 'first'},
    {field: 'north', date: '2026-09-08', kind: 'note', text: 'two rows lodged'}],
  trials: [{name: 'water', treatments: [{name: 'irrigated', field: 'north'}, {name: 'rainfed', field: 'dry'}]}],
});

test('a whole farm is accepted', () => {
  assert.ok(validate(farm()), why());
});

test('a farm with nothing but a name is accepted', () => {
  assert.ok(validate({farm: {name: 'New'}}), why());
});

test('a day of few hours is one, and a rainfed field has none', () => {
  const changed = farm();
  for (const hours of ['0.5 h', '+10 h', '1e1 h', '.5', 0.25]) {
    changed.supplies[0].hours_per_day = changed.fields[0].system.hours_per_day = hours;
    assert.ok(validate(changed), `${hours}: ${why()}`);
  }
  for (const hours of [0, '0 h']) {
    changed.fields[1].system.hours_per_day = hours;
    assert.ok(validate(changed), `${hours}: ${why()}`);
  }
});

// Each breaks one thing; the schema must point at it.
const wrong = {
  'a farm without a name': [(f) => delete f.farm.name, '/farm'],
  'an unknown key': [(f) => { f.pumps = []; }, ''],
  'a mistyped key in a list': [(f) => { f.fields[0].aera = '1 ha'; }, '/fields/0'],
  'an area without its unit': [(f) => { f.fields[0].area = 52; }, '/fields/0/area'],
  'an area without its unit in quotes': [(f) => { f.fields[0].area = '52'; }, '/fields/0/area'],
  'an area that is only a unit': [(f) => { f.fields[0].area = 'ha'; }, '/fields/0/area'],
  'a power of ten for a unit': [(f) => { f.fields[0].area = '5e3'; }, '/fields/0/area'],
  'a comma in a number': [(f) => { f.stations[0].elevation = '1,5 m'; }, '/stations/0/elevation'],
  'a latitude past the pole': [(f) => { f.stations[0].latitude = 91; }, '/stations/0/latitude'],
  'an address of another kind': [(f) => { f.sources[0].address = 'ftp://weather.example'; }, '/sources/0/address'],
  'a soil without a description': [(f) => { f.soils = [{name: 'x'}]; }, '/soils/0'],
  'sand without clay': [(f) => { delete f.soils[1].clay; }, '/soils/1'],
  'sand and clay without organic matter': [(f) => { delete f.soils[1].organic_matter; }, '/soils/1'],
  'nine layers': [(f) => { f.soils[2].layers = Array(9).fill(f.soils[2].layers[0]); }, '/soils/2/layers'],
  'an unknown kind of system': [(f) => { f.fields[0].system.kind = 'hose'; }, '/fields/0/system/kind'],
  'a share above 1': [(f) => { f.fields[0].system.efficiency = 85; }, '/fields/0/system/efficiency'],
  'a date of another form': [(f) => { f.plantings[0].planted = '20.5.2026'; }, '/plantings/0/planted'],
  'a month that is none': [(f) => { f.plantings[0].planted = '2026-13-01'; }, '/plantings/0/planted'],
  'three stages': [(f) => { f.plantings[0].stage_days = [20, 30, 60]; }, '/plantings/0/stage_days'],
  'a stage of no days': [(f) => { f.plantings[0].stage_days[3] = 0; }, '/plantings/0/stage_days/3'],
  'an irrigation without an amount': [(f) => { delete f.records[0].depth; }, '/records/0'],
  'an irrigation with two amounts': [(f) => { f.records[0].hours = 3; }, '/records/0'],
  'a record of an unknown kind': [(f) => { f.records[0].kind = 'frost'; }, '/records/0/kind'],
  'a rain with a key of a reading': [(f) => { f.records[2].sd = '2 %'; }, '/records/2'],
  'days of the week in another form': [(f) => { f.supplies[0].open[0].days = 'monday'; }, '/supplies/0/open/0/days'],
  'a supply that never runs': [(f) => { f.supplies[0].hours_per_day = 0; }, '/supplies/0/hours_per_day'],
  'a supply that never runs, with its unit': [(f) => { f.supplies[0].hours_per_day = '0.0 h'; }, '/supplies/0/hours_per_day'],
  'a system that never runs': [(f) => { f.fields[0].system.hours_per_day = 0; }, '/fields/0/system/hours_per_day'],
  'a system that never runs, with its unit': [(f) => { f.fields[0].system.hours_per_day = '0 h'; }, '/fields/0/system/hours_per_day'],
  'hours by days of the week and by count': [(f) => { Object.assign(f.supplies[0].open[0], {every: 2, first: '2026-05-04'}); }, '/supplies/0/open/0'],
  'a count of days without its first': [(f) => { delete f.supplies[0].open[1].first; }, '/supplies/0/open/1'],
  'an opening at half past': [(f) => { f.supplies[0].open[0].from = 22.5; }, '/supplies/0/open/0/from'],
  'nine openings': [(f) => { f.supplies[0].open = Array(9).fill(f.supplies[0].open[0]); }, '/supplies/0/open'],
  'a turn at half past': [(f) => { f.turns[0].start = '2026-07-15 06:30'; }, '/turns/0/start'],
  'a turn at hour 24': [(f) => { f.turns[0].start = '2026-07-15 24:00'; }, '/turns/0/start'],
  'a trial without treatments': [(f) => { f.trials[0].treatments = []; }, '/trials/0/treatments'],
  'a name of 64 letters': [(f) => { f.farm.name = 'x'.repeat(64); }, pointer('farm', 'name')],
  'a line break in a name': [(f) => { f.farm.name = 'a\nb'; }, pointer('farm', 'name')],
};

for (const [what, [change, place]] of Object.entries(wrong)) {
  test(`${what} is refused`, () => {
    const broken = farm();
    change(broken);
    assert.equal(validate(broken), false);
    assert.ok(validate.errors.some((e) => e.instancePath === place), `at ${place}: ${why()}`);
  });
}

test('every key and every kind of value has a description that a person can read', () => {
  const bare = [];
  const walk = (node, path) => {
    if (node === null || typeof node !== 'object') return;
    for (const [key, value] of Object.entries(node.properties ?? {})) {
      const described = value.$ref ? schema.$defs[value.$ref.split('/').pop()] : value;
      if (!described.description && !value.description && !value.enum && value.const === undefined) bare.push(`${path}.${key}`);
    }
    for (const [key, value] of Object.entries(node)) walk(value, `${path}/${key}`);
  };
  walk(schema, '');
  for (const [key, value] of Object.entries(schema.$defs)) if (!value.description) bare.push(key);
  assert.deepEqual(bare, []);
});
