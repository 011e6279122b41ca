// The worker: keeps the pages of the visit and what they are made of, and sends what waits when the network is back.
const PAGES = "visit-pages-1", FILES = "visit-files-1", CHOICES = "visit-choices-1", SLOW = 4000;

const soon = (promise) => Promise.race([promise, new Promise((_, bad) => setTimeout(() => bad(new Error("slow")), SLOW))]);
const isVisit = (at) => at.origin === location.origin && (at.pathname === "/visit" || at.pathname.startsWith("/visit/"));
// A correction needs the visit as it is told now.
const isKept = (at) => isVisit(at) && at.pathname.split("/").length < 4;
const key = (at) => new Request(at.origin + at.pathname);

// A kept page says when it was made: it carries the line, hidden as long as it is fresh. Its light is the one chosen last.
const keptPage = async (at) => {
  const kept = await caches.open(PAGES), found = await kept.match(key(at)) || await kept.match(key(new URL("/visit", at)));
  if (!found) return null;
  const light = await (await caches.open(CHOICES)).match("/light").then((one) => one?.text());
  let html = (await found.text()).replace(/(<p id="as-of"[^>]*?) hidden>/, "$1>");
  if (light) html = html.replace(/ data-light="[a-z]*"/, ` data-light="${light}"`);
  return new Response(html, { headers: found.headers });
};
// Never a page that says what was just recorded, nor one that sends us elsewhere (to be paired).
const keep = async (at, answer) => {
  if (isKept(at) && answer.ok && !answer.redirected && answer.type === "basic" && !at.search) await (await caches.open(PAGES)).put(key(at), answer.clone());
};
const pageOf = async (request) => {
  const at = new URL(request.url);
  const asked = fetch(request).then(async (answer) => { await keep(at, answer).catch(() => {}); return answer; });
  try { return await soon(asked); } catch { return await keptPage(at) || asked; }
};
// Of all other pages none is kept: without the bench there is still a visit to tell.
const otherPageOf = (request) => fetch(request).catch(async (gone) => {
  if (!await (await caches.open(PAGES)).match(key(new URL("/visit", location.origin)))) throw gone;
  return Response.redirect("/visit");
});
// A file whose address carries its sum never changes; a new sum takes the place of the old ones.
const fileOf = async (request) => {
  const kept = await caches.open(FILES), there = await kept.match(request);
  if (there) return there;
  const answer = await fetch(request);
  if (answer.ok) {
    const at = new URL(request.url);
    for (const old of await kept.keys()) if (new URL(old.url).pathname === at.pathname) await kept.delete(old);
    await kept.put(request, answer.clone());
  }
  return answer;
};

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name.startsWith("visit-") && ![PAGES, FILES, CHOICES].includes(name)) await caches.delete(name);
  await self.clients.claim();
})()));
self.addEventListener("fetch", (event) => {
  const { request } = event, at = new URL(request.url);
  if (request.method !== "GET" || at.origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(isVisit(at) ? pageOf(request) : otherPageOf(request));
  else if (at.pathname.startsWith("/static/") && (at.search || at.pathname.startsWith("/static/fonts/"))) event.respondWith(fileOf(request));
});
self.addEventListener("message", (event) => {
  if (/^[a-z]+$/.test(event.data?.light ?? "")) event.waitUntil(caches.open(CHOICES).then((kept) => kept.put("/light", new Response(event.data.light))));
  if (event.data?.keep) event.waitUntil((async () => {
    const kept = await caches.open(PAGES), wanted = event.data.keep.map((path) => new URL(path, location.origin)).filter(isKept);
    for (const at of wanted) {
      const answer = await fetch(at, { credentials: "same-origin" }).catch(() => null);
      if (!answer) break;
      await keep(at, answer);
    }
    if (event.data.files) for (const path of event.data.files) await fileOf(new Request(new URL(path, location.origin))).catch(() => {});
    // a colony that is not offered any more is not kept either
    if (event.data.only) for (const old of await kept.keys()) if (!wanted.some((at) => key(at).url === old.url)) await kept.delete(old);
    for (const page of await self.clients.matchAll()) page.postMessage({ kept: wanted.length });
  })());
});
self.addEventListener("sync", (event) => {
  if (event.tag === "visits") event.waitUntil(Queue.flush().then(async (done) => {
    for (const page of await self.clients.matchAll()) page.postMessage({ sent: done.map(({ one, ...found }) => ({ ...found, one: { colony: one.colony } })) });
    if (done.some((one) => !one.good && !one.refused)) throw new Error("not reached"); // the browser tries again
  }));
});
