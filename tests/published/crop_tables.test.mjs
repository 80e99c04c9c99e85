// config/crops.json against the published tables in fixtures/published, value by value. Nothing is rounded: the numbers
// must be those that are printed. A range must keep both printed ends and say which value is taken and why.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {table, text} from '../support/published.mjs';

const file = JSON.parse(text('config/crops.json'));
const {crops, groups, open_water: water} = file;
const table11 = table('fao56_table11_stage_lengths');
const table12 = table('fao56_table12_kc_single');
const table17 = table('fao56_table17_kcb_basal');
const table22 = table('fao56_table22_root_depth_p');
const table23 = table('salt_tolerance').filter((row) => row.provenance.startsWith('seen'));
const table24 = table('yield_response_ky');
const row = (rows, name) => {
  const found = rows.filter((r) => r.crop === name);
  assert.equal(found.length, 1, `one row is called ${name}`);
  return found[0];
};

// The value in the file stands for the printed cell: "0.9", "0.70-0.90", "0.60,0.35", or blank.
function same(value, printed, where) {
  const ends = printed.trim() === '' ? [] : printed.split(/[-,]/).map(Number);
  if (ends.length === 0) return assert.equal(value, undefined, where);
  if (ends.length === 1) return assert.equal(value, ends[0], where);
  assert.deepEqual(value.range, ends, where);
  assert.ok(value.why.length > 0, `${where}: says why`);
  assert.ok(value.take >= Math.min(...ends) && value.take <= Math.max(...ends), where);
  if (value.why === 'mid-point') assert.ok(Math.abs(value.take - (ends[0] + ends[1]) / 2) < 1e-9, where);
  else assert.ok(ends.includes(value.take), where);
}

test('every row of Table 12 is one crop, one group or one open water, in the order of the table', () => {
  assert.equal(table12.length, 134);
  assert.deepEqual(crops.map((c) => c.table12.row),
    table12.filter((r) => r.note !== 'group row' && r.group !== 'p').map((r) => r.crop));
  assert.deepEqual(groups.map((g) => g.row), table12.filter((r) => r.note === 'group row').map((r) => r.crop));
  assert.deepEqual(water.map((w) => w.row), table12.filter((r) => r.group === 'p').map((r) => r.crop));
  assert.ok(crops.length >= 100);
});

test('single coefficients and heights are those of Table 12', () => {
  for (const {name, group, table12: t} of crops) {
    const r = row(table12, t.row);
    assert.equal(group, r.group, name);
    same(t.ini, r.Kc_ini_effective, `${name}, Kc ini`);
    same(t.mid, r.Kc_mid, `${name}, Kc mid`);
    same(t.end, r.Kc_end, `${name}, Kc end`);
    // The errata: a blank Kc ini means that of the group.
    assert.equal(t.ini_from, r.Kc_ini_printed === '' ? 'group' : undefined, name);
    if (t.ini_from) assert.equal(t.ini, groups.find((g) => g.group === group).ini, name);
    // The one blank height is shared with the row above it.
    const height = name === 'wheat, winter' ? row(table12, 'Winter wheat - frozen soils').h_max_m : r.h_max_m;
    same(t.height, height, `${name}, height`);
  }
});

test('group values are those of Tables 12 and 17', () => {
  for (const g of groups) {
    const r = row(table12, g.row);
    same(g.ini, r.Kc_ini_printed, g.row);
    same(g.mid, r.Kc_mid, g.row);
    same(g.end, r.Kc_end, g.row);
    const basal = table17.find((b) => b.crop === g.row);
    assert.equal(g.basal_row, basal?.crop, g.row);
    same(g.basal_ini, basal?.Kcb_ini_printed ?? '', g.row);
    same(g.basal_mid, basal?.Kcb_mid ?? '', g.row);
    same(g.basal_end, basal?.Kcb_end ?? '', g.row);
  }
  for (const w of water) {
    same(w.mid, row(table12, w.row).Kc_mid, w.row);
    same(w.end, row(table12, w.row).Kc_end, w.row);
  }
});

test('basal coefficients are those of Table 17, and every row of it is used', () => {
  for (const {name, group, table17: t, table18} of crops) {
    assert.equal(t === undefined, table18 !== undefined, name);
    if (!t) continue;
    const r = row(table17, t.row);
    assert.equal(group, r.group, name);
    same(t.ini, r.Kcb_ini_effective, `${name}, Kcb ini`);
    same(t.mid, r.Kcb_mid, `${name}, Kcb mid`);
    same(t.end, r.Kcb_end, `${name}, Kcb end`);
    assert.equal(t.ini_from, r.Kcb_ini_printed === '' ? 'group' : undefined, name);
    if (t.ini_from) assert.equal(t.ini, groups.find((g) => g.group === group).basal_ini, name);
  }
  const used = new Set([...crops.map((c) => c.table17?.row), ...groups.map((g) => g.basal_row)]);
  assert.deepEqual(table17.filter((r) => !used.has(r.crop)).map((r) => r.crop), []);
});

