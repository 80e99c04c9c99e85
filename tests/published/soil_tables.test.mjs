// config/soils.json against FAO-56 Table 19, Saxton and Rawls (2006) Table 3 and the NRCS curve numbers.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {table, text} from '../support/published.mjs';

const {textures, covers, sources, units} = JSON.parse(text('config/soils.json'));
const table19 = table('fao56_table19_soil_water');
const saxton = table('saxton_rawls_2006_table3');
const numbers = table('runoff_cn_by_hsg');
const taken = (value) => (typeof value === 'object' ? value.take : value);
const named = (name) => textures.find((t) => t.name === name);

test('ranges are those of Table 19, every row of it is used, and the mid-point is taken', () => {
  const columns = {
    field_capacity: ['FC_low_m3m3', 'FC_high_m3m3'], wilting_point: ['WP_low_m3m3', 'WP_high_m3m3'],
    rew: ['REW_low_mm', 'REW_high_mm'], tew: ['TEW_low_mm_Ze0.10', 'TEW_high_mm_Ze0.10'],
  };
  const mine = textures.filter((t) => t.table19);
  assert.deepEqual(mine.map((t) => t.table19.row), table19.map((r) => r.texture));
  mine.forEach((t, i) => {
    for (const [key, [low, high]] of Object.entries(columns)) {
      const value = t.table19[key];
      assert.deepEqual(value.range, [Number(table19[i][low]), Number(table19[i][high])], `${t.name}, ${key}`);
      assert.equal(value.why, 'mid-point');
      assert.ok(Math.abs(value.take - (value.range[0] + value.range[1]) / 2) < 1e-9, `${t.name}, ${key}`);
    }
  });
});

test('the water between the mid-points lies in the range that Table 19 prints for it, but for silt', () => {
  const outside = textures.filter((t) => t.table19).filter((t, i) => {
    const between = t.table19.field_capacity.take - t.table19.wilting_point.take;
    return between < Number(table19[i].FCminusWP_low) - 1e-9 || between > Number(table19[i].FCminusWP_high) + 1e-9;
  });
  // Silt: 0.32 - 0.17 = 0.15, printed 0.16 to 0.20.
  assert.deepEqual(outside.map((t) => t.name), ['silt']);
});

test('the three classes that Table 19 leaves out are those of Saxton and Rawls', () => {
  const mine = textures.filter((t) => !t.table19);
  assert.deepEqual(mine.map((t) => t.name), ['sandy clay loam', 'clay loam', 'sandy clay']);
  for (const {name, saxton_rawls: s} of mine) {
    const r = saxton.find((row) => row.texture === s.row);
    assert.equal(s.row.toLowerCase(), name);
    assert.equal(s.sand, Number(r.sand_pct), name);
    assert.equal(s.clay, Number(r.clay_pct), name);
    assert.equal(s.organic_matter, Number(r.OM_pct), name);
    assert.equal(s.field_capacity, Number(r.FC_vol_pct_printed) / 100, name);
    assert.equal(s.wilting_point, Number(r.WP_vol_pct_printed) / 100, name);
  }
});

test('their evaporable water follows from eq. 73 and from the classes named', () => {
  for (const {name, saxton_rawls: s, derived: d} of textures.filter((t) => t.derived)) {
    // Eq. 73 with Ze 0.10 m.
    assert.ok(Math.abs(d.tew - 1000 * (s.field_capacity - 0.5 * s.wilting_point) * 0.10) < 1e-9, name);
    const [a, b] = d.rew_between.map((other) => taken(named(other).table19.rew));
    assert.ok(Math.abs(d.rew - (a + b) / 2) < 1e-9, name);
  }
});

test('every curve number is that of its row, and every row is there once', () => {
  assert.deepEqual(covers.map((c) => c.row), numbers.map((r) => [r.cover_type, r.treatment, r.hydrologic_condition]));
  covers.forEach((c, i) => {
    assert.deepEqual(c.curve_number, ['A', 'B', 'C', 'D'].map((group) => Number(numbers[i][group])), c.name);
    assert.equal(c.provenance, numbers[i].provenance.startsWith('seen') ? 'seen' : 'memory', c.name);
  });
  assert.equal(new Set(covers.map((c) => c.name)).size, covers.length);
});

test('every table that a value stands below has its source, every value its unit', () => {
  for (const t of textures) {
    for (const key of Object.keys(t).filter((k) => !['name', 'also'].includes(k))) {
      assert.ok(sources[key].length > 0, `${t.name}, ${key}`);
      for (const value of Object.keys(t[key]).filter((k) => !['row', 'rew_between'].includes(k)))
        assert.ok(units[value].length > 0, `${t.name}, ${value}`);
    }
  }
  assert.ok(sources.covers.length > 0);
});
