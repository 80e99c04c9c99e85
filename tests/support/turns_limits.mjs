// Every limit of a plan of turns, held hour by hour against the farm file alone: written from the farm file's manual, not from the
// program. Hours count from midnight of the first day.

const DAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
const day = (date) => Date.parse(`${date}T00:00:00Z`) / 86400e3;
const weekday = (number) => DAYS[(((number + 3) % 7) + 7) % 7]; // day 0, 1970-01-01, was a Thursday
const M3_H = { "m3/h": 1, "gal/min": 0.003785411784 * 60, "L/s": 3.6 };
const flow = (text) => Number.parseFloat(text) * M3_H[/[a-z].*/i.exec(text)[0]];
const area = (text) => Number.parseFloat(text) * { ha: 1e4, ac: 4046.8564224, m2: 1 }[/[a-z].*/i.exec(text)[0]];
const number = (value, missing) => (value === undefined ? missing : typeof value === "number" ? value : Number.parseFloat(value));
const share = (value) => (typeof value === "string" ? Number.parseFloat(value) / 100 : value);

/** Whether a supply may run in an hour of a day (day number, 0..23). */
export function isOpen(supply, date, hour) {
  for (const { from, to } of supply.closed ?? []) if (date >= day(from) && date <= day(to)) return false;
  if (!supply.open?.length) return true;
  return supply.open.some(({ days, every, first, from, hours }) =>
    [0, 1].some((back) => {
      const begun = date - back, passed = 24 * back + hour - number(from);
      const opens = days ? days.split(/\s+/).includes(weekday(begun)) : (((begun - day(first)) % every) + every) % every === 0;
      return opens && passed >= 0 && passed < number(hours);
    }));
}

/** The hours in which a turn runs; undefined: it stops where it may not, or does not end as it says. */
function hoursOf(turn, supply, perDay, first, mayPause) {
  const hours = [];
  let today = 0, hour = turn.start_hour;
  for (; hours.length < turn.hours; hour++) {
    if (hour % 24 === 0) today = 0;
    if (hour > turn.start_hour + 1000) return undefined;
    if (isOpen(supply, first + Math.floor(hour / 24), hour % 24) && today < perDay) {
      today++;
      hours.push(hour);
    } else if (!mayPause) return undefined;
  }
  return hour === turn.end_hour ? hours : undefined;
}

/** What is wrong with the plan of a farm (as exported) and the board of `waterturn turns --json`: a list of sentences. */
export function faultsOf(farm, board) {
  const faults = [], first = day(board.first_day);
  const say = (...words) => faults.push(words.join(" "));
  for (const shown of board.supplies) {
    const supply = farm.supplies.find(({ name }) => name === shown.name);
    const perDay = Math.floor(number(supply.hours_per_day, 24) + 1e-9), most = flow(supply.flow);
    const drawn = new Map(), places = new Map();
    for (const { name, turns, kept_dry } of shown.fields) {
      const field = farm.fields.find((one) => one.name === name), { system } = field, turning = field.turns ?? {};
      const setup = number(turning.setup, 0);
      const depth = ((flow(system.flow ?? "0 m3/h") * 1000) / area(field.area)) * share(system.efficiency);
      const planned = turns.filter(({ state }) => state !== "done" && state !== "skipped");
      for (const turn of planned) {
        const where = `${name} at ${turn.start}`;
        if (turn.start_hour - setup < board.first_hour) say(where, "is set up before now");
        if (turn.end_hour > 240) say(where, "ends after the last day");
        if (Math.abs(turn.net_mm - turn.hours * depth) > 1e-9 * turn.net_mm) say(where, "has another depth than its hours leave");
        if (Math.abs(turn.gross_mm - turn.net_mm / share(system.efficiency)) > 1e-9 * turn.gross_mm) say(where, "has another gross depth");
        if (Math.abs(turn.volume_m3 - (turn.gross_mm * area(field.area)) / 1000) > 1e-6) say(where, "has another volume");
        if (system.net_min !== undefined && turn.net_mm < number(system.net_min) - 1e-9) say(where, "is too shallow");
        if (system.net_max !== undefined && turn.net_mm > number(system.net_max) + 1e-9) say(where, "is too deep");
        if (turn.hours < number(turning.shortest, 1) || turn.hours > number(turning.longest, 240)) say(where, "runs too short or too long");
        if (turning.longest === undefined && number(system.hours_per_day, 24) < perDay && turn.hours > number(system.hours_per_day)) say(where, "runs longer than the field's hours of a day");
        for (const dry of kept_dry) if (turn.start_hour < dry.end_hour && dry.start_hour < turn.end_hour) say(where, "runs while the field is kept dry");
        for (const other of planned) {
          if (other === turn) continue;
          if (turn.start_hour - setup < other.end_hour && other.start_hour - setup < turn.end_hour) say(where, "overlaps another turn of the field");
          if (!turn.pinned && !other.pinned && Math.floor(turn.start_hour / 24) === Math.floor(other.start_hour / 24)) say(where, "starts on the day of another");
        }
        const runs = hoursOf(turn, supply, perDay, first, turning.may_pause ?? false);
        if (runs === undefined) {
          say(where, "runs while the supply is closed, or does not end as it says");
          continue;
        }
        for (const hour of runs) drawn.set(hour, [...(drawn.get(hour) ?? []), flow(system.flow)]);
        for (let hour = turn.start_hour - setup; hour < turn.end_hour; hour++) places.set(hour, (places.get(hour) ?? 0) + 1);
      }
    }
    for (const [hour, flows] of drawn) if (flows.reduce((sum, one) => sum + one, 0) > most * (1 + 1e-9)) say(shown.name, "gives too much in hour", hour);
    for (const [hour, count] of places) if (count > (supply.users || 1000)) say(shown.name, "serves too many in hour", hour);
    const volume = (from, to) => [...drawn].filter(([hour]) => hour >= 24 * from && hour < 24 * (to + 1)).reduce((sum, [, flows]) => sum + flows.reduce((a, b) => a + b, 0), 0);
    for (let d = 0; d < 10; d++) {
      const run = [...drawn.keys()].filter((hour) => Math.floor(hour / 24) === d).length;
      if (run > perDay) say(shown.name, "runs too long on day", d);
      let open = 0;
      for (let hour = d === 0 ? board.first_hour : 0; hour < 24; hour++) open += isOpen(supply, first + d, hour);
      const told = shown.days[d];
      if (told && (told.hours_run !== run || told.hours_open !== Math.min(open, perDay) || told.hours_free !== told.hours_open - told.hours_run)) say(shown.name, "tells other hours of day", d, JSON.stringify(told), run, open);
    }
    const used = (from, to) => farm.records
      .filter((record) => record.kind === "irrigation" && day(record.date) >= from && day(record.date) <= to && shown.fields.some(({ name }) => name === record.field))
      .reduce((sum, record) => sum + (Number.parseFloat(record.depth) * area(farm.fields.find(({ name }) => name === record.field).area)) / 1000, 0);
    if (shown.allotment && volume(0, 9) + shown.allotment.used_m3 > Math.max(number(supply.allotment), shown.allotment.used_m3) + 1e-6) say(shown.name, "plans more than is allotted for the season");
    for (const { from, to, volume: allotted } of supply.allotments ?? []) {
      if (day(to) < first) continue;
      const before = used(day(from), first);
      if (volume(Math.max(day(from) - first, 0), day(to) - first) + before > Math.max(number(allotted), before) + 1e-6) say(shown.name, "plans more than is allotted until", to);
    }
  }
  return faults;
}
