import { controls, fetchPage, touched } from "./fetched"
import { Renewal } from "./renew"
import { words } from "./words"

const soon = 150 // ms: several changes come together
const apart = 2000 // ms between two looks
const patience = 4000 // ms without a line before it is said

/**
 * Brings the marked parts of the page up to date when something was kept or told, says so
 * to readers, and says when the server is silent.
 */
export class Live extends HTMLElement {
  private line: EventSource | null = null
  private renewal = new Renewal(document)
  private seen = 0 // when the page was last as the server has it
  private asked = 0 // when it was last asked for
  private timer = 0
  private due = Infinity
  private busy = false
  private silent = 0
  private away = false

  connectedCallback() {
    this.seen = Number(this.getAttribute("at")) || Date.now()
    this.wait(document)
    document.addEventListener("visibilitychange", () => this.look())
    window.addEventListener("pageshow", (e) => e.persisted && this.schedule())
    window.addEventListener("pagehide", () => this.close())
    this.look()
  }

  /** A page that nobody sees holds no line: a browser opens few of them. */
  private look() {
    if (document.hidden) return this.close()
    if (this.line === null) this.open()
  }

  private open(again = false) {
    const line = new EventSource("/live")
    this.line = line
    line.onopen = () => {
      clearTimeout(this.silent)
      this.silent = 0
      if (again || this.away || Date.now() - this.seen > apart) this.schedule()
      again = true
    }
    line.addEventListener("changed", () => this.schedule())
    line.addEventListener("told", () => this.schedule())
    line.onerror = () => {
      this.silent ||= setTimeout(() => this.say(true), patience)
      if (line.readyState === EventSource.CLOSED && this.line === line) {
        this.line = null
        setTimeout(() => this.line === null && !document.hidden && this.open(true), patience)
      }
    }
  }

  private close() {
    this.line?.close()
    this.line = null
    clearTimeout(this.silent)
    this.silent = 0
  }

  /** Looks again after so many ms, or sooner where that was meant already. */
  private schedule(after = Math.max(soon, this.asked + apart - Date.now())) {
    const due = Date.now() + after
    if (due >= this.due) return
    clearTimeout(this.timer)
    this.due = due
    this.timer = setTimeout(() => this.refresh(), after)
  }

  private async refresh() {
    this.due = Infinity
    if (this.busy) return this.schedule()
    this.busy = true
    this.asked = Date.now()
    try {
      const page = await fetchPage(location.href)
      if (page !== null) {
        this.seen = Date.now()
        this.say(false)
        this.take(page)
      }
    } catch {
      this.say(true)
      this.schedule(patience)
    }
    this.busy = false
  }

  private take(page: Document) {
    const script = (d: Document) => d.querySelector("script[src]")?.getAttribute("src")
    if (script(page) !== script(document) && !controls(document).some(touched)) return location.reload()
    this.wait(page)
    document.title = page.title
    const came = this.renewal.bring(page)
    const names = came.map((e) => e.getAttribute("data-live") ?? "").filter((name) => name !== "")
    if (came.length > 0) document.dispatchEvent(new Event("spile-renewed"))
    if (names.length > 0) this.announce(words.renewed([...new Set(names)]))
  }

  /** While something is being worked out, all of the page is new, and it is asked for again. */
  private wait(page: Document) {
    const again = Number(page.querySelector("spile-live")?.getAttribute("again"))
    const main = document.getElementById("main")
    if (again > 0) {
      main?.setAttribute("data-live", "")
      this.schedule(again * 1000)
    }
    if (main?.hasAttribute("data-live")) page.getElementById("main")?.setAttribute("data-live", "")
  }

  private announce(text: string) {
    const line = document.createElement("span")
    line.className = "hidden"
    line.textContent = text
    this.replaceChildren(line)
  }

  private say(away: boolean) {
    if (away === this.away) return
    this.away = away
    document.dispatchEvent(new CustomEvent("spile-away", { detail: away }))
    if (!away) return this.announce(words.back)
    const line = document.createElement("p")
    line.className = "away"
    const at = new Date(this.seen).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" })
    line.textContent = words.away(at)
    this.replaceChildren(line)
  }
}