test('where Table 17 has no row, Table 18 makes basal coefficients of the single ones', () => {
  const rule = (item) => table('fao56_small_tables').find((r) => r.table === '18' && r.item.includes(item)).value;
  assert.equal(rule('perennial with cover, infrequently irrigated'), 'Kc ini - 0.1');
  assert.equal(rule('ground cover > 80%'), 'Kc mid - 0.05');
  assert.equal(rule('infrequently wetted in late season'), 'about Kc end - 0.05');
  for (const {name, table12: s, table18: b} of crops.filter((c) => c.table18))
    for (const [key, less] of [['ini', 0.1], ['mid', 0.05], ['end', 0.05]])
      assert.ok(Math.abs(s[key] - b[key] - less) < 1e-9, `${name}, ${key}`);
});

test('rooting depths and p are those of Table 22, and only lima beans have no crop in Table 12', () => {
  for (const {name, group, open, table22: t} of crops) {
    if (!t) {
      assert.match(open.root_depth, /Table 22/, name);
      assert.match(open.depletion_fraction, /Table 22/, name);
      continue;
    }
    const r = row(table22, t.row);
    assert.equal(group, r.group, name);
    assert.deepEqual(t.root_depth, [Number(r.Zr_max_low_m), Number(r.Zr_max_high_m)], name);
    assert.equal(t.p, Number(r.p_at_ETc5), name);
  }
  const used = new Set(crops.map((c) => c.table22?.row));
  assert.deepEqual(table22.filter((r) => !used.has(r.crop)).map((r) => r.crop), ['Beans, lima, large vines']);
});

const LENGTHS = ['L_ini_d', 'L_dev_d', 'L_mid_d', 'L_late_d'];
const cells = (r) => LENGTHS.map((key) => r[key].split('/').map(Number));
const sum = (days) => days.reduce((a, b) => a + b, 0);
const totals = (r) => r.total_d_printed.split('/').map(Number);

// The printed rows that a row of the file may stand for; a cell with two lengths stands for either.
const printed = (stage) => table11.filter((r) => r.crop === stage.row && r.region === stage.region &&
  cells(r).every((lengths, i) => lengths.includes(stage.days[i])));

// The file's reading of a printed planting: one misprint, and none for dashes.
const planted = (r) => r.plant_date.replace('Mat/Aug [sic]', 'May/Aug').replace('---', '');

test('stage lengths are those of Table 11', () => {
  for (const {name, group, table11: t = []} of crops) {
    for (const stage of t) {
      const where = `${name}, ${stage.name}`;
      const found = printed(stage).filter((r) => planted(r).includes(stage.planted));
      assert.equal(found.length, 1, where);
      const [r] = found;
      assert.equal(r.group[0], group, where);
      const twofold = cells(r).some((lengths) => lengths.length > 1);
      // The one length printed as 0 days.
      if (stage.take) assert.deepEqual([stage.days, stage.take], [[90, 45, 40, 0], [90, 45, 40, 1]], where);
      assert.equal(stage.take === undefined, !stage.days.includes(0), where);
      const adds = totals(r).includes(sum(stage.days));
      // Where a cell holds two lengths the printed total tells which; elsewhere a total that does not add up is said.
      if (twofold) assert.ok(adds, where);
      else assert.equal(planted(r), stage.planted, where);
      assert.equal(!adds, /the printed total is/.test(stage.note ?? ''), where);
      if (stage.cut) {
        const cut = printed({...stage.cut, region: stage.region});
        assert.equal(cut.length, 1, where);
        assert.equal(cut[0].plant_date, stage.cut.planted, where);
        assert.equal(sum(stage.cut.days), Number(cut[0].total_d_printed), where);
      }
    }
    assert.equal(new Set(t.map((s) => s.name.toLowerCase())).size, t.length, `${name}: regions differ`);
  }
});

