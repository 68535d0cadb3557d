// The worker that takes itself away, with its copy of the pages. It is sent in place of the other one when
// the yard's machine is told to stop offering the copy. What is on its way to the yard is not touched: the
// pages go on sending it.
'use strict';
self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) await caches.delete(name);
  await self.registration.unregister();
})()));
