// The service worker: the copy of the program and of the pages that opens with no signal. The server puts
// a line in front that says which build this is and which files make it whole. A build is fetched whole or
// not at all, and takes over only when no form is open and nothing is being sent.
'use strict';
importScripts(SHELL.outbox, SHELL.push);
const shell = 'shell-' + SHELL.build, PAGES = 'pages', PICTURES = 'pictures', NONE = '/no-signal';
const PATIENCE = 900; // ms that a page may keep somebody waiting who has a copy of it
const KEPT = /^\/($|round$|phone$|mix$|due$|horse\/|caution\/)/;

const ours = (answer) => !!answer.headers.get('Leground-Build');
const wait = (ms) => new Promise((done) => setTimeout(done, ms));

self.addEventListener('install', (event) => event.waitUntil((async () => {
  const answers = await Promise.all(SHELL.files.map((path) => fetch(path, { cache: 'no-cache', redirect: 'error' })));
  const strange = answers.find((a) => !a.ok || a.headers.get('Leground-Build') !== SHELL.build);
  if (strange) throw new Error('build ' + SHELL.build + ' is not whole: ' + strange.url);
  const cache = await caches.open(shell);
  await Promise.all(answers.map((a, i) => cache.put(SHELL.files[i], a)));
})().catch(async (problem) => { await caches.delete(shell); throw problem; })));

// An older build's files stay as long as a page in the copy was made with them.
self.addEventListener('activate', (event) => event.waitUntil((async () => {
  const pages = await caches.open(PAGES), wanted = new Set();
  for (const key of await pages.keys()) for (const [path] of (await (await pages.match(key)).text()).matchAll(/\/static\/[0-9a-f]+\/[\w.-]+/g)) wanted.add(path);
  for (const name of await caches.keys()) {
    if (!name.startsWith('shell-') || name === shell) continue;
    const files = (await (await caches.open(name)).keys()).map((key) => new URL(key.url).pathname);
    if (!files.some((path) => wanted.has(path) && !SHELL.files.includes(path))) await caches.delete(name);
  }
  await self.clients.claim();
})()));

self.addEventListener('fetch', (event) => {
  const request = event.request, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.mode === 'navigate') event.respondWith(request.method === 'GET' ? page(event, url) : sent(request, url));
  else if (request.method !== 'GET') return;
  else if (/^\/(static|photo)\//.test(url.pathname)) event.respondWith(file(request));
});

// file gives what is here, else what the yard sends; a file that is missing is never kept.
const file = async (request) => await caches.match(request) || fetch(request);

// page asks the yard and gives the copy when the yard is silent or slow. What then still comes renews the copy.
async function page(event, url) {
  const asks = url.pathname === '/mix' && url.search; // a mix is worked out by the yard, never shown from the copy
  const pages = await caches.open(PAGES), copy = asks ? null : await pages.match(url.pathname);
  const fresh = fetch(event.request).then(async (answer) => {
    if (answer.type !== 'opaqueredirect' && (!ours(answer) || answer.status >= 500 && copy)) throw new Error('not the page');
    if (answer.status === 200 && KEPT.test(url.pathname) && (!url.search || url.searchParams.has('saved'))) await pages.put(url.pathname, answer.clone());
    return answer;
  });
  if (!copy) return fresh.catch(() => caches.match(NONE));
  let late = false;
  event.waitUntil(fresh.then(async (answer) => {
    const client = late && answer.status === 200 && await self.clients.get(event.resultingClientId);
    if (client) client.postMessage({ fresh: url.pathname });
  }, () => {}));
  return Promise.race([fresh.catch(() => copy), wait(PATIENCE).then(() => { late = true; return copy; })]);
}

// sent passes an ordinary form on. With no signal it says that nothing was sent. A change of who is signed
// in puts the copy of the pages away; what is on its way to the yard stays.
async function sent(request, url) {
  const answer = await fetch(request).then((a) => a.type === 'opaqueredirect' || ours(a) ? a : null, () => null);
  if (!answer) return caches.match(NONE);
  if (/^\/(sign-(in|out)|link)/.test(url.pathname) && answer.type === 'opaqueredirect') await Promise.all([caches.delete(PAGES), caches.delete(PICTURES), leground.drop('note', 'filled')]);
  return answer;
}

// fill renews the copy of every page that the yard says belongs in it, and of the last photos.
const fill = () => navigator.locks.request('leground-fill', { ifAvailable: true }, async (lock) => {
  const list = lock && await fetch('/phone/pages', { redirect: 'error' });
  if (!list || !list.ok || !ours(list)) return;
  const want = await list.json(), pages = await caches.open(PAGES), pictures = await caches.open(PICTURES);
  for (const path of want.pages) {
    const answer = await fetch(path, { redirect: 'error' });
    if (answer.ok && ours(answer)) await pages.put(path, answer);
  }
  for (const path of want.pictures) {
    if (await pictures.match(path)) continue;
    const answer = await fetch(path, { redirect: 'error' });
    if (answer.ok && ours(answer)) await pictures.put(path, answer);
  }
  for (const [cache, keep] of [[pages, want.pages], [pictures, want.pictures]]) {
    for (const key of await cache.keys()) if (!keep.includes(new URL(key.url).pathname)) await cache.delete(key);
  }
  await leground.put('note', Date.now(), 'filled');
});

// takeOver makes this build the one in use, unless a form is open or something is being sent.
const takeOver = () => navigator.locks.request('leground-send', { ifAvailable: true }, (sending) => sending &&
  navigator.locks.request('leground-form', { ifAvailable: true }, async (form) => {
    if (form) await self.skipWaiting();
    return !!form;
  }));

self.addEventListener('message', (event) => {
  if (event.data === 'fill') event.waitUntil(fill().catch(() => {})); // no signal: the copy stays as it is
  if (event.data === 'take over') event.waitUntil(takeOver().then((done) => done || event.source.postMessage('busy')));
});

// A phone that wakes the worker for nothing wakes it again later.
self.addEventListener('sync', (event) => event.waitUntil(leground.send().then(async () => {
  if ([...await leground.all('record'), ...await leground.all('photo')].some((r) => r.state === 'saved')) throw new Error('not all is sent');
})));
