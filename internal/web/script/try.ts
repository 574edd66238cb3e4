import { isPage, parsePage } from "./fetched"

const pause = 60 // ms without another change

let timer = 0
let asking: AbortController | null = null

/** Answers what is tried while it is set, in the place of the answer that stands there. */
export function answerTries() {
  const changed = (e: Event) => {
    const form = e.target instanceof Element ? e.target.closest<HTMLFormElement>("form.trying") : null
    if (form === null) return
    clearTimeout(timer)
    timer = setTimeout(() => ask(addressOf(form), false), pause)
  }
  document.addEventListener("input", changed)
  document.addEventListener("change", changed)
  document.addEventListener("click", (e) => {
    const back = e.target instanceof Element ? e.target.closest<HTMLAnchorElement>("form.trying a") : null
    if (back === null || new URL(back.href).pathname !== location.pathname || e.ctrlKey || e.metaKey || e.shiftKey) return
    e.preventDefault()
    clearTimeout(timer) // leaving the field for this link counts as a change of it
    void ask(back.href, true)
  })
}

function addressOf(form: HTMLFormElement): string {
  const address = new URL(form.action)
  for (const [name, value] of new FormData(form)) if (typeof value === "string") address.searchParams.set(name, value)
  return address.href
}

/** Takes the answer, and the form with it where that goes back. The address holds what is tried, so that it can be kept. */
async function ask(address: string, back: boolean) {
  asking?.abort()
  const mine = (asking = new AbortController())
  const place = document.getElementById("tried")
  place?.setAttribute("aria-busy", "true")
  try {
    const answer = await fetch(address, { headers: { Accept: "text/html" }, signal: mine.signal })
    const page = isPage(answer) && (answer.ok || answer.status === 422) ? parsePage(await answer.text()) : null
    const fresh = page?.getElementById("tried")
    if (mine.signal.aborted || !page || !fresh) return
    const problems = [...page.querySelectorAll("form.trying .error")].map((e) => document.importNode(e, true))
    for (const e of problems) e.removeAttribute("id")
    place?.replaceChildren(...problems, ...fresh.childNodes)
    const form = page.querySelector("form.trying")
    if (back && form !== null) document.querySelector("form.trying")?.replaceWith(document.importNode(form, true))
    history.replaceState(history.state, "", address)
    document.dispatchEvent(new Event("spile-renewed"))
  } catch {
    if (!mine.signal.aborted) location.assign(address) // as without script
  } finally {
    if (asking === mine) place?.removeAttribute("aria-busy")
  }
}
