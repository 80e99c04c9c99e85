// The published tables in fixtures/published, as lists of objects by column name.
import {readFileSync} from 'node:fs';

const root = new URL('../../', import.meta.url);

export const text = (path) => readFileSync(new URL(path, root), 'utf8');

export function table(name) {
  const rows = [[]];
  let cell = '', quoted = false;
  for (const c of text(`fixtures/published/${name}.csv`)) {
    if (c === '"') quoted = !quoted;
    else if (c === ',' && !quoted) { rows.at(-1).push(cell); cell = ''; }
    else if (c === '\n' && !quoted) { rows.at(-1).push(cell); cell = ''; rows.push([]); }
    else if (c !== '\r') cell += c;
  }
  const [head, ...body] = rows.filter((row) => row.length > 0);
  return body.map((row) => Object.fromEntries(head.map((key, i) => [key, row[i]])));
}