test('every complete row of Table 11 is used, with each of its totals', () => {
  const stages = crops.flatMap((c) => c.table11 ?? []).flatMap((s) => (s.cut ? [s, {...s.cut, region: s.region}] : [s]));
  const left = table11.filter((r) => {
    const mine = stages.filter((s) => s.row === r.crop && planted(r).includes(s.planted) && printed(s).includes(r));
    return totals(r).length === 1 ? mine.length === 0 : !totals(r).every((t) => mine.some((s) => sum(s.days) === t));
  });
  assert.deepEqual(left.map((r) => r.crop), ['Alfalfa, total season', 'Grass pasture']);
  for (const r of left) assert.ok(LENGTHS.some((key) => !/^\d/.test(r[key])), `${r.crop}: leaves lengths open`);
});

test('a crop without stage lengths says so', () => {
  for (const {name, open, table11: t} of crops) {
    if (t) assert.ok(t.length > 0 && open?.stage_days === undefined, name);
    else assert.match(open.stage_days, /Table 11/, name);
  }
});

test('salt tolerance is that of Table 23, at the cautious end of a range', () => {
  for (const {name, open, table23: t} of crops) {
    if (!t) { assert.match(open.salt, /no row/, name); continue; }
    const r = row(table23, t.row);
    same(t.threshold, r.ECe_threshold_dS_m, `${name}, threshold`);
    same(t.slope, r.slope_b_pct_per_dS_m, `${name}, slope`);
    assert.equal(t.rating, r.rating, name);
    if (t.threshold?.range) assert.equal(t.threshold.take, Math.min(...t.threshold.range), name);
    if (t.slope?.range) assert.equal(t.slope.take, Math.max(...t.slope.range), name);
    assert.equal(t.threshold === undefined, /no numbers/.test(open?.salt ?? ''), name);
  }
});

test('seasonal Ky is that of Table 24, and by period that of FAO-33; the rest say that none is published', () => {
  for (const {name, open, table24: t, fao33: periods} of crops) {
    if (!t) {
      assert.match(open.ky, /no Ky is published.*page 177/, name);
      assert.equal(periods, undefined, name);
      continue;
    }
    const r = row(table24, t.row);
    same(t.ky, r.Ky_season_FAO56_T24, `${name}, Ky`);
    const split = r.Ky_vegetative_late !== '';
    const expected = Object.entries({
      [split ? 'early_vegetative' : 'vegetative']: r.Ky_vegetative_or_early, late_vegetative: r.Ky_vegetative_late,
      flowering: r.Ky_flowering, yield_formation: r.Ky_yield_formation, ripening: r.Ky_ripening,
    }).filter(([, cell]) => cell !== '').map(([key, cell]) => [key, parseFloat(cell)]);
    const {row: periodRow, ...mine} = periods ?? {row: t.row};
    assert.equal(periodRow, t.row, name);
    assert.deepEqual(mine, Object.fromEntries(expected), name);
  }
  const used = new Set(crops.map((c) => c.table24?.row));
  // Tobacco is in no crop table of FAO-56.
  assert.deepEqual(table24.filter((r) => !used.has(r.crop)).map((r) => r.crop), ['Tobacco']);
});

test('sweet potato has no Ky, as FAO-56 page 177 has it', () => {
  const sweet = crops.find((c) => c.name === 'sweet potato');
  assert.equal(sweet.table24, undefined);
  assert.match(sweet.open.ky, /take 1, or that of a similar crop/);
  assert.match(table('crops_not_in_fao56').find((r) => r.crop === 'Sweet potato').value, /Ky=1 or a similar crop/);
});

test('names are lower case and no two crops share a name', () => {
  const names = crops.flatMap((c) => [c.name, ...c.also]);
  assert.deepEqual(names.filter((n) => n !== n.toLowerCase() || n.length > 63 || n.trim() !== n), []);
  assert.deepEqual(names.filter((n, i) => names.indexOf(n) !== i), []);
});

test('every table that a value stands below has its source', () => {
  const known = new Set(['name', 'also', 'group', 'habit', 'forage', 'open', ...Object.keys(file.sources)]);
  for (const [key, source] of Object.entries(file.sources)) assert.match(source, /FAO-(56|33)/, key);
  for (const value of Object.values(file.defaults)) assert.ok(value.source.length > 0);
  for (const c of crops) assert.deepEqual(Object.keys(c).filter((key) => !known.has(key)), [], c.name);
});

test('basal coefficients do not pass the single ones', () => {
  const taken = (v) => (typeof v === 'object' ? v.take : v);
  const above = crops.filter(({table12: s, table17, table18, b = table17 ?? table18}) =>
    ['ini', 'mid', 'end'].some((key) => taken(b[key]) > taken(s[key]))).map((c) => c.name);
  assert.deepEqual(above, []);
});
