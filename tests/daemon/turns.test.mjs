// The turns of a farm through the program: every limit of a stored plan is held against the farm file by a checker of its own
// (tests/support/turns_limits.mjs), hour by hour.
import assert from "node:assert/strict";
import path from "node:path";
import { writeFileSync } from "node:fs";
import test from "node:test";
import ICAL from "ical.js";
import { DEMO_DAY, csvRows, demoFarm, demoWeather, dump, scratch, serveFiles, unwrapped, waterturn } from "../support/program.mjs";
import { faultsOf, isOpen } from "../support/turns_limits.mjs";

const ok = (done) => {
  assert.equal(done.status, 0, done.stderr);
  return done.stdout;
};

/** The demo farm without hours, prices and ways of taking turns. */
function plain(farm) {
  for (const supply of farm.supplies) for (const key of ["users", "open", "water_price", "hour_price"]) delete supply[key];
  for (const field of farm.fields) delete field.turns;
  for (const planting of farm.plantings) delete planting.yield_value;
  return farm;
}

/** The demo farm, made plain and changed, in a database: { db, farm (as exported), board() }. */
async function planned(t, change = (farm) => farm, mornings = [DEMO_DAY], base = plain) {
  const directory = scratch(t), db = path.join(directory, "farm.db"), first = path.join(directory, "first.db");
  const address = await serveFiles(t, demoWeather(directory));
  ok(waterturn("import", demoFarm(directory, address), "--db", first));
  const file = path.join(directory, "changed.json");
  writeFileSync(file, JSON.stringify(change(base(JSON.parse(ok(waterturn("export", "--db", first)))))));
  ok(waterturn("import", file, "--db", db));
  for (const day of mornings) ok(waterturn("morning", "--db", db, "--today", day));
  const board = (day = DEMO_DAY) => JSON.parse(ok(waterturn("turns", "--db", db, "--today", day, "--json")));
  const farm = () => JSON.parse(ok(waterturn("export", "--db", db)));
  return { directory, file, db, board, farm };
}

const supplyOf = (farm, name) => farm.supplies.find((supply) => supply.name === name);
const turnsOf = (board, field) => board.supplies.flatMap(({ fields }) => fields).filter(({ name }) => !field || name === field).flatMap(({ turns }) => turns);
const pausing = (farm) => {
  for (const field of farm.fields.filter(({ supply }) => supply === "Mill well")) field.turns = { setup: 1, shortest: 4, may_pause: true };
  return farm;
};

test("the checker finds what is wrong with a plan", async (t) => {
  const { board, farm } = await planned(t);
  const whole = farm(), shown = board();
  assert.deepEqual(faultsOf(whole, shown), []);
  const spoil = [
    [(b) => { turnsOf(b)[0].end_hour++; }, /does not end as it says/],
    [(b) => { turnsOf(b, "North pivot")[0].hours = 2; }, /too shallow|another depth/],
    [(b) => { turnsOf(b)[0].start_hour = 2; }, /before now/],
    [(b, f) => { supplyOf(f, "Mill well").open = [{ days: "mon", from: 3, hours: 1 }]; }, /closed/],
    [(b, f) => { supplyOf(f, "Mill well").flow = "200 m3/h"; }, /gives too much/],
    [(b, f) => { supplyOf(f, "Creek pump").users = 1; }, /serves too many/],
    [(b, f) => { supplyOf(f, "Mill well").hours_per_day = 12; }, /runs too long|does not end/],
    [(b) => { b.supplies[0].fields.find(({ turns }) => turns.length > 0).kept_dry = [{ start_hour: 0, end_hour: 240 }]; }, /kept dry/],
    [(b, f) => { supplyOf(f, "Mill well").allotments = [{ from: "2026-07-01", to: "2026-07-31", volume: "10 m3" }]; }, /more than is allotted/],
    [(b) => { b.supplies[0].days[3].hours_run++; }, /other hours/],
  ];
  for (const [change, says] of spoil) {
    const b = structuredClone(shown), f = structuredClone(whole);
    change(b, f);
    assert.match(faultsOf(f, b).join("; "), says, String(change));
  }
  // Off-peak hours of a Friday reach into Saturday.
  const nights = { open: [{ days: "fri", from: 22, hours: 8 }] }, friday = Date.parse("2026-07-17T00:00:00Z") / 86400e3;
  assert.deepEqual([isOpen(nights, friday, 21), isOpen(nights, friday, 22), isOpen(nights, friday + 1, 5), isOpen(nights, friday + 1, 6)], [false, true, true, false]);
});

