// Vapour pressures of core/weather/air.c against the npm package psychrolib, which has the equations of the ASHRAE
// Handbook - Fundamentals 2017 (Hyland and Wexler's saturation pressure, thermodynamic wet bulb, standard atmosphere).
//
// What should differ: eq. 11 (Tetens, as Murray 1967 has it) is a fit with three constants, good to some 0.1 % over water. Below 0 degC psychrolib takes ice, FAO-56 goes on with water, which lies higher:
// 10 % at -10 degC, 21 % at -20 degC (ratio of the saturation pressures over water and ice, WMO-No. 8).
import assert from 'node:assert/strict';
import {execFileSync} from 'node:child_process';
import {test} from 'node:test';
import psychrolib from 'psychrolib';

psychrolib.SetUnitSystem(psychrolib.SI);

const root = new URL('../../', import.meta.url).pathname;
const build = process.env.BUILD ?? 'build';
const table = (name) => execFileSync(`${root}${build}/tests/tools/print_weather`, [name], {encoding: 'utf8'})
    .trim().split('\n').slice(1).map((line) => line.split(',').map(Number));
const largest = (values) => Math.max(...values.map(Math.abs));
const measured = (what, value, unit) => console.log(`measured ${what}: ${value} ${unit}`);

test('saturation vapour pressure above freezing agrees with Hyland and Wexler within 0.12 %', () => {
  const off = table('air').filter(([t]) => t >= 0.5).map(([t, e0]) => e0 * 1000 / psychrolib.GetSatVapPres(t) - 1);
  assert.equal(off.length, 110);
  measured('e0 against psychrolib, 0.5..55 degC, largest difference', (100 * largest(off)).toFixed(3), '%');
  assert.ok(largest(off) <= 0.0012);
});

test('saturation vapour pressure below freezing is that over water and lies above that over ice', () => {
  const ratio = new Map(table('air').filter(([t]) => t <= -0.5)
      .map(([t, e0]) => [t, e0 * 1000 / psychrolib.GetSatVapPres(t)]));
  measured('e0 over that of ice at -10 and -20 degC', `${ratio.get(-10).toFixed(3)} ${ratio.get(-20).toFixed(3)}`, '');
  for (const value of ratio.values()) assert.ok(value > 1);
  // WMO-No. 8, Annex 4.B: over water 2.863 and 1.254 hPa, over ice 2.599 and 1.032 hPa.
  assert.ok(Math.abs(ratio.get(-10) - 2.863 / 2.599) < 0.005);
  assert.ok(Math.abs(ratio.get(-20) - 1.254 / 1.032) < 0.01);
});

// 0.12 % of the vapour pressure, which grows by 4.7 % for a degree at 55 degC and 7 % at 0 degC: 0.026 degC.
test('dew points above freezing agree within 0.026 degC', () => {
  const off = table('air').filter(([t]) => t >= 0.5)
      .map(([t, e0, dew]) => psychrolib.GetTDewPointFromVapPres(60, e0 * 1000) - dew);
  measured('dew point against psychrolib, largest difference', largest(off).toFixed(4), 'degC');
  assert.ok(largest(off) <= 0.026);
});

test('the dew point of a saturation pressure is its temperature', () => {
  assert.ok(largest(table('air').map(([t, , dew]) => t - dew)) < 1e-9);
});

test('vapour pressure from the extremes of relative humidity agrees within 0.12 %', () => {
  const off = table('rh').map(([tmax, tmin, rhMax, rhMin, ea]) =>
    ea * 2000 / (psychrolib.GetVapPresFromRelHum(tmin, rhMax / 100) +
                 psychrolib.GetVapPresFromRelHum(tmax, rhMin / 100)) - 1);
  measured('ea of eq. 17 against psychrolib, largest difference', (100 * largest(off)).toFixed(3), '%');
  assert.ok(largest(off) <= 0.0012);
});

// Eq. 15 has an instrument's coefficient, 0.000662; that of the thermodynamic wet bulb, cp (P - e) / (0.622 L P), is 2 to 3 %
// smaller in dry air, and by the vapour's share e/P of the pressure in moist air. And 0.12 % of e0(twet) as above.
test('vapour pressure from dry and wet bulb agrees but for the coefficient of the instrument', () => {
  const rows = table('wet').filter(([, , , wet, ea]) => wet > 0 && ea > 0.01);
  const off = rows.map(([, kpa, dry, wet, ea]) => {
    const ratio = psychrolib.GetHumRatioFromTWetBulb(dry, wet, kpa * 1000);
    const difference = ea - psychrolib.GetVapPresFromHumRatio(ratio, kpa * 1000) / 1000;
    const saturated = psychrolib.GetSatVapPres(wet) / 1000;
    const allowed = (0.03 + saturated / kpa) * 0.000662 * kpa * (dry - wet) + 0.0012 * saturated;
    assert.ok(Math.abs(difference) <= allowed, `${dry} ${wet} degC, ${kpa} kPa: ${difference} kPa`);
    return difference;
  });
  assert.ok(off.length > 100);
  measured('ea of eq. 15 against psychrolib, largest difference', largest(off).toFixed(4), 'kPa');
});

// Eq. 7 has 293 K at sea level and 101.3 kPa, the standard atmosphere 288.15 K and 101.325: 0.03 % at 0 m, 0.6 % at 3000 m.
test('pressure at an elevation agrees with the standard atmosphere within 0.7 %', () => {
  const off = table('wet').map(([z, kpa]) => kpa * 1000 / psychrolib.GetStandardAtmPressure(z) - 1);
  measured('pressure of eq. 7 against the standard atmosphere, 0..3000 m', (100 * largest(off)).toFixed(2), '%');
  assert.ok(largest(off) <= 0.007);
});
