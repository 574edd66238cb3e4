import { controls, touched } from "./fetched"

const marked = "[data-live][id]"

/** The marked elements below one, those within others left out. */
function outermost(below: Element): Element[] {
  return [...below.querySelectorAll(marked)].filter((e) => e.parentElement?.closest(marked) === below.closest(marked))
}

/** What an element is apart from the marked ones within it. */
function own(e: Element): string {
  const copy = e.cloneNode(true) as Element
  for (const inner of outermost(copy)) inner.replaceWith("\u0000" + inner.id)
  return copy.outerHTML
}

/**
 * What the server sent of each marked element. Scripts change what stands in the page, so
 * that is no measure of what changed since.
 */
export class Renewal {
  private sent = new Map<string, string>()

  constructor(page: ParentNode) {
    this.note(page)
  }

  private note(page: ParentNode) {
    for (const e of page.querySelectorAll(marked)) this.sent.set(e.id, own(e))
  }

  /** Puts what is new in the place of what was, and gives the elements that came. What somebody is at work on stays. */
  bring(page: Document): Element[] {
    return outermost(document.documentElement).flatMap((old) => this.renew(old, page))
  }

  private renew(old: Element, page: Document): Element[] {
    const fresh = page.getElementById(old.id)
    if (fresh === null) return []
    if (this.sent.get(old.id) === own(fresh)) return outermost(old).flatMap((e) => this.renew(e, page))
    if (inUse(old)) return []
    this.note(fresh)
    this.sent.set(fresh.id, own(fresh))
    const place = placeOfFocus(old)
    const next = document.importNode(fresh, true)
    keepOpen(old, next)
    old.replaceWith(next)
    if (place !== null) find(next, place)?.focus({ preventScroll: true })
    return [next]
  }
}

/** Whether somebody is typing there, or has. */
function inUse(e: Element): boolean {
  return controls(e).some((c) => touched(c) || (c === document.activeElement && c.type !== "submit"))
}

type Place = { id: string; tag: string; says: string | null; nth: number; place: number; of: number }

/** Where the focus is within e, null where it is elsewhere. */
function placeOfFocus(e: Element): Place | null {
  const at = document.activeElement
  if (at === null || !e.contains(at)) return null
  const all = [...e.querySelectorAll(at.localName)]
  const nth = all.filter((x) => x.textContent === at.textContent).indexOf(at)
  return { id: at.id, tag: at.localName, says: at.textContent, nth, place: all.indexOf(at), of: all.length }
}

/** The same again: by its id, else by what it says, as lines before it come and go, else by its place among as many as before. */
function find(e: Element, was: Place): HTMLElement | null {
  const all = [...e.querySelectorAll<HTMLElement>(was.tag)]
  const byID = was.id ? document.querySelector<HTMLElement>("#" + CSS.escape(was.id)) : null // it may be e itself
  return byID ?? all.filter((x) => x.textContent === was.says)[was.nth] ?? (all.length === was.of ? all[was.place] : undefined) ?? null
}

/** What was opened stays open. */
function keepOpen(old: Element, next: Element) {
  const open = new Set([...old.querySelectorAll("details[open]>summary")].map((s) => s.textContent))
  for (const d of next.querySelectorAll("details")) {
    if (open.has(d.querySelector("summary")?.textContent ?? "")) d.open = true
  }
}
