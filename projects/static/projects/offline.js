// Where the site is reached over TLS, a browser keeps the day sheet as it was last seen: see the worker.
"use strict";

if (navigator.serviceWorker) {
  navigator.serviceWorker.register("/offline-worker.js");
  // A page on which nobody is signed in: what somebody saw before is not for the next.
  if (!document.querySelector("form.leave")) caches.delete("seen");
  // The first page was loaded before there was a worker to keep it.
  else navigator.serviceWorker.ready.then(async () => {
    if (await caches.has("seen")) return;
    for (const address of ["/", "/log/yard/"]) fetch(address, { credentials: "same-origin" });
  });
}
