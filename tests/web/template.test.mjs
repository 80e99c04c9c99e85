// template.c against the npm package `mustache` on the same inputs, and against the open specification
// (mustache/spec v1.4.1: interpolation, sections, inverted, partials, delimiters, comments) by cases written by hand.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import test from 'node:test';
import mustache from 'mustache';

const tool = `${process.env.BUILD ?? 'build'}/tests/tools/render_template`;

function render(cases) {
  const run = spawnSync(tool, { input: JSON.stringify(cases), encoding: 'utf8', maxBuffer: 1 << 28 });
  assert.equal(run.status, 0, run.stderr);
  return JSON.parse(run.stdout);
}

function agree(cases) {
  const ours = render(cases);
  assert.equal(ours.length, cases.length);
  cases.forEach(({ template, view, partials }, i) => {
    let theirs;
    try {
      theirs = mustache.render(template, view, partials ?? {});
    } catch (error) {
      theirs = error;
    }
    const shown = JSON.stringify(cases[i]);
    if (theirs instanceof Error) assert.ok(ours[i].refused, `npm refuses, we print ${JSON.stringify(ours[i])}: ${shown}`);
    else assert.equal(ours[i], theirs, shown);
  });
  return ours;
}

// [template, view, expected, partials]
const specification = [
  ['Hello, {{subject}}!', { subject: 'world' }, 'Hello, world!'],
  ['no tags at all', {}, 'no tags at all'],
  ['"{{a}}" "{{b}}"', { a: 85, b: 1.21 }, '"85" "1.21"'],
  ['<{{nothing}}|{{null}}>', { null: null }, '<|>'],
  ['| {{string}} |', { string: '---' }, '| --- |'],
  ['  {{string}}\n', { string: '---' }, '  ---\n'],
  ['|{{ string }}|', { string: '---' }, '|---|'],
  ['{{{html}}} {{&html}} {{html}}', { html: '<a href="x">' }, '<a href="x"> <a href="x"> &lt;a href&#x3D;&quot;x&quot;&gt;'],
  ['{{a.b.c}}', { a: { b: { c: 'deep' } } }, 'deep'],
  ['{{a.b.c.d}}|', { a: { b: {} }, c: { d: 'no' } }, '|'],
  ['{{#a}}{{b.c}}{{/a}}|', { a: { b: {} }, b: { c: 'ERROR' } }, '|'], // a broken chain does not go outwards
  ['{{#a}}{{b}}{{/a}}', { a: { x: 1 }, b: 'outer' }, 'outer'],
  ['{{#a}}{{b}}{{/a}}', { a: { b: 'inner' }, b: 'outer' }, 'inner'],
  ['{{#list}}({{.}}){{/list}}', { list: [1, 2, 'c'] }, '(1)(2)(c)'],
  ['{{#list}}{{#.}}{{.}}{{/.}};{{/list}}', { list: [[1, 2], [3]] }, '12;3;'],
  ['{{^list}}none{{/list}}', { list: [] }, 'none'],
  ['{{#ok}}yes{{/ok}}{{^ok}}no{{/ok}}', { ok: true }, 'yes'],
  ['{{#ok}}yes{{/ok}}{{^ok}}no{{/ok}}', {}, 'no'],
  ['| This Is\n{{#boolean}}\n|\n{{/boolean}}\n| A Line', { boolean: true }, '| This Is\n|\n| A Line'],
  ['| This Is\n  {{#boolean}}\n|\n  {{/boolean}}\n| A Line', { boolean: true }, '| This Is\n|\n| A Line'],
  [' | {{#boolean}} {{! Important White Space }}\n {{/boolean}} | \n', { boolean: true }, ' |  \n  | \n'],
  ['|\r\n{{#boolean}}\r\n{{/boolean}}\r\n|', { boolean: true }, '|\r\n|'],
  ['  {{#boolean}}\n#{{/boolean}}\n/', { boolean: true }, '#\n/'],
  ['#{{#boolean}}\n/\n  {{/boolean}}', { boolean: true }, '#\n/\n'],
  ['12345{{! Comment }}67890', {}, '1234567890'],
  ['Begin.\n  {{! one\n   two }}\nEnd.', {}, 'Begin.\nEnd.'],
  ['  12 {{! 34 }}\n', {}, '  12 \n'],
  ['{{=<% %>=}}(<%text%>)', { text: 'Hey!' }, '(Hey!)'],
  ['[\n{{#s}}\n  {{data}}\n  |data|\n{{/s}}\n{{= | | =}}\n|#s|\n  {{data}}\n  |data|\n|/s|\n]', { s: true, data: 'x' },
    '[\n  x\n  |data|\n  {{data}}\n  x\n]'],
  ['"{{>text}}"', {}, '"from partial"', { text: 'from partial' }],
  ['"{{>text}}"', {}, '""'],
  ['{{>node}}', { content: 'X', nodes: [{ content: 'Y', nodes: [] }] }, 'X<Y<>>', { node: '{{content}}<{{#nodes}}{{>node}}{{/nodes}}>' }],
  ['  {{data}}  {{> partial}}\n', { data: '|' }, '  |  >\n>\n', { partial: '>\n>' }],
  ['\\\n {{>partial}}\n/\n', { content: '<\n->' }, '\\\n |\n <\n->\n |\n/\n', { partial: '|\n{{{content}}}\n|\n' }],
  ['>\n  {{>partial}}', {}, '>\n  >\n  >', { partial: '>\n>' }],
  ['|\r\n{{>partial}}\r\n|', {}, '|\r\n>|', { partial: '>' }],
];

test('the_cases_of_the_specification_come_out_as_it_says', () => {
  const results = render(specification.map(([template, view, , partials]) => ({ template, view, partials })));
  specification.forEach(([template, , expected], i) => assert.equal(results[i], expected, template));
});