const farms = {
  "the demo farm": (farm) => farm,
  "off-peak hours, one place and a set-up": (farm) => {
    const well = supplyOf(pausing(farm), "Mill well");
    well.users = 1;
    well.open = [{ days: "mon tue wed thu fri", from: 22, hours: 8 }, { days: "sat sun", from: 0, hours: 24 }];
    return farm;
  },
  "canal days, one in three, and a day off": (farm) => {
    const creek = supplyOf(farm, "Creek pump");
    creek.users = 2;
    creek.open = [{ every: 3, first: "2026-05-04", from: 6, hours: 24 }];
    creek.closed = [{ from: "2026-07-18", to: "2026-07-18" }];
    for (const field of farm.fields.filter(({ supply }) => supply === "Creek pump")) field.turns = { shortest: 2, longest: 10 };
    return farm;
  },
  "allotments that are nearly used": (farm) => {
    supplyOf(farm, "Mill well").allotment = "212000 m3";
    supplyOf(farm, "Creek pump").allotments = [{ from: "2026-07-01", to: "2026-07-17", volume: "6500 m3" }, { from: "2026-07-18", to: "2026-08-31", volume: "1200 m3" }];
    return farm;
  },
  "fields kept dry": (farm) => {
    farm.turns = [
      { field: "North pivot", kind: "kept dry", start: "2026-07-15 06:00", hours: 60, why: "spraying" },
      { field: "Long rows", kind: "kept dry", start: "2026-07-10 00:00", hours: 240, why: "harvest" },
    ];
    return pausing(farm);
  },
};

let checked = 0;
for (const [name, change] of Object.entries(farms))
  test(`every limit holds: ${name}`, async (t) => {
    const { board, farm, db, file } = await planned(t, change, [DEMO_DAY], name === "the demo farm" ? (whole) => whole : plain);
    const shown = board();
    assert.deepEqual(faultsOf(farm(), shown), []);
    const turns = turnsOf(shown);
    const hours = turns.reduce((sum, turn) => sum + turn.hours, 0);
    assert.ok(turns.length > 0 && hours >= 60, `${turns.length} turns, ${hours} h`);
    checked += hours;
    console.log(`# measured ${checked} hours of turns were held against every limit`);
    assert.equal(shown.no_plan, null);
    assert.ok(shown.cost.gap_pct >= 0 && shown.cost.gap_pct <= 100);
    // Fields that need the water most are not forgotten: this morning's "water today" gets a turn, or a limit says why not.
    for (const { fields } of shown.supplies)
      for (const field of fields.filter(({ call }) => call === "water_today"))
        assert.ok(field.turns.length > 0 || shown.limits.length > 0, field.name);
    // The same inputs give the same plan to the last byte.
    const again = path.join(path.dirname(db), "again.db");
    ok(waterturn("import", file, "--db", again));
    ok(waterturn("morning", "--db", again, "--today", DEMO_DAY));
    assert.equal(dump(again), dump(db));
  });

