/* Keeps what was seen for when there is no line. Pages come from the network as long as it answers; what has
 * a version in its link never changes. */
'use strict';
const PAGES = 'pages-1';
const ASSETS = 'assets-1';
const PATIENCE_MS = 8000;
/* What varies with language and units is kept as it was seen last. */
const ANY = { ignoreVary: true };

self.addEventListener('install', () => self.skipWaiting());

self.addEventListener('activate', (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name !== PAGES && name !== ASSETS) await caches.delete(name);
    await self.clients.claim();
  })());
});

const isPage = (response) => response.ok && (response.headers.get('content-type') ?? '').startsWith('text/html');

/* What a page that came before this worker has used: out of the browser's own store, not over the line. */
self.addEventListener('message', (event) => {
  const { page, assets } = event.data;
  event.waitUntil((async () => {
    const pages = await caches.open(PAGES), kept = await caches.open(ASSETS);
    if (!await pages.match(page, ANY)) {
      const response = await fetch(page, { cache: 'force-cache' });
      if (isPage(response)) await pages.put(page, response);
    }
    for (const asset of assets.filter((link) => new URL(link).searchParams.has('v'))) {
      if (await kept.match(asset, ANY)) continue;
      const response = await fetch(asset, { cache: 'force-cache' });
      if (response.ok) await kept.put(asset, response);
    }
  })().catch(() => {}));
});

/* A page of before, marked with the time at which it was made. */
async function aged(response) {
  const headers = new Headers(response.headers);
  headers.delete('content-encoding');
  headers.delete('content-length');
  const html = await response.text();
  const marked = html.replace('<html ', `<html data-as-of="${new Date(headers.get('date')).toISOString()}" `);
  return new Response(marked, { status: 200, headers });
}

async function page(request) {
  const pages = await caches.open(PAGES), { pathname } = new URL(request.url);
  try {
    /* A request to navigate cannot be copied with a time limit: it is made anew. */
    const response = await fetch(request.url, { redirect: 'manual', credentials: 'same-origin', signal: AbortSignal.timeout(PATIENCE_MS) });
    /* Of a page in parts the first is kept. */
    if (isPage(response) && !new URL(request.url).searchParams.has('from')) await pages.put(pathname, response.clone());
    return response;
  } catch (error) {
    const before = await pages.match(pathname, ANY) ?? await pages.match('/', ANY);
    if (before) return aged(before);
    throw error;
  }
}

async function asset(request) {
  const kept = await caches.open(ASSETS);
  const before = await kept.match(request, ANY);
  if (before) return before;
  const response = await fetch(request);
  if (response.ok) {
    /* Those of an older version are of no more use. */
    const { pathname } = new URL(request.url);
    for (const old of await kept.keys()) if (new URL(old.url).pathname === pathname) await kept.delete(old, ANY);
    await kept.put(request, response.clone());
  }
  return response;
}

self.addEventListener('fetch', (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin) return;
  if (request.mode === 'navigate' && !url.pathname.endsWith('.csv')) event.respondWith(page(request));
  else if (url.searchParams.has('v')) event.respondWith(asset(request));
});
