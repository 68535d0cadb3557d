// On every page: the line that says what this phone holds, the sending of it, the copy of the pages that
// opens with no signal, and the change to a newer version when nobody is in the middle of something.
'use strict';
(() => {
  const L = self.leground, root = document.documentElement, now = root.dataset;
  const $ = (id) => document.getElementById(id);
  root.classList.add('scripted');
  const safe = self.isSecureContext && 'indexedDB' in self;
  L.ready = safe && !!now.person;
  L.count = (n, one, many) => n + ' ' + (n === 1 ? one : many || one + 's');
  L.el = (tag, fields, ...inside) => { const e = Object.assign(document.createElement(tag), fields); e.append(...inside.filter(Boolean)); return e; };
  L.words = { todo: 'To do', saved: 'Saved on this phone', sent: 'Sent to the yard', look: 'Needs a look', skipped: 'Not looked at', away: 'Put away' };
  L.clock = (at) => new Date(at).toTimeString().slice(0, 5);

  // The page was made at an instant of the yard's clock; after today's end its day stands beside the time.
  function asOf() {
    if (!now.asOf) return '';
    const made = new Date(now.at), today = new Date().toDateString() === made.toDateString();
    return 'As of ' + (today ? now.asOf.split(', ')[1] : now.asOf) + '.';
  }

  // waiting says in words what has not been sent, or nothing.
  L.waiting = (records, photos) => {
    const kept = records.filter((r) => r.state === 'saved');
    const looks = kept.filter((r) => r.reading).length, parts = [];
    if (looks) parts.push(L.count(looks, 'reading'));
    if (kept.length > looks) parts.push(L.count(kept.length - looks, looks ? 'other form' : 'form'));
    const pictures = photos.filter((p) => p.state === 'saved').length;
    if (pictures) parts.push(L.count(pictures, 'photo'));
    return parts.join(', ');
  };

  // square gives the drawing of a state, which the page holds.
  L.square = (state) => $('squares').content.querySelector('[data-state="' + state + '"]').firstElementChild.cloneNode(true);
  L.state = (state) => L.el('p', { className: 'state' }, L.square(state), ' ' + L.words[state]);

  // keep writes a form's post to the phone; its page says what it is about, for rows and cards to find it by.
  L.keep = (form, fields, more, photo, draft) => L.save({ id: fields.find((f) => f[0] === 'record')[1], yard: now.yard, person: now.person, name: now.name, path: new URL(form.action).pathname,
    fields: fields.concat([['at', L.stamp(new Date())]]), build: now.build, about: form.dataset.about, words: form.dataset.tag, ...more }, photo, draft);

  // rows shows on the Due list what this phone keeps of it, with the way back. What the yard has stands on the
  // page itself, unless the page is older than the sending.
  const back = (r) => L.el('button', { type: 'button', onclick: () => L.keep(L.el('form', { action: '/due/undo' }), [['record', L.newId()], ['of', r.id]], { about: r.about, words: r.words, said: 'Taken back', after: r.id }).then(sendNow) }, 'Undo');
  function rows(records) {
    for (const row of document.querySelectorAll('.due-row[data-about]')) {
      const ids = [...row.querySelectorAll('[name=record]')].map((e) => e.value);
      const r = records.findLast((r) => r.about === row.dataset.about && r.state !== 'away' && (r.state !== 'sent' || ids.includes(r.after || r.id)));
      const own = r && !r.after, here = row.querySelector('.kept'), mark = own ? r.id + r.state : '';
      if (here.dataset.mark === mark) continue; // a button that is being pressed stays
      here.dataset.mark = mark;
      row.firstElementChild.hidden = row.lastElementChild.hidden = own;
      here.replaceChildren(...own ? [L.state(r.state), r.path === '/due/tick' && back(r)].filter(Boolean) : []);
    }
  }
  document.addEventListener('submit', async (event) => {
    const form = event.target, row = form.closest('.due-row');
    if (!row || !L.ready) return;
    event.preventDefault();
    Object.assign(form.dataset, row.dataset);
    try {
      const kept = await L.keep(form, [...new FormData(form)], { said: form.elements.why ? 'Not done: ' + form.elements.why.value : 'Done' });
      form.elements.record.value = kept.id;
      sendNow();
    } catch { form.submit(); } // this phone keeps nothing: as with scripts off
  });

  let beforeText;
  async function line() {
    const [records, photos] = await Promise.all([L.all('record'), L.all('photo')]);
    rows(records.sort((a, b) => a.saved - b.saved));
    const words = L.waiting(records, photos), look = records.concat(photos).filter((r) => r.state === 'look').length;
    const kept = records.concat(photos).filter((r) => r.state === 'saved'), shut = kept.some((r) => r.shut);
    const names = [...new Set(kept.map((r) => r.name))];
    const status = $('status'), text = status && status.querySelector('span');
    if (text) {
      beforeText ||= { words: text.textContent.replace(/\.? ?As of .*/, '').trim(), square: status.querySelector('svg') };
      let { words: say, square } = L.saying || beforeText, more = '';
      const away = names.filter((name) => name !== now.name || shut);
      if (words) [say, square] = [words + ' saved on this phone', L.square('saved')];
      if (words && away.length) say += '. Sign in as ' + away.join(' or ') + ' to send it';
      if (look) [more, square] = [L.count(look, 'form needs', 'forms need') + ' a look. ', L.square('look')];
      const part = more + say, link = words || look ? L.el('a', { href: '/phone' }, part) : part;
      const age = (part && '. ') + asOf();
      if (text.textContent !== part + age || !!text.querySelector('a') !== (link !== part)) text.replaceChildren(link, age);
      if (status.querySelector('svg').outerHTML !== square.outerHTML) status.querySelector('svg').replaceWith(square.cloneNode(true));
    }
    if ($('unsent')) {
      $('unsent').hidden = !words;
      $('unsent').textContent = 'This phone holds ' + words + ' of ' + names.join(' and ') + ', not sent yet. Nothing of it is lost: it goes when the same person signs in.';
    }
    return words;
  }

  async function sendNow() {
    await L.send();
    const left = await line();
    if (left && worker && worker.sync) worker.sync.register('leground').catch(() => {}); // not every phone lets a page ask for it
    if (!left) fill();
  }
  L.sendNow = sendNow;

  // fill asks the worker to renew its copy of the pages: every ten minutes, sooner when the yard took something.
  let worker;
  async function fill() {
    if (!worker || !worker.active || !now.person) return;
    const last = await L.get('note', 'filled') || 0, heard = await L.get('note', 'heard') || 0, age = Date.now() - last;
    if (age < 0 || age > 6e5 || heard > last && age > 12e4) worker.active.postMessage('fill');
  }

  async function shell() {
    if (document.readyState !== 'complete') await new Promise((done) => addEventListener('load', done)); // the page itself comes first
    worker = await navigator.serviceWorker.register('/sw.js');
    await navigator.serviceWorker.ready;
    fill();
    let asked = false;
    navigator.serviceWorker.addEventListener('controllerchange', () => asked && location.reload());
    const offer = () => {
      if (!worker.waiting || !$('newer')) return;
      $('newer').hidden = false;
      $('newer').querySelector('button').onclick = () => { asked = true; worker.waiting.postMessage('take over'); };
    };
    offer();
    worker.addEventListener('updatefound', () => {
      const next = worker.installing;
      next.addEventListener('statechange', () => next.state === 'installed' && offer());
    });
    setInterval(() => document.visibilityState === 'visible' && worker.update().catch(() => {}), 36e5); // no signal: asked again in an hour
  }

  function heard({ data }) {
    if (data === 'busy') $('newer').querySelector('p').textContent = 'A newer version is ready. Save or leave the open card first, and wait until everything is sent.';
    if (data.fresh === location.pathname && $('fresh')) $('fresh').hidden = false;
  }

  // The light changes with no signal too: the cookie is the one that the yard's machine would set.
  function light(name) {
    now.light = name;
    $('light').querySelector('button').textContent = 'Light: ' + name[0].toUpperCase() + name.slice(1);
  }
  const LIGHTS = ['day', 'noon', 'lantern'], chosen = () => (document.cookie.match(/(?:^|; )light=(day|noon|lantern)/) || [])[1];
  if (chosen() && chosen() !== now.light) light(chosen());
  $('light').addEventListener('submit', (event) => {
    event.preventDefault();
    const next = LIGHTS[(LIGHTS.indexOf(chosen() || 'day') + 1) % 3];
    document.cookie = 'light=' + next + '; path=/; max-age=34560000; SameSite=Lax' + (location.protocol === 'https:' ? '; Secure' : '');
    light(next);
  });

  // What only a phone knows about itself: whether it can keep anything, and for how long.
  async function promises() {
    if ($('plain-http')) $('plain-http').hidden = safe;
    if (!safe || !navigator.storage) return;
    const kept = await navigator.storage.persisted();
    const home = matchMedia('(display-mode: standalone)').matches || !!navigator.standalone;
    L.place = { kept, home };
    if ($('not-kept')) $('not-kept').hidden = kept || home;
  }

  async function start() {
    await promises();
    if (!safe) return;
    L.watch(() => line());
    await line();
    if ('serviceWorker' in navigator && now.offline !== 'off') {
      navigator.serviceWorker.addEventListener('message', heard);
      shell().catch((problem) => console.warn(problem)); // without it everything works that needs no copy
    }
    sendNow();
    addEventListener('online', sendNow);
    document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && sendNow());
    setInterval(async () => await line() && sendNow(), 3e4);
  }
  L.started = start();
})();