test("a limit that no plan can meet is named, with how much is lacking and what would cure it", async (t) => {
  const { board, farm } = await planned(t, (changed) => {
    supplyOf(changed, "Mill well").allotment = "205000 m3";
    return changed;
  });
  const shown = board();
  const short = shown.limits.filter(({ kind }) => kind === "allotment_short");
  assert.equal(short.length, 1, JSON.stringify(shown.limits));
  assert.match(short[0].sentence, /Mill well.*lacking/);
  assert.ok(short[0].cures.some((cure) => /more allotted/.test(cure)), short[0].cures.join());
  // 204860 m3 are recorded (gross depth times area, added up below): 140 m3 are left, less than an hour of any pivot.
  const drawn = farm().records.filter(({ kind, field }) => kind === "irrigation" && /pivot/.test(field))
    .reduce((sum, { field, depth }) => sum + Number.parseFloat(depth) * { "North pivot": 320, "East pivot": 260, "Ridge pivot": 180 }[field], 0);
  assert.ok(Math.abs(drawn - 204860) < 1e-6, String(drawn));
  const well = shown.supplies.find(({ name }) => name === "Mill well");
  assert.ok(Math.abs(well.allotment.used_m3 - drawn) < 1e-6);
  assert.deepEqual(well.fields.flatMap(({ turns }) => turns), []);
  assert.match(well.allotment.text, /lacking at its end/);
});

test("a pinned turn stands where it was put, and one that cannot is left out with the limit that it breaks", async (t) => {
  const pins = [
    { field: "East pivot", kind: "pinned", start: "2026-07-16 03:00", hours: 20 },
    { field: "Ridge pivot", kind: "pinned", start: "2026-07-18 08:00", hours: 12 },
  ];
  const { board, farm } = await planned(t, (changed) => {
    changed.turns = pins;
    supplyOf(changed, "Mill well").closed = [{ from: "2026-07-18", to: "2026-07-18" }];
    return pausing(changed);
  });
  const shown = board();
  const pinned = turnsOf(shown).filter((turn) => turn.pinned);
  assert.equal(pinned.length, 1);
  assert.equal(pinned[0].start, "2026-07-16T03:00");
  assert.equal(pinned[0].hours, 20);
  assert.ok(pinned[0].mark > 0);
  // 20 h at 220 m3/h on 26 ha: 20 x 220 x 1000 / 260000 = 16.9231 mm as delivered, 85 % of it net. By hand.
  assert.ok(Math.abs(pinned[0].gross_mm - 16.923076923) < 1e-6);
  assert.ok(Math.abs(pinned[0].net_mm - 14.384615385) < 1e-6);
  const [limit, ...others] = shown.limits.filter(({ kind }) => kind.startsWith("pin_"));
  assert.deepEqual(others, []);
  assert.equal(limit.kind, "pin_closed");
  assert.match(limit.sentence, /Ridge pivot.*Saturday 8:00.*Mill well is closed/);
  assert.match(limit.cures.join(), /Pin it to/);
  assert.deepEqual(faultsOf(farm(), shown), []);
});

test("prices make the plan tell its cost in money, and without them none is made up", async (t) => {
  const priced = await planned(t, (farm) => {
    farm.farm.water_price = 0.05;
    for (const planting of farm.plantings) planting.yield_value = 2000;
    Object.assign(supplyOf(farm, "Mill well"), { water_price: 0.04, hour_price: 6.5 });
    return farm;
  });
  const shown = priced.board(), { cost } = shown;
  assert.equal(cost.money, true);
  const parts = cost.loss + cost.water + cost.pumping + cost.percolation + cost.end;
  assert.ok(Math.abs(parts - cost.total) < 1e-6 * cost.total);
  // Water: the volumes of the turns times their supply's price; pumping: the well's hours times 6.5.
  const volume = (name) => shown.supplies.find((supply) => supply.name === name).fields.flatMap(({ turns }) => turns).reduce((sum, turn) => sum + turn.volume_m3, 0);
  assert.ok(Math.abs(cost.water - (0.04 * volume("Mill well") + 0.05 * volume("Creek pump"))) < 1e-6 * cost.water);
  assert.ok(Math.abs(cost.pumping - 6.5 * shown.supplies.find(({ name }) => name === "Mill well").hours_run) < 1e-9 * cost.pumping);
  assert.ok(cost.bound <= cost.total);
  assert.match(cost.sentence, /No plan can cost less|no plan costs less/);
  const { cost: plain } = (await planned(t)).board();
  assert.equal(plain.money, false);
  assert.ok(!("total" in plain) && !("loss" in plain));
  assert.match(plain.sentence, /weighed together|better/);
});

