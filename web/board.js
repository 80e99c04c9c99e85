/* What a browser adds to the board of turns: a turn is moved by arrow keys or by dragging it, and kept there by the
 * very form that its page has. Everything works without. */
(function () {
  'use strict';
  const main = document.getElementById('main');
  const words = main.dataset;
  const language = document.documentElement.lang;
  const fill = (text, holes) => text.replace(/\{(\w+)\}/g, (hole, name) => (name in holes ? holes[name] : hole));
  const DRAG_STARTS = 5; /* pixels; less is a tap */
  let moved = null;

  document.documentElement.classList.add('scripted');

  function bar() {
    const box = document.createElement('div');
    const text = document.createElement('p');
    box.className = 'moved';
    text.setAttribute('role', 'status');
    box.append(text);
    for (const [label, act] of [[words.keep, keep], [words.back, putBack]]) {
      const button = document.createElement('button');
      button.type = 'button';
      button.className = act === keep ? 'button main' : 'button';
      button.textContent = label;
      button.addEventListener('click', act);
      box.append(button);
    }
    main.append(box);
    return box;
  }

  function place(turn, start) {
    const hour = ((start % 24) + 24) % 24;
    turn.block.setAttribute('x', `${(100 * start) / turn.all}%`);
    turn.label.textContent = `${hour}:00`;
    turn.start = start;
  }

  function dayOf(turn) {
    const date = new Date(`${turn.strip.dataset.first}T00:00:00Z`);
    date.setUTCDate(date.getUTCDate() + Math.floor(turn.start / 24));
    return date;
  }

  function say(turn) {
    const day = new Intl.DateTimeFormat(language === 'en' ? 'en-GB' : language, { weekday: 'long', day: 'numeric', month: 'long', timeZone: 'UTC' }).format(dayOf(turn));
    const when = `${day} ${turn.start % 24}:00`;
    turn.bar.querySelector('p').textContent = fill(words.moved, { field: turn.strip.getAttribute('aria-label'), when, hours: fill(words.hour, { n: turn.link.dataset.hours }) });
  }

  /* The turn that a move is about; one at a time. */
  function take(link) {
    if (moved?.link === link) return moved;
    if (moved) putBack();
    const strip = link.closest('.strip'), block = link.querySelector('svg');
    moved = { link, strip, block, label: block.querySelector('text'), all: Number(strip.dataset.hours), from: Number(link.dataset.start), start: Number(link.dataset.start), bar: bar() };
    link.classList.add('moving');
    strip.append(link);
    link.focus({ preventScroll: true });
    return moved;
  }

  function moveTo(link, start) {
    const turn = take(link);
    const first = Number(turn.strip.dataset.firstHour);
    place(turn, Math.max(first, Math.min(turn.all - 1, start)));
    say(turn);
  }

  function putBack() {
    if (!moved) return;
    const turn = moved;
    moved = null;
    place(turn, turn.from);
    turn.link.classList.remove('moving');
    turn.bar.remove();
  }

  /* Fetches the form that moves the turn, fills it in, and sends it. */
  async function keep() {
    if (!moved || moved.start === moved.from) return putBack();
    const turn = moved;
    const address = `${turn.link.getAttribute('href')}/move`;
    for (const button of turn.bar.querySelectorAll('button')) button.disabled = true;
    try {
      const page = new DOMParser().parseFromString(await (await fetch(address)).text(), 'text/html');
      const body = new URLSearchParams(new FormData(page.querySelector('form')));
      body.set('date', dayOf(turn).toISOString().slice(0, 10));
      body.set('hour', String(turn.start % 24));
      const answer = await fetch(address, { method: 'POST', body });
      if (answer.ok) {
        history.replaceState(null, '', answer.url);
        location.reload();
        return;
      }
      const told = new DOMParser().parseFromString(await answer.text(), 'text/html');
      turn.bar.querySelector('p').textContent = [...told.querySelectorAll('.error, .wrong')].map((line) => line.textContent).join(' ');
    } catch {
      turn.bar.querySelector('p').textContent = words.noLine;
    }
    for (const button of turn.bar.querySelectorAll('button')) button.disabled = false;
  }

  function onKey(event) {
    const link = event.currentTarget;
    const step = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -24, ArrowDown: 24 }[event.key];
    const own = moved?.link === link;
    if (step !== undefined) moveTo(link, (own ? moved.start : Number(link.dataset.start)) + step);
    else if (event.key === 'Enter' && own) keep();
    else if (event.key === 'Escape' && own) putBack();
    else return;
    event.preventDefault();
  }

  /* A drag ends in a click on the link, which is then not meant. */
  function drag(link) {
    let from = null, dragged = false;
    link.addEventListener('pointerdown', (event) => {
      if (event.button !== 0) return;
      dragged = false;
      from = { x: event.clientX, start: moved?.link === link ? moved.start : Number(link.dataset.start), hour: link.closest('.strip').getBoundingClientRect().width / Number(link.closest('.strip').dataset.hours) };
    });
    addEventListener('pointermove', (event) => {
      if (!from || (!dragged && Math.abs(event.clientX - from.x) < DRAG_STARTS)) return;
      dragged = true;
      moveTo(link, from.start + Math.round((event.clientX - from.x) / from.hour));
    });
    addEventListener('pointerup', () => { from = null; });
    addEventListener('pointercancel', () => {
      if (from && dragged) putBack();
      from = null;
    });
    link.addEventListener('click', (event) => {
      if (dragged) event.preventDefault();
      dragged = false;
    });
    link.addEventListener('dragstart', (event) => event.preventDefault());
    link.addEventListener('keydown', onKey);
  }

  document.querySelectorAll('.turn[data-start]').forEach(drag);
})();
