// The leg round with scripts: one card at a time, steppers and a number pad, every change written to the
// phone at once, and each save kept on the phone before the page says so. The forms are the page's own,
// and what is kept is the post that they would send.
'use strict';
(() => {
  const L = self.leground, { el, clock, words: WORDS } = L, page = document.documentElement.dataset;
  const $ = (id) => document.getElementById(id), all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const live = !!$('round'), round = $('round') || $('main'), pad = $('pad'); // a card that is put right has steppers and pad only
  if (!pad || !pad.showModal) return;
  const cards = all('#cards article.card', round).map((box) => ({ box, form: box.querySelector('.look form'), done: box.querySelector('.done'), served: [...box.querySelector('.done').childNodes], here: box.dataset.here }));
  const row = (card) => round.querySelector('[data-for="' + card.box.id + '"]');
  let records = [], photos = [], mine = [], current, resume, open = false, release; // open: a form is half filled in, which no newer version may disturb

  // ---- Which round it is ----
  // The page knows the round that it was made for. Opened again later with no signal it serves the next
  // rounds too: then the yard places what is seen by its time.
  const stale = () => Date.now() > Date.parse(round.dataset.until);
  function key() {
    if (!stale()) return round.dataset.day + ' ' + round.dataset.slot;
    const now = new Date(), minute = now.getHours() * 60 + now.getMinutes();
    return now.toDateString() + ' ' + round.dataset.slots.split(' ').filter((at) => at - 120 <= minute).length;
  }

  // ---- What is recorded ----
  async function look() {
    [records, photos] = await Promise.all([L.all('record'), L.all('photo')]);
    const back = new Set(records.filter((r) => r.path === '/round/undo' && r.state !== 'away').map((r) => r.fields.find((f) => f[0] === 'of')[1]));
    mine = records.filter((r) => r.round === key() && r.state !== 'away' && !back.has(r.id)).sort((a, b) => a.saved - b.saved);
    for (const card of cards) {
      const own = mine.findLast((r) => r.about === card.form.dataset.about), served = !stale() && card.here && !back.has(card.here);
      card.state = own ? own.state : served ? 'sent' : 'todo';
      card.record = own ? own.id : served ? card.here : '';
      if (own && own.id !== card.here) card.done.replaceChildren(...told(own));
      else card.done.replaceChildren(...(served ? card.served : []));
      const closed = card.state !== 'todo', fold = card.form.closest('details'), summary = fold.firstElementChild;
      if (summary.hidden === closed) [fold.open, summary.hidden] = [!closed, !closed];
      const skipped = own ? own.fields.some((f) => f[0] === 'outcome') : served && !!card.done.querySelector('[data-skipped]');
      row(card).querySelector('.state').replaceWith(L.state(skipped && card.state === 'sent' ? 'skipped' : card.state));
    }
    for (const form of all('form[data-about^="soak "]', round)) {
      const soak = mine.find((r) => r.about === form.dataset.about);
      form.hidden = !!soak;
      if (soak && !form.nextElementSibling) form.after(el('p', { className: 'note' }, 'Soak started ' + clock(soak.saved) + '. ', since(soak.saved)));
    }
    for (const r of mine.filter((x) => /^new/.test(x.about))) {
      const form = round.querySelector('form[data-about="' + r.about + '"]');
      if (!form) continue;
      if (!$('n' + r.id)) form.before(el('p', { className: 'note', id: 'n' + r.id }));
      $('n' + r.id).textContent = r.words + ': ' + r.said + '. ' + WORDS[r.state] + '. It has a card when the page is opened with signal.';
    }
    const line = $('saved'), last = line.dataset.undo && mine.find((r) => r.id === line.dataset.undo);
    if (last) line.querySelector('p').textContent = last.words + ' ' + WORDS[last.state].toLowerCase();
    tell();
    names();
    count();
  }

  // told writes what this phone has of a card, with the way back.
  function told(r) {
    const undo = el('button', { type: 'button' }, 'Undo');
    undo.dataset.undo = r.id;
    return [L.state(r.state), el('p', {}, r.said), r.state === 'look' && el('p', { className: 'problem' }, r.problem || ''), el('div', { className: 'row' }, undo, r.state === 'look' && el('a', { className: 'button', href: '/phone' }, 'See what'))].filter(Boolean);
  }

  // tell shows what the yard answered: a call for the vet at once and over everything, since a page that
  // jumps under a finger is worse; a second pair of eyes and care given twice above the card.
  function tell() {
    const show = [], slabs = [], read = (r) => L.change('record', r.id, { read: true });
    for (const r of mine) {
      if (!r.answer || r.read) continue;
      for (const c of r.answer.cautions || []) {
        if (c.level !== 'ring-now') { if (!current) show.push(el('p', { className: 'note' }, c.words + ': ' + c.seen)); continue; } // it waits while hands are busy
        const slab = $('slab').content.firstElementChild.cloneNode(true);
        slab.querySelector('.level').textContent = c.words;
        slab.querySelector('span').textContent = r.words + '. ' + c.seen;
        slab.record = r;
        slabs.push(slab);
      }
      for (const words of [r.answer.twice, r.answer.also].filter(Boolean)) {
        const ok = el('button', { type: 'button', onclick: () => read(r).then(look) }, 'I have seen it');
        show.push(el('div', { className: 'note' }, el('p', {}, L.square('look'), ' ', el('b', {}, 'Needs a look. '), words), ok));
      }
    }
    const news = $('news'), ring = $('ring'), text = (list) => list.map((e) => e.textContent).join('');
    if (text(show) !== news.textContent) news.replaceChildren(...show);
    if (!slabs.length || text(slabs) === ring.firstElementChild.textContent) return;
    ring.firstElementChild.replaceChildren(...slabs);
    ring.onclose = () => Promise.all(slabs.map((e) => read(e.record))).then(look);
    ring.querySelector('.main-bar').onclick = (event) => event.timeStamp - ring.since > 500 && ring.close();
    if (pad.open) pad.close();
    if (!ring.open) ring.showModal();
    ring.since = performance.now();
  }

  // ---- One card at a time ----
  const byId = (id) => cards.find((c) => c.box.id === id);
  function show() {
    const id = decodeURIComponent(location.hash.slice(1)), card = byId(id);
    current = card;
    if (card) resume = null;
    $('walk').hidden = !!card || id === 'done';
    $('done').hidden = id !== 'done';
    $('cards').hidden = !card;
    for (const c of cards) c.box.hidden = c !== card;
    for (const leg of all('.of-leg', round)) leg.hidden = !card || !leg.contains(card.box);
    for (const horse of all('.of-horse', round)) horse.hidden = !card || !horse.contains(card.box);
    document.body.scrollIntoView();
    scrollTo(0, 0);
    if (id) (card ? card.box : $('done')).focus({ preventScroll: true });
    tell();
    if (card) L.put('note', { anchor: id, tag: card.form.dataset.tag, round: key(), person: page.person }, 'place');
    names();
  }

  // after gives the next card that is to do, in walking order, round the corner if need be.
  function after(card) {
    const at = cards.indexOf(card), order = cards.slice(at + 1).concat(cards.slice(0, at + 1));
    return order.find((c) => c !== card && c.state === 'todo');
  }
  function names() {
    const first = cards.find((c) => c.state === 'todo'), start = $('start'), at = resume && resume.state === 'todo' ? resume : first;
    if (start) {
      start.hidden = !at;
      if (at) [start.href, start.textContent] = ['#' + at.box.id, at === resume ? 'You were at ' + at.form.dataset.tag + '. Carry on.' : (cards.some((c) => c.state !== 'todo') ? 'Carry on: ' : 'Start: ') + at.form.dataset.tag];
    }
    const bar = current && current.form.querySelector('.save-bar .main-bar span');
    if (bar) { const next = after(current); bar.textContent = next ? 'Save, then go to ' + next.form.dataset.tag : 'Save, then end the round'; }
  }
  function count() {
    const n = (state) => cards.filter((c) => c.state === state).length;
    $('tally').textContent = [[n('sent'), 'sent to the yard'], [n('saved'), 'saved on this phone'], [n('look'), 'to be looked at again'], [n('todo'), 'to do']].filter((p) => p[0]).map((p) => p.join(' ')).join(', ') + '.';
    L.saying = { words: n('sent') + ' of ' + cards.length + ' sent to the yard', square: L.square(n('sent') === cards.length ? 'sent' : 'todo') };
    for (const horse of all('.of-horse', round)) {
      const own = cards.filter((c) => horse.contains(c.box)), done = own.filter((c) => c.state !== 'todo').length;
      for (const small of [horse.querySelector('h2 small'), $('walk').querySelectorAll('section')[all('.of-horse', round).indexOf(horse)].querySelector('small')]) small.textContent = done + ' of ' + own.length;
    }
  }

  // ---- Half filled in ----
  const entries = (form, button) => [...new FormData(form, button)].filter(([, value]) => typeof value === 'string');
  const draftId = (form) => page.person + ' ' + form.dataset.about;
  function fill(form, fields) {
    const of = (name) => fields.filter((f) => f[0] === name).map((f) => f[1]);
    for (const e of form.elements) {
      if (e.type === 'checkbox' || e.type === 'radio') e.checked = of(e.name).includes(e.value);
      else if (e.name && e.type !== 'hidden' && e.type !== 'file' && e.type !== 'submit' && of(e.name).length) e.value = of(e.name)[0];
      if (e.checked || e.type === 'text' && e.value) for (let d = e.closest('details:not(.look)'); d; d = d.parentElement.closest('details:not(.look)')) d.open = true;
    }
  }
  let writing = Promise.resolve();
  function changed(form) {
    if (!live) return undefined;
    form.touched = true;
    if (!open && navigator.locks) {
      open = true;
      navigator.locks.request('leground-form', { mode: 'shared' }, () => open && new Promise((done) => { release = done; }));
    }
    const draft = { id: draftId(form), fields: entries(form), photo: form.shot, round: key(), at: Date.now() };
    writing = writing.then(() => !form.touched || L.put('draft', draft)).catch((problem) => say('This phone could not keep what you just entered: ' + problem.message));
    return writing;
  }
  function settled() {
    if (!open || cards.some((c) => c.form.touched)) return;
    open = false;
    if (release) release();
    release = null;
  }
  async function restore() {
    for (const draft of await L.all('draft')) {
      const form = all('form[data-about]', round).find((f) => draftId(f) === draft.id);
      if (!form || draft.round !== key()) { if (Date.now() - draft.at > 864e5) await L.drop('draft', draft.id); continue; }
      fill(form, draft.fields);
      if (draft.photo) await showShot(form, draft.photo);
      form.touched = true;
    }
    const place = await L.get('note', 'place'), card = place && place.round === key() && place.person === page.person && byId(place.anchor);
    resume = card && (card.state === 'todo' ? card : after(card));
    names();
  }

  // ---- Saving ----
  const renew = (form) => { form.elements.record.value = form.dataset.record = L.newId(); };

  // wanting shows what is missing or cannot be; the words stand in the page.
  function wanting(form, button) {
    const skip = button && button.name === 'outcome', sent = new FormData(form, button);
    let first;
    const mark = (e, bad) => { e.hidden = !bad; if (bad) first ||= e; };
    for (const e of all('[data-need]', form)) {
      const names = e.dataset.need.split(' ');
      mark(e, (names[0] === 'skip') === !!skip && !names.some((name) => sent.get(name)));
    }
    if (!skip) for (const box of all('.measure', form)) {
      const words = limits(box, all('.measure input', form).some((input) => input.value));
      complain(box, words);
      if (words) first ||= box;
      else if (ask(box)) first ||= box.nextElementSibling;
    }
    if (!first) return false;
    for (let d = first.closest('details'); d; d = d.parentElement.closest('details')) d.open = true;
    first.scrollIntoView({ block: 'center' });
    (first.querySelector('button, input') || first.parentElement.querySelector('input:not([type=hidden]), button') || form).focus({ preventScroll: true });
    return true;
  }

  function summary(form, button) {
    if (button && button.name === 'outcome') return 'Not looked at: ' + form.elements.skip.value;
    if (button && button.name === 'clear') return 'Looked: nothing to note';
    const words = [], value = (name) => (form.elements.namedItem(name) || {}).value; // elements.length is something else
    if (value('length') && value('width')) words.push(value('length') + ' x ' + value('width') + ' mm');
    for (const e of form.elements) {
      if (e.checked && e.closest('label, .danger')) {
        const legend = e.type === 'radio' && e.name !== 'size' && e.closest('fieldset').querySelector('legend').firstChild.data.trim();
        words.push((legend ? legend + ': ' : '') + e.closest('.tile, .danger').querySelector('span, label').textContent.replace(/^\d /, '').trim());
      } else if (e.tagName === 'SELECT' && e.name !== 'looker') words.push(e.selectedOptions[0].textContent);
    }
    if (value('note')) words.push(value('note'));
    return words.join('. ');
  }

  // keep is a post of this round: a page that serves a later one does not name its own.
  const keep = (form, fields, more, photo) => L.keep(form, fields.filter(([name]) => !/^(next|back)$/.test(name) && !(stale() && /^(round_day|slot)$/.test(name))),
    { reading: /round\/(site|leg)$/.test(form.action), round: key(), ...more }, photo, draftId(form));

  async function submit(form, button) {
    if (form.busy || wanting(form, button)) return;
    form.busy = true;
    try {
      if (form.taking) await form.taking;
      if (stale() && form.dataset.record === form.elements.record.defaultValue) renew(form);
      const said = summary(form, button), shot = form.shot, fields = entries(form, button).filter((f) => f[0] !== 'photo_id');
      if (shot) fields.push(['photo_id', shot.id]);
      form.touched = false; // what is still to be written of the half-filled form is not
      const kept = await keep(form, fields, { said: said + (shot ? '. Photo' : '') }, shot);
      const card = cards.find((c) => c.form === form);
      if (card) saved(kept);
      form.shot = null;
      form.reset();
      for (const e of all('.photo-here, .question', form)) e.replaceChildren();
      renew(form);
      settled();
      await look();
      if (card) {
        const next = after(card);
        location.hash = next ? next.box.id : 'done';
      }
      L.sendNow();
      if (navigator.storage && navigator.storage.persist) navigator.storage.persist(); // asked while a person acts; the page of what this phone holds has the answer
    } catch (problem) {
      say('This phone could not keep it: ' + problem.message + '. Nothing was sent. Make room on the phone and save again.', true);
    } finally { form.busy = false; }
  }

  function saved(record) {
    const line = $('saved');
    line.hidden = false;
    line.dataset.undo = record.id;
    line.querySelector('p').textContent = record.words + ' ' + WORDS.saved.toLowerCase();
  }

  // undo takes a look back and puts what was in it on the card again.
  async function undo(id) {
    const record = await L.get('record', id), card = cards.find((c) => c.record === id || record && c.form.dataset.about === record.about);
    if (!card) return;
    const form = Object.assign(el('form', { action: '/round/undo' })), back = L.newId();
    Object.assign(form.dataset, { about: 'undo ' + id, tag: card.form.dataset.tag + ' undone' });
    await keep(form, [['record', back], ['of', id]], { after: record && id, said: 'Taken back' });
    $('saved').hidden = true;
    if (record) {
      renew(card.form);
      fill(card.form, record.fields);
      const photo = photos.find((p) => p.of === id);
      if (photo) {
        const bytes = await L.get('bytes', photo.id), fresh = L.newId();
        if (photo.state === 'saved') await L.change('photo', photo.id, { state: 'away', sent: Date.now() });
        if (bytes && await L.keepPhoto(fresh, bytes)) await showShot(card.form, { id: fresh, length: photo.length, sha256: photo.sha256 });
      }
      await changed(card.form);
    }
    await look();
    location.hash = card.box.id;
    L.sendNow();
  }

  // ---- Photos ----
  async function shoot(form, input) {
    const file = input.files[0], place = form.querySelector('.photo-here');
    if (!file) return;
    place.replaceChildren('Making the photo ready ...');
    try {
      const raw = new Blob([await file.arrayBuffer()], { type: file.type }); // at once: the file of a camera may not last
      const bytes = await (await L.aside(raw)).arrayBuffer(), id = L.newId();
      input.value = '';
      if (!await L.keepPhoto(id, bytes)) { place.replaceChildren(el('p', { className: 'problem' }, 'There is no room for the photo on this phone. The rest of the card can still be saved. Delete something on the phone, then take it again.')); return; }
      await showShot(form, { id, length: bytes.byteLength, sha256: await L.sha(bytes) });
      await changed(form);
    } catch (problem) {
      place.replaceChildren(el('p', { className: 'problem' }, 'This phone could not read the photo. Take it again, or choose a JPEG.'));
    }
  }
  async function showShot(form, shot) {
    const bytes = await L.get('bytes', shot.id), place = form.querySelector('.photo-here');
    if (!bytes) return;
    const picture = await createImageBitmap(new Blob([bytes])), small = 160 / Math.max(picture.width, picture.height);
    const image = el('img', { alt: 'Photo taken now', src: URL.createObjectURL(new Blob([bytes], { type: 'image/jpeg' })), width: picture.width * small, height: picture.height * small });
    form.shot = shot;
    place.replaceChildren(el('div', { className: 'row' }, image, el('button', { type: 'button', className: 'take-away' }, 'Take it away')));
  }

  // ---- Numbers ----
  let talk;
  function say(text, now) {
    clearTimeout(talk);
    talk = setTimeout(() => { $('spoken').textContent = text; }, now ? 0 : 600);
    if (now) $('news').replaceChildren(el('p', { className: 'problem' }, text));
  }
  const most = (box) => +box.dataset.most, label = (box) => box.querySelector('label').firstChild.data;
  const boxOf = (input) => input.closest('.measure');
  function limits(box, wanted) {
    const text = box.querySelector('input').value.trim();
    return !text && !wanted || /^\d+$/.test(text) && +text >= 1 && +text <= most(box) ? '' : label(box) + ' must be a whole number from 1 to ' + most(box) + ', like 42.';
  }
  function complain(box, words) {
    let e = box.querySelector('.problem');
    if (!e && words) box.querySelector('label').after(e = el('p', { className: 'problem' }));
    if (e) e.textContent = words;
  }
  const strange = (value, last) => !!last && !!value && (value * 2 < last || value > last * 2);

  // ask puts the question under a number that is less than half or more than double the last one.
  function ask(box) {
    const input = box.querySelector('input'), value = +input.value, last = +input.dataset.last;
    let e = box.nextElementSibling.classList.contains('question') ? box.nextElementSibling : null;
    if (!strange(value, last) || box.sure === value) { if (e) e.remove(); return false; }
    if (!e) box.after(e = el('div', { className: 'question' }));
    if (e.value !== value) {
      e.value = value;
      const yes = el('button', { type: 'button', onclick: () => { box.sure = value; e.remove(); input.focus(); } }, 'Yes, ' + value + ' mm');
      const no = el('button', { type: 'button', onclick: () => openPad([input]) }, 'Change it');
      e.replaceChildren(el('p', {}, 'Last time ' + last + ' mm, now ' + value + ' mm. Is ' + value + ' right?'), el('div', { className: 'row' }, yes, no));
      e.setAttribute('role', 'group');
      e.setAttribute('aria-label', 'Check the number');
    }
    return true;
  }
  function number(input, value) {
    const box = boxOf(input);
    input.value = value;
    for (const other of all('input[name=size]', input.form)) other.checked = false;
    complain(box, limits(box));
    say(value + ' millimetres');
    clearTimeout(box.resting);
    box.resting = setTimeout(() => ask(box), 600);
    changed(input.form);
  }
  function step(input, by) {
    const from = input.value.trim() === '' ? +(input.dataset.last || 0) : +input.value || 0;
    number(input, Math.min(most(boxOf(input)), Math.max(1, from + by)));
  }

  let queue = [], typed = '';
  function openPad(inputs) {
    queue = inputs;
    typed = '';
    const box = boxOf(queue[0]), last = queue[0].dataset.last;
    $('pad-name').textContent = queue[0].form.dataset.tag + ', ' + label(box).toLowerCase();
    $('pad-limits').textContent = (last ? 'Last time ' + last + ' mm. ' : '') + 'Allowed 1 to ' + most(box) + ' mm.';
    if (!pad.open) pad.showModal();
    press('');
  }
  function press(k) {
    if (k === 'Clear') typed = '';
    else if (k === 'Delete') typed = typed.slice(0, -1);
    else if (typed.length < 6) typed = (typed + k).replace(/^0+(?=\d)/, '');
    const box = boxOf(queue[0]), last = queue[0].dataset.last, shown = typed || queue[0].value || last || '';
    $('pad-value').textContent = shown ? shown + ' mm' : '-- mm';
    $('pad-was').textContent = last ? 'it was ' + last + ' mm' + (shown === last ? ': no change' : '') : '';
    const bad = shown !== '' && (+shown < 1 || +shown > most(box));
    $('pad-problem').textContent = bad ? label(box) + ' must be a whole number from 1 to ' + most(box) + ', like 42.' : '';
    pad.querySelector('[value=use]').textContent = shown ? 'Use ' + shown + ' mm' : 'Type a number';
    if (k) say((shown || 'no') + ' millimetres');
    return bad ? '' : shown;
  }
  function use() {
    const value = press('');
    if (!value) { if (!$('pad-problem').textContent) $('pad-problem').textContent = 'Type a number first.'; return; }
    number(queue[0], +value);
    ask(boxOf(queue[0]));
    const rest = queue.slice(1);
    if (rest.length) return openPad(rest);
    const input = queue[0];
    pad.close();
    input.focus();
  }

  // ---- Taps ----
  // A second tap on the same control within 250 ms is the bounce of a wet finger.
  const taps = new WeakMap();
  document.addEventListener('click', (event) => {
    const control = event.target.closest('button, summary, label, a');
    if (!control) return;
    const last = taps.get(control);
    if (event.detail && last !== undefined && event.timeStamp - last < 250 && !event.target.closest('input')) { event.preventDefault(); event.stopImmediatePropagation(); return; }
    taps.set(control, event.timeStamp);
    if (control.closest('.stepper')) step($(control.closest('.stepper').dataset.for), +control.value);
    else if (control.classList.contains('type')) openPad(all('.measure input', control.form));
    else if (control.classList.contains('take-away')) { const form = control.form; form.shot = null; form.querySelector('.photo-here').replaceChildren(); changed(form); }
    else if (control.dataset.undo) undo(control.dataset.undo);
    else if (pad.contains(control)) {
      if (control.value === 'back') pad.close(); else if (control.value === 'use') use(); else press(control.value);
    }
  }, true);

  round.addEventListener('submit', (event) => {
    const form = event.target;
    if (form.id === 'saved' && form.dataset.undo) { event.preventDefault(); undo(form.dataset.undo); return; }
    if (!live || !L.ready || !form.dataset.record) {
      if (form.dataset.record && wanting(form, event.submitter)) event.preventDefault();
      return;
    }
    event.preventDefault();
    if (form.action.endsWith('/round/undo')) undo(form.elements.of.value);
    else submit(form, event.submitter);
  });
  round.addEventListener('input', ({ target }) => {
    if (boxOf(target)) number(target, target.value);
    else if (target.form && target.form.dataset.about && target.type !== 'file') changed(target.form);
  });
  round.addEventListener('change', ({ target }) => {
    const form = target.form;
    if (target.name === 'who') { looker(target.value); L.put('note', { round: key(), person: target.value }, 'looker'); }
    if (!form) return;
    if (target.name === 'size' && target.checked) for (const input of all('.measure input', form)) { input.value = ''; complain(boxOf(input), ''); ask(boxOf(input)); }
    if (target.name === 'photo' && live && L.ready) form.taking = shoot(form, target);
  });
  pad.addEventListener('keydown', (event) => {
    if (/^\d$/.test(event.key)) press(event.key);
    else if (event.key === 'Backspace') press('Delete');
  });
  if (matchMedia('(pointer: coarse)').matches) for (const input of all('.measure input', round)) {
    input.inputMode = 'none'; // our own pad, which has no decimal key
    input.addEventListener('click', () => openPad([input]));
  }
  for (const input of all('.measure input[data-last]', round)) input.placeholder = input.dataset.last;

  function looker(id) { for (const e of all('select[name=looker]', round)) e.value = id; }
  async function who() {
    const people = all('input[name=who]', $('who'));
    $('who').hidden = people.length < 2 || !await L.get('note', 'shared');
    const chosen = await L.get('note', 'looker'), at = chosen && chosen.round === key() && people.find((p) => p.value === chosen.person);
    if (at && !$('who').hidden) { at.checked = true; looker(at.value); }
  }

  function since(at) { const e = el('span', { className: 'soak' }); e.dataset.since = new Date(at).toISOString(); soaks([e]); return e; }
  function soaks(spans) {
    for (const e of spans) {
      const minutes = Math.floor((Date.now() - Date.parse(e.dataset.since)) / 6e4);
      if (minutes >= 0) e.textContent = L.count(minutes, 'minute') + ' so far.';
    }
  }
  setInterval(() => soaks(all('.soak', round)), 15e3);

  if (live) addEventListener('hashchange', show);
  if (live) (async () => {
    soaks(all('.soak', round));
    if ('indexedDB' in self) {
      await look();
      await restore();
      await who();
      L.watch(look);
    }
    $('works').hidden = !L.ready;
    show();
    Object.assign(round.dataset, { open: '', openedAt: Math.round(performance.now()) });
  })();
})();
