// What this phone keeps: records on their way to the yard, their photos, and forms that are half filled
// in. Pages and the service worker share this file. Everything is written here before a page says that it
// is saved, and a record is done with only when the yard has answered with its id and the hash of its
// content: whatever else answers (a sign-in page of a Wi-Fi, a proxy, nothing at all) changes nothing.
'use strict';
self.leground = (() => {
  const DAY = 864e5, KEPT = 30 * DAY; // how long what was sent stays readable
  const SESSION = performance.timeOrigin; // within it performance.now() is one clock that nobody can set
  const watchers = [], channel = self.BroadcastChannel && new BroadcastChannel('leground');
  let opening, waiting;

  const tell = () => { watchers.forEach((f) => f()); channel && channel.postMessage(0); };
  if (channel) channel.onmessage = () => watchers.forEach((f) => f());

  const open = () => opening ||= new Promise((done, fail) => {
    const ask = indexedDB.open('leground', 1);
    ask.onupgradeneeded = () => {
      const db = ask.result;
      for (const name of ['record', 'photo', 'draft']) db.createObjectStore(name, { keyPath: 'id' });
      for (const name of ['bytes', 'note']) db.createObjectStore(name);
    };
    ask.onerror = () => { opening = null; fail(ask.error); };
    ask.onsuccess = () => {
      const db = ask.result;
      db.onclose = db.onversionchange = () => { db.close(); opening = null; };
      done(db);
    };
  });

  // act runs one transaction and resolves with the result of the request that work returns, once the
  // phone has everything on its disk.
  async function act(stores, mode, work) {
    const db = await open();
    return new Promise((done, fail) => {
      let tx, ask;
      try {
        tx = db.transaction(stores, mode, { durability: 'strict' });
        ask = work((name) => tx.objectStore(name));
      } catch (problem) { fail(problem); return; }
      tx.oncomplete = () => done(ask && ask.result);
      tx.onabort = () => fail(tx.error || new Error('not kept'));
    });
  }
  const get = (store, key) => act([store], 'readonly', (s) => s(store).get(key));
  const all = (store) => act([store], 'readonly', (s) => s(store).getAll());
  const put = (store, value, key) => act([store], 'readwrite', (s) => s(store).put(value, key));
  const drop = (store, key) => act([store], 'readwrite', (s) => s(store).delete(key));

  // change writes new fields into what is kept under an id; what is not there any more stays away.
  const change = (store, id, fields) => act([store], 'readwrite', (s) => {
    const ask = s(store).get(id);
    ask.onsuccess = () => ask.result && s(store).put(Object.assign(ask.result, fields));
  });

  const hex = (bytes) => Array.from(new Uint8Array(bytes), (b) => b.toString(16).padStart(2, '0')).join('');
  const sha = async (bytes) => hex(await crypto.subtle.digest('SHA-256', bytes));

  // hash is the one that the yard works out: names in order, each value after its name.
  const hash = (fields) => sha(new TextEncoder().encode(fields.slice().sort((a, b) => (a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : 0))
    .map(([name, value]) => name + '\x1f' + value.replace(/\r\n/g, '\n') + '\x1e').join('')));

  // newId makes a UUID of version 7.
  function newId() {
    const b = crypto.getRandomValues(new Uint8Array(16));
    for (let i = 0, t = Date.now(); i < 6; i++) b[i] = Math.floor(t / 2 ** (40 - 8 * i));
    b[6] = b[6] & 15 | 112;
    b[8] = b[8] & 63 | 128;
    return hex(b).replace(/^(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
  }

  // stamp writes an instant of this phone's clock with its offset from UTC and milliseconds.
  function stamp(date) {
    const off = -date.getTimezoneOffset(), pad = (n) => String(Math.abs(n)).padStart(2, '0');
    return new Date(date.getTime() + off * 6e4).toISOString().slice(0, -1) + (off < 0 ? '-' : '+') + pad(Math.trunc(off / 60)) + ':' + pad(off % 60);
  }

  // save keeps a post as it stands, in place of the form that was half filled in. A record id that is taken already gets a fresh one: two looks are two records.
  async function save(record, photo, draft) {
    const fields = record.fields;
    Object.assign(record, { state: 'saved', saved: Date.now(), age: performance.now(), session: SESSION, tries: 0 });
    for (;;) {
      record.hash = await hash(fields);
      try {
        await act(['record', 'photo', 'draft'], 'readwrite', (s) => {
          s('record').add(record);
          if (draft) s('draft').delete(draft);
          if (photo) s('photo').put(Object.assign(photo, { of: record.id, yard: record.yard, person: record.person, name: record.name, state: 'saved', saved: record.saved, tries: 0 }));
        });
        break;
      } catch (problem) {
        if (problem.name === 'QuotaExceededError' && await makeRoom()) continue;
        if (problem.name !== 'ConstraintError') throw problem;
        record.id = newId();
        fields.forEach((f) => { if (f[0] === 'record') f[1] = record.id; });
      }
    }
    tell();
    return record;
  }

  // keepPhoto writes a photo's bytes; it tells whether they fit.
  async function keepPhoto(id, bytes) {
    for (;;) {
      try {
        await put('bytes', bytes, id);
        return true;
      } catch (problem) {
        if (problem.name !== 'QuotaExceededError') throw problem;
        if (!await makeRoom()) return false;
      }
    }
  }

  // makeRoom drops the photos that the yard has, then the records that it has; it tells whether there were any.
  async function makeRoom() {
    const photos = (await all('photo')).filter((p) => p.state === 'sent');
    if (photos.length) {
      await act(['photo', 'bytes'], 'readwrite', (s) => photos.forEach((p) => { s('photo').delete(p.id); s('bytes').delete(p.id); }));
      return true;
    }
    const old = (await all('record')).filter((r) => r.state === 'sent');
    await act(['record'], 'readwrite', (s) => old.forEach((r) => s('record').delete(r.id)));
    return old.length > 0;
  }

  async function forgetOld() {
    const past = Date.now() - KEPT, done = (r) => (r.state === 'sent' || r.state === 'away') && r.sent < past;
    const photos = (await all('photo')).filter(done), records = (await all('record')).filter(done);
    if (photos.length + records.length) await act(['record', 'photo', 'bytes'], 'readwrite', (s) => {
      photos.forEach((p) => { s('photo').delete(p.id); s('bytes').delete(p.id); });
      records.forEach((r) => s('record').delete(r.id));
    });
  }

  // post sends one thing. It gives the yard's answer, or null when it was not the yard that answered.
  async function post(path, body, of, wait) {
    const stop = new AbortController(), timer = setTimeout(() => stop.abort(), wait);
    const headers = { Accept: 'application/json', 'Leground-As': of.yard + '/' + of.person, 'Leground-Sent': stamp(new Date()) };
    if (of.session === SESSION) headers['Leground-Age'] = String(Math.round(performance.now() - of.age));
    try {
      const answer = await fetch(path, { method: 'POST', body, headers, redirect: 'manual', signal: stop.signal });
      if (answer.status === 413) return { status: 413, message: 'Something on the way to the yard takes only smaller posts.' };
      if (!answer.headers.get('Leground-Build') || !/json/.test(answer.headers.get('Content-Type'))) return null;
      return Object.assign(await answer.json(), { status: answer.status });
    } catch (problem) {
      return null;
    } finally { clearTimeout(timer); }
  }

  // send sends what is waiting, one sender at a time on this phone: records first, then photos.
  const send = () => waiting ||= (async () => {
    const run = () => { waiting = null; return sendAll(); };
    try {
      await (navigator.locks ? navigator.locks.request('leground-send', run) : run());
    } catch (problem) {
      waiting = null;
      console.error(problem);
    }
  })();

  async function sendAll() {
    const shut = new Set(); // people who have to sign in first
    const due = async (store) => (await all(store)).filter((x) => x.state === 'saved').sort((a, b) => a.saved - b.saved);
    for (const r of await due('record')) {
      const first = r.after && await get('record', r.after);
      if (first && first.state === 'saved') continue;
      if (first && first.state !== 'sent') { // what it takes back is in no book
        await change('record', first.id, { state: 'away', sent: Date.now() });
        await change('record', r.id, { state: 'away', sent: Date.now() });
        continue;
      }
      if (!shut.has(r.person) && !await settle('record', r, r.hash, shut, await post(r.path, new URLSearchParams(r.fields), r, 15e3))) return tell();
    }
    for (const p of await due('photo')) {
      const of = await get('record', p.of);
      if (shut.has(p.person) || of && of.state !== 'sent') continue;
      if (!await sendPhoto(p, shut)) return tell();
    }
    await forgetOld();
    tell();
  }

  async function sendPhoto(p, shut) {
    const bytes = await get('bytes', p.id), body = new FormData();
    if (!bytes) { await change('photo', p.id, { state: 'look', problem: 'The photo is not on this phone any more.' }); return true; }
    body.append('photo_id', p.id);
    body.append('of', p.of);
    body.append('photo', new Blob([bytes], { type: 'image/jpeg' }), 'photo.jpg');
    const answer = await post('/photos', body, p, 12e4);
    if (answer && answer.status === 413 && bytes.byteLength > 4e4) { // too large for something on the way
      const small = await shrink(new Blob([bytes], { type: 'image/jpeg' }), 1600, bytes.byteLength / 2);
      const less = await small.arrayBuffer();
      await keepPhoto(p.id, less);
      Object.assign(p, { length: less.byteLength, sha256: await sha(less) });
      await change('photo', p.id, { length: p.length, sha256: p.sha256 });
      return sendPhoto(p, shut);
    }
    return settle('photo', p, p.sha256, shut, answer);
  }

  // settle notes what an answer means; false stops the sending for now.
  async function settle(store, it, hash, shut, answer) {
    if (!answer) return false;
    const now = Date.now(), { status } = answer;
    await put('note', now, 'heard');
    if (status === 200 && answer.record === it.id && answer.hash === hash) {
      const { at, cautions, also, twice, compare, clock_off_seconds: off } = answer;
      await change(store, it.id, { state: 'sent', sent: now, answer: { at, cautions, also, twice, compare, off } });
    } else if (status === 401) {
      shut.add(it.person);
      await change(store, it.id, { shut: now });
      return true;
    } else if (status === 429 || status === 503) {
      return false;
    } else if (status >= 500) {
      await change(store, it.id, { tries: it.tries + 1 });
    } else {
      const words = status === 200 ? 'The yard has other answers under this number.' : answer.message || 'The yard did not take it.';
      await change(store, it.id, { state: 'look', status, problem: words, fieldWords: (answer.fields || []).map((f) => f.Problem) });
    }
    tell();
    return true;
  }

  // shrink makes a photo upright, at most edge pixels long and most bytes large, without anything that
  // the camera wrote beside the picture.
  async function shrink(file, edge = 1600, most = 350 * 1024) {
    const picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
    const scale = Math.min(1, edge / Math.max(picture.width, picture.height));
    const width = Math.max(1, Math.round(picture.width * scale)), height = Math.max(1, Math.round(picture.height * scale));
    const canvas = self.OffscreenCanvas ? new OffscreenCanvas(width, height) : Object.assign(document.createElement('canvas'), { width, height });
    const ink = canvas.getContext('2d');
    ink.imageSmoothingQuality = 'high';
    ink.drawImage(picture, 0, 0, width, height);
    picture.close();
    for (const quality of [0.86, 0.75, 0.62, 0.48]) {
      const type = 'image/jpeg';
      const blob = canvas.convertToBlob ? await canvas.convertToBlob({ type, quality }) : await new Promise((done) => canvas.toBlob(done, type, quality));
      if (blob.size <= most) return blob;
    }
    return shrink(file, Math.round(Math.max(width, height) * 0.75), most);
  }

  // aside shrinks a photo in a thread of its own, so that the page answers meanwhile.
  const aside = (file) => new Promise((done, fail) => {
    const hand = new Worker(document.querySelector('script[src$="/outbox.js"]').src);
    hand.onmessage = ({ data }) => { hand.terminate(); data ? done(data) : fail(new Error('not a photo')); };
    hand.onerror = (problem) => { hand.terminate(); fail(problem); };
    hand.postMessage(file);
  });
  if (self.DedicatedWorkerGlobalScope) self.onmessage = ({ data }) => shrink(data).then((b) => b, () => null).then((b) => self.postMessage(b));

  return { aside: self.Worker && self.OffscreenCanvas ? aside : shrink, act, all, get, put, drop, change, save, keepPhoto, send, sha, hash, newId, stamp, shrink, tell, watch: (f) => watchers.push(f) };
})();
