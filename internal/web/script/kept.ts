import { controls, isPage, parsePage, touched } from "./fetched"
import { newID } from "./id"
import { forget, keep, use, usedBefore, waiting, type Waiting } from "./queue"
import { words } from "./words"

const again = 15000 // ms between two tries
const patience = 10000 // ms until an answer is no longer waited for

type Answer =
  | { kind: "taken"; to: string }
  | { kind: "asks"; page: Document } // something was wrong with it, or the server has no room
  | { kind: "silent" }

/**
 * Sends what was read and done, and keeps it while the server is away. Each has its id
 * and time from here, so that sending it twice keeps it once, and at its own time.
 */
export class Kept {
  private readonly list = document.createElement("section")
  private sending: string | undefined // the id of the form that is on its way
  private draining = false // what was kept is sent meanwhile: no form waits for it
  private returned = false // somebody went back to this page, and it is as it was left

  start() {
    this.list.className = "waiting"
    this.list.setAttribute("aria-label", words.kept)
    document.getElementById("main")?.before(this.list)
    document.addEventListener("submit", (e) => this.submitted(e))
    window.addEventListener("pageshow", (e) => (this.returned = e.persisted))
    window.addEventListener("online", () => this.drain())
    window.addEventListener("storage", () => this.show())
    document.addEventListener("spile-away", (e) => (e as CustomEvent<boolean>).detail || this.drain())
    setInterval(() => this.drain(), again)
    void this.drain()
    this.show()
  }

  private submitted(e: SubmitEvent) {
    const form = e.target as HTMLFormElement
    if (form.querySelector("input[data-now]") === null) return
    e.preventDefault()
    if (this.sending === undefined) void this.send(form, noted(form, e.submitter, this.returned))
  }

  private async send(form: HTMLFormElement, one: Waiting) {
    this.sending = one.id
    const held = keep(one) // before anything can go wrong
    one.fields.filter(isID).forEach(([, id]) => use(id))
    const answer = await post(one, false)
    this.sending = undefined
    if (answer.kind === "taken") {
      forget(one.id)
      return location.assign(answer.to)
    }
    if (answer.kind === "asks") {
      forget(one.id)
      return showInPlace(answer.page)
    }
    if (!held) return this.show(words.full)
    form.reset()
    this.returned = false // what is typed now is another
    this.show()
    this.list.scrollIntoView({ block: "nearest" })
  }

  /** Sends what waits, the oldest first, until the server is silent. */
  private async drain() {
    if (this.draining || this.sending !== undefined || !waiting().some((w) => w.refused === undefined)) return
    this.draining = true
    const work = () => this.sendAll()
    // one page at a time where the browser can say so; twice would do no harm
    const sent = await ("locks" in navigator ? navigator.locks.request("spile-kept", work) : work())
    this.draining = false
    this.show(sent > 0 ? words.sent : undefined)
  }

  private async sendAll(): Promise<number> {
    let sent = 0
    for (const one of waiting()) {
      if (one.refused !== undefined || one.id === this.sending) continue
      const answer = await post(one, true)
      if (answer.kind === "silent") break
      if (answer.kind === "asks") keep({ ...one, refused: reason(answer.page) })
      else {
        forget(one.id)
        sent++
      }
    }
    return sent
  }

  private show(said?: string) {
    const all = waiting()
    const lines: Node[] = []
    if (said !== undefined) lines.push(element("p", said))
    const late = all.filter((w) => w.refused === undefined)
    if (late.length > 0) lines.push(element("p", words.kept), listOf(late))
    for (const w of all.filter((w) => w.refused !== undefined)) lines.push(this.refused(w))
    this.list.setAttribute("role", "status")
    this.list.replaceChildren(...lines)
  }

  /** What the server does not take stays until somebody says what is to become of it. */
  private refused(one: Waiting): HTMLElement {
    const box = element("div", "")
    const retry = element("button", words.tryAgain)
    retry.addEventListener("click", () => {
      keep({ ...one, refused: undefined })
      void this.drain()
    })
    const discard = element("button", words.discard)
    discard.className = "plain"
    discard.addEventListener("click", () => {
      forget(one.id)
      this.show()
    })
    box.append(element("p", words.refused), listOf([one]), element("p", one.refused ?? ""), retry, " ", discard)
    return box
  }
}

