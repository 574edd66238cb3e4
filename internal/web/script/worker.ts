// Keeps pages that were looked at for when the server is away. What the server sends comes
// first; a page from here says by its own clock how old it is.
const worker = globalThis as unknown as ServiceWorkerGlobalScope
const pages = "spile-pages"
const always = ["/something-is-wrong", "/", "/round"]
const most = 80
const patience = 6000 // ms for the server to answer

worker.addEventListener("install", (e) => {
  e.waitUntil(keepThese(always).then(() => worker.skipWaiting()))
})

worker.addEventListener("activate", (e) => e.waitUntil(worker.clients.claim()))

worker.addEventListener("fetch", (e) => {
  const r = e.request
  const address = new URL(r.url)
  if (r.method !== "GET" || address.origin !== worker.location.origin) return
  if (r.mode === "navigate") e.respondWith(page(e))
  else if (address.pathname.startsWith("/static/")) e.respondWith(asset(r))
})

/** A page as it is now, or as it was, or what to do when something is wrong. */
async function page(e: FetchEvent): Promise<Response> {
  const slow = new AbortController()
  const timer = setTimeout(() => slow.abort(), patience)
  try {
    const answer = await fetch(e.request, { signal: slow.signal })
    e.waitUntil(keep(e.request, answer.clone()))
    return answer
  } catch (err) {
    const cache = await caches.open(pages)
    // what was kept is told by the server alone: the empty form in its place would look as if nothing had been
    const told = new URL(e.request.url).searchParams.has("kept")
    const before = (await cache.match(e.request)) ?? (told ? undefined : await cache.match(e.request, { ignoreSearch: true })) ?? (await cache.match("/something-is-wrong"))
    if (before !== undefined) return before
    throw err
  } finally {
    clearTimeout(timer)
  }
}

/** What never changes under its name. */
async function asset(r: Request): Promise<Response> {
  const before = await caches.match(r)
  if (before !== undefined) return before
  const answer = await fetch(r)
  await keep(r, answer.clone())
  return answer
}

async function keep(r: Request, answer: Response) {
  if (!answer.ok || answer.redirected) return
  const cache = await caches.open(pages)
  await cache.put(r, answer)
  const known = await cache.keys()
  const old = known.filter((k) => !always.includes(new URL(k.url).pathname) && !k.url.includes("/static/"))
  for (const k of old.slice(0, Math.max(old.length - most, 0))) await cache.delete(k)
}

/** Pages for the worst case, with what they load. One that is not there yet is no reason to do without the rest. */
async function keepThese(addresses: string[]) {
  for (const address of addresses) {
    try {
      const r = new Request(address)
      const answer = await fetch(r)
      const source = await answer.clone().text()
      await keep(r, answer)
      for (const [, part] of source.matchAll(/(?:href|src)="(\/static\/[^"]+)"/g)) await asset(new Request(part!))
    } catch {
      continue
    }
  }
}