const hostile = ['<script>alert(1)</script>', '"><img src=x onerror=alert(1)>', "' onclick='x", '{{raw}}', '{{{raw}}}',
  '&amp;', '`=/', '</textarea>', 'Ж𝄞日本', '\u0001\u007f', '\\u003c', '\u202Eabc', '{{/a}}', '=}}', 'a\nb\r\n\tc', "''''////"];

test('every_hostile_string_is_escaped_as_npm_mustache_does', () => {
  const results = agree(hostile.map((s) => ({ template: '<p title="{{s}}" {{t.u}}>{{#list}}{{.}},{{/list}}</p>', view: { s, t: { u: s }, list: [s, s] } })));
  for (const result of results) assert.equal(result.replaceAll(/<p title="|" |>|<\/p>/g, '').search(/[<"'`=]/), -1, result);
});

test('every_ascii_character_is_escaped_or_kept_as_npm_mustache_does', () => {
  agree([{ template: '{{s}}|{{{s}}}', view: { s: Array.from({ length: 127 }, (_, i) => String.fromCharCode(i + 1)).join('') } }]);
});

test('numbers_print_as_ecmascript_prints_them', () => {
  const numbers = [0, -0, 1, -1, 0.1, -2.5, 1e21, 1e20, 123456789012345680000, 1e-6, 1e-7, 1.5e-7, 5e-324, 2 ** 53, 1 / 3,
    1.7976931348623157e308, 0.30000000000000004, 100, 12e4, 4.35, 0.000123, 1e22, 1.234e25];
  let seed = 7;
  const next = () => (seed = (seed * 48271) % 2147483647) / 2147483647;
  for (let i = 0; i < 2000; i++) numbers.push((next() - 0.5) * 10 ** Math.floor(next() * 60 - 30));
  agree([{ template: '{{#n}}{{.}} {{/n}}|{{n}}', view: { n: numbers } }]);
});

test('a_malformed_template_is_refused_with_its_line', () => {
  const malformed = ['{{#a}}', 'x\n{{#a}}\n{{/b}}', '{{/a}}', '{{a', '{{{a}}', '{{=x}}', '{{=a b c', '{{#a}}{{#b}}{{/a}}{{/b}}'];
  const results = agree(malformed.map((template) => ({ template, view: { a: 1, b: 1 } })));
  assert.match(results[1].refused, /^case:3: /);
});

test('partials_without_end_are_refused_and_do_not_crash', () => {
  const [first, second] = render([
    { template: '{{>a}}', view: {}, partials: { a: 'x{{>a}}' } },
    { template: '{{#a}}'.repeat(65) + '{{/a}}'.repeat(65), view: { a: true } },
  ]);
  assert.match(first.refused, /nest/);
  assert.match(second.refused, /nest/);
});

// Generated templates. Dotted names begin with keys that only the root has: where an inner context has a part of the
// chain the specification and the package differ (see template.h), and the specification is followed.
function generator(seed) {
  let state = seed;
  const next = (n) => (state = (state * 48271) % 2147483647) % n;
  const pick = (list) => list[next(list.length)];
  const keys = ['a', 'b', 'c', 'd'];
  const scalar = () => pick([0, 1, -3.75, '', 'text', '<b>&"\'/`=', true, false, null, 'x\ny', '{{a}}', ' ', 'é']);
  const value = (depth) => {
    const kind = depth > 2 ? 0 : next(6);
    if (kind === 4) return Array.from({ length: next(4) }, () => { const v = value(depth + 1); return v === null ? 0 : v; });
    if (kind === 5) return object(depth + 1);
    return scalar();
  };
  const object = (depth) => Object.fromEntries(keys.filter(() => next(3) > 0).map((k) => [k, value(depth)]));
  const name = () => pick([...keys, ...keys, '.', 'root.a', 'root.b.c', 'root.d']);
  const blank = () => pick(['', '', ' ', '  ', '\t']);
  const text = () => pick(['', '', ' ', '\n', '\n', '\r\n', 'x', '<p>', ' y ', '\n\n', '{ ', '}}', '  ']);
  const piece = (depth) => {
    const n = name();
    const kind = depth > 3 ? next(5) : next(9);
    if (kind === 0) return text();
    if (kind === 1) return `{{${blank()}${n}${blank()}}}`;
    if (kind === 2) return `{{{${blank()}${n}}}}`;
    if (kind === 3) return `{{&${n}}}`;
    if (kind === 4) return `{{! ${pick(['x', 'a\nb', '#'])} }}`;
    if (kind === 5) return `\n${blank()}{{>${pick(['p', 'q', 'none'])}}}\n`;
    if (kind === 6) return `${pick(['\n', ''])}{{^${n}}}${body(depth + 1)}{{/${n}}}${pick(['\n', ''])}`;
    return `${pick(['\n', ''])}${blank()}{{#${n}}}${pick(['\n', ''])}${body(depth + 1)}{{/${n}}}${blank()}${pick(['\n', ''])}`;
  };
  const body = (depth) => Array.from({ length: 1 + next(5) }, () => text() + piece(depth) + text()).join('');
  return () => ({
    template: body(0),
    view: { ...object(0), root: object(0) },
    partials: { p: `[{{a}}]\n{{#b}}\n  {{.}}\n{{/b}}`, q: 'one\n\ntwo\n' },
  });
}

test('three_thousand_generated_templates_print_as_npm_mustache_prints_them', () => {
  const make = generator(20260605);
  const cases = Array.from({ length: 3000 }, make);
  const results = agree(cases);
  const printed = results.filter((r) => typeof r === 'string' && r.length > 0).length;
  assert.ok(printed > 2500, `only ${printed} printed anything`);
});