test("the next morning keeps the names of turns, and says what changed", async (t) => {
  const { db, board } = await planned(t, (farm) => farm, ["2026-07-13"]);
  const before = new Map(turnsOf(board("2026-07-13")).map((turn) => [turn.uid, turn]));
  assert.deepEqual(board("2026-07-13").changes, [], "a first plan is no news");
  ok(waterturn("morning", "--db", db, "--today", DEMO_DAY));
  const shown = board(), after = turnsOf(shown).filter(({ start_hour }) => start_hour >= 5);
  const kept = after.filter(({ uid }) => before.has(uid));
  assert.ok(kept.length > 0);
  let moved = 0;
  for (const turn of kept) {
    const old = before.get(turn.uid);
    assert.equal(turn.field, old.field);
    assert.ok(Math.abs(Date.parse(`${turn.start}Z`) - Date.parse(`${old.start}Z`)) < 72 * 3600e3, `${turn.uid} is the same turn`);
    moved += turn.start !== old.start;
  }
  const kinds = (kind) => shown.changes.filter((change) => change.kind === kind).length;
  assert.equal(kinds("moved"), moved);
  assert.equal(kinds("new"), after.filter(({ uid }) => !before.has(uid)).length);
  assert.equal(new Set(turnsOf(shown).map(({ uid }) => uid)).size, turnsOf(shown).length);
});

test("a calendar program reads the turns of a supply and of a field", async (t) => {
  const { db, board } = await planned(t, (farm) => {
    const from = "North pivot", to = "North; pivot, the \\ long one behind the grove of very old walnut trees";
    for (const list of [farm.fields, farm.plantings, farm.records]) for (const item of list) {
      if (item.field === from) item.field = to.slice(0, 60);
      if (item.name === from) item.name = to.slice(0, 60);
    }
    return farm;
  });
  const shown = turnsOf(board());
  for (const [name, mine] of [["Mill well", ({ supply }) => supply === "Mill well"], ["Long rows", ({ field }) => field === "Long rows"]]) {
    const text = ok(waterturn("turns", "--db", db, "--today", DEMO_DAY, "--ics", name));
    assert.doesNotMatch(text.replaceAll("\r\n", ""), /[\r\n]/, "lines end as RFC 5545 wants");
    for (const line of text.split("\r\n")) assert.ok(Buffer.byteLength(line) <= 75, line);
    const calendar = new ICAL.Component(ICAL.parse(text));
    const events = calendar.getAllSubcomponents("vevent").map((one) => new ICAL.Event(one));
    const turns = shown.filter(mine);
    assert.ok(turns.length > 3);
    assert.deepEqual(events.map(({ uid }) => uid).sort(), turns.map(({ uid }) => uid).sort());
    for (const event of events) {
      const turn = turns.find(({ uid }) => uid === event.uid);
      // The farm's clock in July is five hours behind UTC.
      assert.equal(event.startDate.toJSDate().getTime(), Date.parse(`${turn.start}:00-05:00`));
      assert.equal(event.endDate.toJSDate().getTime(), Date.parse(`${turn.end}:00-05:00`));
      assert.ok(event.summary.startsWith(`${turn.field}: `), event.summary);
      assert.equal(event.sequence, 0);
      assert.ok(event.component.getFirstPropertyValue("dtstamp") instanceof ICAL.Time);
    }
  }
  const nobody = waterturn("turns", "--db", db, "--today", DEMO_DAY, "--ics", "Nobody");
  assert.notEqual(nobody.status, 0);
  assert.match(nobody.stderr, /--ics: found "Nobody", expected a supply or a field/);
});

