import { fetchPage } from "./fetched"

const pause = 60 // ms without another change

/** Answers what is tried while it is set, in the place of the answer that stands there. */
export class Try extends HTMLElement {
  private timer = 0
  private asking: AbortController | null = null

  connectedCallback() {
    this.addEventListener("input", (e) => this.soon(e.target))
    this.addEventListener("change", (e) => this.soon(e.target))
    this.addEventListener("click", (e) => {
      const back = e.target instanceof Element ? e.target.closest<HTMLAnchorElement>("a[data-back]") : null
      if (back === null || e.ctrlKey || e.metaKey || e.shiftKey) return
      e.preventDefault()
      void this.ask(back.href, true)
    })
  }

  private soon(at: EventTarget | null) {
    const form = at instanceof Element ? at.closest("form") : null
    if (form === null) return
    clearTimeout(this.timer)
    this.timer = setTimeout(() => {
      const address = new URL(form.action)
      address.search = new URLSearchParams(new FormData(form) as unknown as Record<string, string>).toString()
      void this.ask(address.href, false)
    }, pause)
  }

  /** Takes the answer, or all of the form where that goes back; the address holds what is tried, so that it can be kept. */
  private async ask(address: string, whole: boolean) {
    this.asking?.abort()
    const asking = new AbortController()
    this.asking = asking
    this.setAttribute("aria-busy", "true")
    try {
      const page = await fetchPage(address, asking.signal)
      const fresh = page?.querySelector("spile-try")
      const answer = fresh?.querySelector("[data-answer]")
      if (asking.signal.aborted || !fresh || !answer) return
      if (whole) this.replaceChildren(...fresh.childNodes)
      else this.querySelector("[data-answer]")?.replaceWith(answer)
      history.replaceState(history.state, "", address)
      document.dispatchEvent(new Event("spile-renewed"))
    } catch {
      if (!asking.signal.aborted) location.assign(address) // as without script
    } finally {
      if (this.asking === asking) this.removeAttribute("aria-busy")
    }
  }
}