const isID = ([name]: [string, string]) => name === "id" || name.startsWith("id-") // of one entry, or of each vessel of a round

/**
 * What a form holds, with ids that no other has. Who goes back to a form sends it again under the same ids, so that
 * nothing is kept twice; a page that was kept for when the server is away is another one each time that it is opened.
 */
function noted(form: HTMLFormElement, submitter: HTMLElement | null, returned: boolean): Waiting {
  const fields = [...new FormData(form, submitter)].map(([k, v]): [string, string] => [k, String(v)])
  for (const f of fields.filter(isID)) if (!returned && usedBefore(f[1])) f[1] = newID()
  let id = fields.find(([k]) => k === "id")?.[1]
  if (id === undefined) fields.push(["id", (id = newID())])
  return { id, address: form.action, fields, at: new Date().toISOString(), says: inWords(form) }
}

async function post(one: Waiting, late: boolean): Promise<Answer> {
  const body = new URLSearchParams(one.fields)
  if (late) body.set("at", one.at) // what comes at once needs no clock but the server's
  try {
    const answer = await fetch(one.address, { method: "POST", body, headers: { Accept: "text/html", "Spile-Script": "1" }, signal: AbortSignal.timeout(patience) })
    const to = answer.headers.get("Spile-To")
    if (to !== null) return { kind: "taken", to }
    if (answer.redirected || !isPage(answer)) return { kind: "silent" } // somebody else answered, as where a login is asked for
    const page = parsePage(await answer.text())
    const known = answer.status < 500 || page.querySelector("input[data-now]") !== null
    return known ? { kind: "asks", page } : { kind: "silent" }
  } catch {
    return { kind: "silent" }
  }
}

/** Shows an answer as if the page had been sent. */
function showInPlace(page: Document) {
  const main = page.getElementById("main")
  if (main === null) return
  document.title = page.title
  document.getElementById("main")?.replaceWith(document.importNode(main, true))
  document.dispatchEvent(new Event("spile-renewed"))
  const problem = document.querySelector<HTMLElement>(".problem, .error")
  problem?.scrollIntoView({ block: "nearest" })
  problem?.focus()
}

function reason(page: Document): string {
  const said = [...page.querySelectorAll(".problem li, .error")].map((e) => e.textContent?.trim() ?? "")
  return said[0] ?? page.querySelector("main p")?.textContent?.trim() ?? ""
}

/** What a form says, for whoever sees it again later. */
function inWords(form: HTMLFormElement): string {
  const parts = controls(form).filter((c) => c.type !== "hidden" && touched(c)).map((c) => {
    const label = c.labels?.[0]?.cloneNode(true) as HTMLElement | undefined
    label?.querySelector(".quiet")?.remove()
    const name = label?.textContent?.trim() ?? c.name
    if (c.type === "radio" || c.type === "checkbox") return name
    const unit = c.parentElement?.querySelector(".unit")?.textContent ?? ""
    return (name + " " + c.value + " " + unit).trim()
  })
  const where = document.querySelector(".stage")?.textContent?.trim() ?? ""
  const what = document.querySelector("h1")?.textContent?.trim() ?? ""
  return [where, what, parts.join(", ")].filter((t) => t !== "").join(": ")
}

function listOf(items: Waiting[]): HTMLElement {
  const list = document.createElement("ul")
  const time: Intl.DateTimeFormatOptions = { weekday: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }
  for (const w of items) list.append(element("li", w.says + " (" + new Date(w.at).toLocaleString(document.documentElement.lang, time) + ")"))
  return list
}

function element<K extends keyof HTMLElementTagNameMap>(name: K, text: string): HTMLElementTagNameMap[K] {
  const e = document.createElement(name)
  e.textContent = text
  return e
}
