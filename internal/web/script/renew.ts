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

type Place = { id: string; path: number[] }

/** Where the focus is within e, null where it is elsewhere. */
function placeOfFocus(e: Element): Place | null {
  let at: Element | null = document.activeElement
  if (at === null || !e.contains(at)) return null
  const path: number[] = []
  const id = at.id
  for (; at !== e && at !== null; at = at.parentElement) path.unshift([...(at.parentElement?.children ?? [])].indexOf(at))
  return { id, path }
}

function find(e: Element, place: Place): HTMLElement | null {
  let at: Element | undefined = place.id ? (e.querySelector("#" + CSS.escape(place.id)) ?? undefined) : undefined
  if (at === undefined) {
    at = e
    for (const i of place.path) at = at?.children[i]
  }
  return at instanceof HTMLElement ? at : null
}

/** What was opened stays open. */
function keepOpen(old: Element, next: Element) {
  const open = new Set([...old.querySelectorAll("details[open]>summary")].map((s) => s.textContent))
  for (const d of next.querySelectorAll("details")) {
    if (open.has(d.querySelector("summary")?.textContent ?? "")) d.open = true
  }
}
