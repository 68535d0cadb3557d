// The page of what this phone holds: what waits to be sent, what needs a look, how long it is safe here,
// and a copy of it in the phone's files.
'use strict';
(() => {
  const L = self.leground, $ = (id) => document.getElementById(id);
  const clock = (at) => { const day = new Date(at).toDateString(); return (day === new Date().toDateString() ? '' : day.slice(0, 10) + ', ') + L.clock(at); };
  const button = (words, act) => L.el('button', { type: 'button', onclick: () => act().then(list) }, words);

  function row(r, photos) {
    const e = $('row').content.firstElementChild.cloneNode(true), part = (c) => e.querySelector(c), answer = r.answer || {};
    const own = photos.filter((p) => p.of === r.id);
    part('.state').append(L.square(answer.also || answer.twice ? 'look' : r.state === 'away' ? 'skipped' : r.state), ' ' + L.words[r.state]);
    part('.when').textContent = clock(r.saved);
    const say = [r.words, r.said, own.some((p) => p.state === 'saved') && 'The photo is not sent yet', own.some((p) => p.state === 'look') && own.find((p) => p.state === 'look').problem,
      r.state === 'look' && [r.problem, ...(r.fieldWords || [])].join(' '), answer.also, answer.twice,
      answer.off && 'This phone\u2019s clock was ' + L.count(Math.round(Math.abs(answer.off) / 60), 'minute') + (answer.off > 0 ? ' ahead' : ' behind') + ': the yard has both times'];
    part('.what').textContent = say.filter(Boolean).join('. ');
    if (answer.compare) part('.row').append(L.el('a', { className: 'button', href: answer.compare }, 'Compare'));
    if (r.state === 'look') part('.row').append(
      button('Try it again', () => L.change('record', r.id, { state: 'saved' }).then(L.sendNow)),
      ...(r.reading && r.status === 422 ? [button('Put it back on its card', () => again(r))] : []),
      button('I have looked: put it away', () => L.change('record', r.id, { state: 'away', sent: Date.now() })));
    return e;
  }

  // again lays the answers of a form that the yard did not take back on its card.
  async function again(r) {
    await L.put('draft', { id: r.person + ' ' + r.about, fields: r.fields, round: r.round, at: Date.now() });
    await L.change('record', r.id, { state: 'away', sent: Date.now() });
    location.href = '/round';
  }

  async function list() {
    const photos = await L.all('photo'), records = (await L.all('record')).sort((a, b) => a.saved - b.saved);
    const open = (r) => r.state === 'saved' || r.state === 'look' || photos.some((p) => p.of === r.id && (p.state === 'saved' || p.state === 'look'));
    $('list').replaceChildren(...records.filter((r) => open(r) || r.answer && (r.answer.also || r.answer.twice)).map((r) => row(r, photos)));
    $('sent').replaceChildren(...records.filter((r) => !open(r)).reverse().map((r) => row(r, photos)));
    const heard = await L.get('note', 'heard');
    $('heard').textContent = (heard ? 'The yard last answered this phone ' + clock(heard) + '. ' : '') + (records.some(open) ? 'What waits is sent by itself when there is signal.' : 'Everything is sent.');
    const { usage = 0, quota = 0 } = await navigator.storage.estimate(), left = quota - usage;
    $('space').textContent = 'Space left for photos: ' + (left > 2e8 ? 'plenty.' : 'about ' + L.count(Math.max(0, Math.floor(left / 4e5)), 'photo') + '. Readings are kept even when photos no longer fit.');
    const { home, kept } = L.place || {};
    $('home').textContent = home ? 'Leground is on the home screen: yes.' : 'Leground is on the home screen: no. Put it there from the browser\u2019s menu, so that the phone does not throw away readings that are not sent.';
    $('kept').textContent = kept ? 'This phone has promised not to throw anything away by itself.' : home ? '' : 'This phone may throw away what it holds: some do after 7 days without use. Send soon, or save a copy below.';
    $('keep').hidden = !!kept;
  }

  // A copy is a text file with one record or photo a line.
  const base64 = (bytes) => new Promise((done) => { const r = new FileReader(); r.onload = () => done(r.result.slice(r.result.indexOf(',') + 1)); r.readAsDataURL(new Blob([bytes])); });
  async function copy() {
    const lines = ['{"leground":"copy of a phone","version":1}\n'];
    for (const record of await L.all('record')) lines.push(JSON.stringify({ record }) + '\n');
    for (const photo of await L.all('photo')) {
      const bytes = await L.get('bytes', photo.id);
      lines.push(JSON.stringify({ photo }).slice(0, -1), bytes ? ',"bytes":"' + await base64(bytes) + '"}\n' : '}\n');
    }
    L.el('a', { href: URL.createObjectURL(new Blob(lines, { type: 'text/plain' })), download: 'phone-' + L.stamp(new Date()).slice(0, 16).replace(/\D/g, '-') + '.leground' }).click();
  }

  async function take(file) {
    const [head, ...lines] = (await file.text()).split('\n').filter(Boolean);
    let added = 0, damaged = 0;
    if (!head || !head.startsWith('{"leground":')) throw new Error('This file is not a copy of a phone.');
    for (const line of lines) {
      try {
        const { record, photo, bytes: text } = JSON.parse(line), kind = record ? 'record' : 'photo', it = record || photo;
        const bytes = text && await (await new Response(Uint8Array.from(atob(text), (c) => c.charCodeAt(0)))).arrayBuffer();
        if (record && await L.hash(record.fields) !== record.hash || bytes && await L.sha(bytes) !== photo.sha256) throw new Error('changed');
        if (await L.get(kind, it.id)) continue;
        if (bytes && !await L.keepPhoto(it.id, bytes)) throw new Error('no room');
        await L.put(kind, it);
        added++;
      } catch (problem) { damaged++; }
    }
    L.tell();
    $('taken').textContent = L.count(added, 'form or photo', 'forms and photos') + ' taken in, ' + (lines.length - added - damaged) + ' were here already.' + (damaged ? ' ' + damaged + ' could not be read, or did not fit.' : '');
  }

  L.started.then(async () => {
    if (!L.ready) { $('holds').hidden = true; return; }
    $('try').onclick = () => L.sendNow().then(list);
    $('copy').onclick = copy;
    $('keep').onclick = async () => { L.place.kept = await navigator.storage.persist(); list(); };
    $('take').onchange = ({ target }) => take(target.files[0]).catch((problem) => { $('taken').textContent = problem.message; }).then(() => { target.value = ''; list(); });
    $('shared').checked = !!await L.get('note', 'shared');
    $('shared').onchange = ({ target }) => L.put('note', target.checked, 'shared');
    L.watch(list);
    await list();
  });
})();
