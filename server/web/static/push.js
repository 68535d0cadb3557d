// Messages that wake this phone. In the service worker: what is shown when one comes, and what a tap opens.
// On the page "How I am reminded": the button that lets this phone be woken.
'use strict';
(() => {
  if ('ServiceWorkerGlobalScope' in self) {
    // A push must always show something; what the phone has not sent yet is not asked for again.
    self.addEventListener('push', (event) => event.waitUntil((async () => {
      let note = {};
      try { note = event.data.json(); } catch { /* shown all the same */ }
      const [day, slot] = String(note.about || '').split(' ');
      const here = (record) => record.state === 'saved' && record.fields.some(([n, v]) => n === 'round_day' && v === day) &&
        record.fields.some(([n, v]) => n === 'slot' && v === slot);
      const kept = note.kind !== 'caution' && self.leground && await self.leground.all('record').then((all) => all.some(here), () => false);
      await self.registration.showNotification(kept ? 'Recorded on this phone, waiting to send' : note.title || 'Leground', {
        body: kept ? 'Open Leground where there is signal.' : note.body || 'Open Leground to see what is due.',
        tag: note.topic || note.id, renotify: !!(note.topic || note.id), data: note.link || '/',
      });
    })()));
    self.addEventListener('notificationclick', (event) => {
      event.notification.close();
      const to = new URL(event.notification.data || '/', self.location.origin);
      event.waitUntil((async () => {
        if (to.origin !== self.location.origin) return;
        const open = (await self.clients.matchAll({ type: 'window' })).find((client) => new URL(client.url).pathname === to.pathname);
        await (open ? open.focus() : self.clients.openWindow(to.href));
      })());
    });
    return;
  }

  const button = document.getElementById('push-on');
  if (!button) return;
  const said = (words) => { document.getElementById('push-said').textContent = words; };
  const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, '+').replace(/_/g, '/')), (c) => c.charCodeAt(0));
  if (!('serviceWorker' in navigator && 'PushManager' in self)) {
    button.disabled = true;
    said('This browser cannot be woken here. On some phones Leground must stand on the home screen first.');
    return;
  }
  button.addEventListener('click', async () => {
    try {
      if (await Notification.requestPermission() !== 'granted') return said('Messages are switched off for this site in the browser. Allow them there, then try again.');
      const { key } = await (await fetch('/push/key')).json();
      if (!key) return said('This server wakes no phones.');
      const worker = await navigator.serviceWorker.ready, old = await worker.pushManager.getSubscription();
      if (old) await old.unsubscribe(); // it may belong to another key
      const subscription = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytes(key) });
      const answer = await fetch('/push/subscribe', { method: 'POST', headers: { Accept: 'application/json' }, body: new URLSearchParams({ subscription: JSON.stringify(subscription) }) });
      if (!answer.ok) return said((await answer.json()).message);
      location.assign('/reminders/me?saved=1');
    } catch (problem) {
      said('This phone could not be switched on: ' + problem.message);
    }
  });
})();
