/* What a browser adds: the page when there is no line, records that wait for it, the value under a finger.
 * Everything works without; the words come with the page, on the script's own element. */
(function () {
  'use strict';
  const words = document.currentScript.dataset;
  const language = document.documentElement.lang;
  const fill = (text, holes) => text.replace(/\{(\w+)\}/g, (hole, name) => (name in holes ? holes[name] : hole));

  function say(text, kind) {
    const note = document.createElement('p');
    note.className = `problem ${kind}`;
    note.setAttribute('role', 'status');
    note.textContent = text;
    for (const old of document.querySelectorAll(`.problem.${kind}`)) old.remove();
    document.getElementById('main').prepend(note);
  }

  /* ---- the page of an earlier visit */

  function sayAge() {
    const made = new Date(document.documentElement.dataset.asOf);
    const time = new Intl.DateTimeFormat(language, { weekday: 'long', day: 'numeric', month: 'long', hour: 'numeric', minute: '2-digit' });
    say(fill(words.asOf, { time: time.format(made) }), 'as-of');
  }

  async function keepPages() {
    const { active } = await navigator.serviceWorker.ready;
    const used = performance.getEntriesByType('resource').map((entry) => entry.name).filter((name) => name.startsWith(location.origin));
    active.postMessage({ page: location.pathname, assets: used });
  }

  if (document.documentElement.dataset.asOf) sayAge();
  if ('serviceWorker' in navigator) {
    addEventListener('load', () => navigator.serviceWorker.register('/worker.js').then(keepPages).catch(() => {}));
  }

  /* ---- records that wait */

  const read = (key) => JSON.parse(localStorage.getItem(key) ?? '[]');
  const write = (key, list) => localStorage.setItem(key, JSON.stringify(list));
  const SENT_KEPT = 200;
  const PATIENCE_MS = 10000;

  function post(action, body) {
    return fetch(action, { method: 'POST', body: new URLSearchParams(body), signal: AbortSignal.timeout(PATIENCE_MS) });
  }

  function sayWaiting() {
    const waiting = read('waiting');
    for (const old of document.querySelectorAll('.problem.waiting')) old.remove();
    if (waiting.length > 0) say(fill(words.waiting, { n: waiting.length, records: waiting.map((record) => record.name).join(', ') }), 'waiting');
  }

  /* A form's token names one sending: a later one from the same page takes its place, but not once it went. */
  function wait(record) {
    if (read('sent').includes(record.token)) {
      say(words.again, 'waiting');
      return;
    }
    write('waiting', [...read('waiting').filter((other) => other.token !== record.token), record]);
    sayWaiting();
  }

  let sending = false;

  async function send() {
    if (sending) return;
    sending = true;
    const sent = [];
    try {
      for (const record of read('waiting')) {
        const answer = await post(record.action, record.body);
        if (answer.status >= 500) break;
        write('waiting', read('waiting').filter((other) => other.token !== record.token));
        write('sent', [...read('sent'), record.token].slice(-SENT_KEPT));
        if (answer.ok) sent.push(record.name);
        else say(fill(words.refused, { record: record.name }), 'refused');
      }
    } catch {
      /* Still no line: they wait on. */
    }
    sending = false;
    sayWaiting();
    if (sent.length > 0) say(fill(words.sent, { records: sent.join(', ') }), 'sent');
  }

  /* The field, and what is recorded: the button's words on a card, else the page's title. */
  function nameOf(form, button) {
    const [field, what] = form.classList.contains('done')
      ? [form.closest('article')?.querySelector('h2') ?? document.querySelector('h1'), button]
      : [document.querySelector('.farm a'), document.querySelector('h1')];
    return `${field.textContent.trim()}: ${what.textContent.trim()}`;
  }

  async function submit(form, button) {
    const body = [...new FormData(form)];
    button.disabled = true;
    try {
      const answer = await post(form.action, body);
      if (answer.ok && answer.redirected) location.assign(answer.url);
      else form.submit(); /* the same sending again: the browser shows what was wrong with it */
    } catch {
      const token = new FormData(form).get('token');
      wait({ action: form.action, body, token, name: nameOf(form, button) });
      document.querySelector('.problem.waiting')?.scrollIntoView({ block: 'nearest' });
    }
    button.disabled = false;
  }

  document.addEventListener('submit', (event) => {
    const form = event.target;
    if (form.method !== 'post' || !/^\/field\/[^/]+\/record\//.test(new URL(form.action).pathname)) return;
    event.preventDefault();
    submit(form, event.submitter ?? form.querySelector('button'));
  });
  addEventListener('online', send);
  setInterval(() => { if (read('waiting').length > 0) send(); }, 30000);
  sayWaiting();
  send();

  /* ---- the value under a finger */

  function dayOf(picture, index) {
    const date = new Date(`${picture.dataset.first}T00:00:00Z`);
    date.setUTCDate(date.getUTCDate() + index);
    return new Intl.DateTimeFormat(language, { weekday: 'short', day: 'numeric', month: 'short', timeZone: 'UTC' }).format(date);
  }

  const decimal = (text) => Number(text).toLocaleString(language, { maximumFractionDigits: 2 });

  function textOf(picture, index) {
    const values = picture.dataset.values.split(';')[index].split(',');
    const keys = picture.classList.contains('ribbon') ? ['share', 'rain', 'irrigation'] : ['depletion', 'allowed', 'rain', 'irrigation'];
    const told = keys.map((key, i) => [words[key], values[i]]).filter(([, value]) => value !== '');
    const parts = told.map(([text, value]) => fill(text, { n: decimal(value), unit: picture.dataset.unit }));
    return `${dayOf(picture, index)}: ${parts.join(', ')}`;
  }

  function watch(picture) {
    const { left, pitch, gapAt, gap } = picture.dataset;
    const count = picture.dataset.values.split(';').length;
    const shown = document.createElement('output');
    const mark = document.createElementNS('http://www.w3.org/2000/svg', 'rect');
    let index = count - 1;
    shown.className = 'under-finger';
    mark.setAttribute('class', 'finger');
    const xOf = (i) => Number(left) + i * Number(pitch) + (i >= Number(gapAt) ? Number(gap) : 0);
    function show(at) {
      index = Math.max(0, Math.min(count - 1, at));
      if (!shown.isConnected) picture.after(shown);
      if (!mark.isConnected) picture.append(mark);
      for (const [name, value] of Object.entries({ x: xOf(index), y: 0, width: Math.max(1, Number(pitch) - 1), height: picture.viewBox.baseVal.height })) mark.setAttribute(name, value);
      shown.textContent = textOf(picture, index);
    }
    function under(event) {
      const box = picture.getBoundingClientRect();
      const x = ((event.clientX - box.left) / box.width) * picture.viewBox.baseVal.width;
      let at = 0;
      while (at + 1 < count && xOf(at + 1) <= x) at++;
      show(at);
    }
    picture.addEventListener('pointerdown', under);
    picture.addEventListener('pointermove', under);
    picture.tabIndex = 0;
    picture.addEventListener('keydown', (event) => {
      const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
      if (step === undefined) return;
      event.preventDefault();
      show(index + step);
    });
  }

  document.querySelectorAll('svg[data-values]').forEach(watch);
})();
