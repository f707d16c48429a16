{% load static django_htmx %}// Opened without signal: the day sheet as it was last seen, and the form for the yard. Nothing else is kept, least of
// all a page with money; and nothing at all once somebody has signed out.
"use strict";

const SHELL = "shell {% static 'projects/site.css' %} {% static 'projects/site.js' %} {% static 'projects/outbox.js' %} {% static 'projects/offline.js' %}";
const SEEN = "seen";
const KEPT_PAGES = new Set(["/", "/log/yard/"]);
const PARTS = ["{% static 'projects/site.css' %}", "{% static 'projects/site.js' %}", "{% static 'projects/outbox.js' %}", "{% static 'projects/offline.js' %}", "{% static 'projects/mark.svg' %}", "{% static 'django_htmx/htmx-2.min.js' %}"];
const PATIENCE = 6_000; // ms that the workshop has to answer before what was kept is shown
const AT = "X-Kept-At";

self.addEventListener("install", (event) => event.waitUntil(keepShell()));
self.addEventListener("activate", (event) => event.waitUntil(begin()));

async function keepShell() {
  await (await caches.open(SHELL)).addAll(PARTS);
  await self.skipWaiting();
}

async function begin() {
  for (const name of await caches.keys()) if (name !== SHELL && name !== SEEN) await caches.delete(name);
  await self.clients.claim();
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname, search } = new URL(request.url);
  if (origin !== location.origin) return;
  if (request.method === "POST" && pathname === "/sign-out/") event.waitUntil(caches.delete(SEEN));
  if (request.method !== "GET" || request.headers.has("HX-Request")) return;
  if (PARTS.includes(pathname)) event.respondWith(part(request));
  else if (KEPT_PAGES.has(pathname) && !search) event.respondWith(seen(event, pathname));
  else if (request.mode === "navigate") event.respondWith(elsewhere(request));
});

const part = async (request) => (await caches.match(request, { cacheName: SHELL })) ?? fetch(request);

// From the workshop, and kept; without signal as it was.
async function seen(event, pathname) {
  const old = await caches.match(pathname, { cacheName: SEEN });
  const fresh = fetch(event.request).then((answer) => {
    event.waitUntil(keep(pathname, answer.clone()));
    return answer;
  });
  if (!old) return fresh;
  fresh.catch(() => undefined);
  const late = new Promise((_, reject) => setTimeout(reject, PATIENCE));
  try {
    return await Promise.race([fresh, late]);
  } catch {
    return pathname === "/" ? asItWas(old) : old;
  }
}

// Only what the workshop gave under this very address: a sign-in form in its place ends what was kept.
async function keep(pathname, answer) {
  if (answer.redirected || answer.type === "opaqueredirect") return caches.delete(SEEN);
  if (answer.status !== 200) return;
  const headers = new Headers(answer.headers);
  headers.set(AT, `${Date.now()}`);
  const page = new Response(await answer.blob(), { headers });
  await (await caches.open(SEEN)).put(pathname, page);
}

async function elsewhere(request) {
  try {
    return await fetch(request);
  } catch (error) {
    if (await caches.match("/", { cacheName: SEEN })) return Response.redirect("/", 302);
    throw error;
  }
}

async function asItWas(old) {
  const at = new Date(Number(old.headers.get(AT)));
  const clock = at.toTimeString().slice(0, 5);
  const when = at.toDateString() === new Date().toDateString() ? clock : `${clock} on ${at.toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long" })}`;
  const notice = `<p class="as-it-was" role="status"><b>No signal. The day sheet as it was at ${when}.</b> Nothing below is newer. An entry that you log waits in this device and is sent by itself.</p>`;
  const page = (await old.text()).replace(/<title>[^·<]*/, `<title>As it was at ${clock} `).replace(/<main[^>]*>/, (main) => main + notice);
  return new Response(page, { headers: old.headers });
}