test("CSV and the terminal tell the same turns", async (t) => {
  const { db, board } = await planned(t);
  const turns = turnsOf(board());
  const rows = csvRows(ok(waterturn("turns", "--db", db, "--today", DEMO_DAY, "--csv")));
  assert.deepEqual(rows.map(({ uid }) => uid).sort(), turns.map(({ uid }) => uid).sort());
  for (const row of rows) {
    const turn = turns.find(({ uid }) => uid === row.uid);
    for (const key of ["field", "supply", "start", "end", "state"]) assert.equal(row[key], turn[key]);
    for (const key of ["hours", "net_mm", "gross_mm", "volume_m3"]) assert.equal(Number(row[key]), turn[key]);
  }
  const text = unwrapped(ok(waterturn("turns", "--db", db, "--today", DEMO_DAY)));
  for (const turn of turns) assert.ok(text.includes(`${turn.field}: ${turn.text}`), turn.text);
});

test("the call of a field says when its turn comes, and when that is after the day of the call", async (t) => {
  const { db, board } = await planned(t, undefined, [DEMO_DAY], (farm) => farm);
  const turns = turnsOf(board()).sort((a, b) => a.start_hour - b.start_hour);
  const fields = JSON.parse(ok(waterturn("call", "--db", db, "--today", DEMO_DAY, "--json"))).fields;
  const after = new Map();
  for (const { name, call, start_by, turn } of fields) {
    const next = turns.find(({ field }) => field === name);
    assert.equal(turn !== undefined && !turn.startsWith("No turn"), next !== undefined, name);
    if (next === undefined) continue;
    assert.match(turn, new RegExp(`^Turn.* ${Number(next.start.slice(11, 13))}:00, ${next.hours} h for ${Math.round(next.net_mm)}\\smm net`));
    const late = next.state === "planned" && call.startsWith("water") && next.start.slice(0, 10) > start_by;
    assert.equal(turn.includes(`after the day of the call: ${next.supply} `), late, `${name}: ${turn}`);
    after.set(name, late);
  }
  // The pivots that are dry within two days share a well that one of them keeps busy for as long.
  assert.equal(after.get("East pivot"), true);
  assert.equal(after.get("North pivot"), false);
  const text = unwrapped(ok(waterturn("call", "--db", db, "--today", DEMO_DAY)));
  for (const { turn } of fields.filter(({ turn }) => turn)) assert.ok(text.includes(`    ${turn}\n`), turn);
});

test("the call of a field that the plan gives no turn says so", async (t) => {
  const { db, board } = await planned(t, (farm) => {
    Object.assign(supplyOf(farm, "Mill well"), { allotment: undefined, allotments: [{ from: "2026-07-01", to: "2026-07-31", volume: "10 m3" }] });
    return farm;
  }, [DEMO_DAY], (farm) => farm);
  assert.equal(turnsOf(board()).filter(({ supply }) => supply === "Mill well").length, 0);
  const fields = JSON.parse(ok(waterturn("call", "--db", db, "--today", DEMO_DAY, "--json"))).fields;
  const north = fields.find(({ name }) => name === "North pivot");
  assert.match(north.call, /^water_/);
  assert.equal(north.turn, "No turn: the plan of Mill well has none for it in the days ahead");
  assert.equal(north.turn_href, "/turns");
  for (const { call, turn, supply } of fields) if (/^water_/.test(call) && supply) assert.ok(turn, "each that waits for water is told of its turn, or that it has none");
  for (const { call, turn } of fields) if (!/^water_/.test(call)) assert.doesNotMatch(turn ?? "", /^No turn/);
});

test("a farm whose fields share nothing has no turns, and is told so", async (t) => {
  const { db, board } = await planned(t, (farm) => {
    for (const field of farm.fields) delete field.supply;
    farm.supplies = [];
    return farm;
  });
  assert.match(board().no_plan, /No fields share a supply/);
  assert.match(ok(waterturn("turns", "--db", db, "--today", DEMO_DAY)), /No fields share a supply/);
  assert.equal(csvRows(ok(waterturn("turns", "--db", db, "--today", DEMO_DAY, "--csv")) + "x").length, 1, "no turn but the line of names");
});
