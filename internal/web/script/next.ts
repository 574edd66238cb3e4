/**
 * Enter in a field that says "next" goes to the next field of its form, as the key on a phone promises; in the last one
 * it sends, as without script.
 */
export function goOnWithEnter() {
  document.addEventListener("keypress", (e) => { // by which browsers send a form; a word that is still composed makes none
    if (e.key !== "Enter" || e.ctrlKey || e.metaKey || e.altKey || e.shiftKey) return
    const next = following(e.target)
    if (next === undefined) return
    e.preventDefault()
    next.focus()
    next.select()
  })
  document.addEventListener("focusin", (e) => {
    const field = e.target
    if (goesOn(field)) field.enterKeyHint = following(field) === undefined ? "send" : "next"
  })
}

const goesOn = (field: EventTarget | null): field is HTMLInputElement => field instanceof HTMLInputElement && field.hasAttribute("enterkeyhint")

/** The field that is typed into next: not one that is folded away or that nobody can type into. */
function following(field: EventTarget | null): HTMLInputElement | undefined {
  if (!goesOn(field)) return undefined
  const fields = [...(field.form?.elements ?? [])].filter((e) => goesOn(e) && !e.disabled && e.closest("details:not([open])") === null) as HTMLInputElement[]
  return fields[fields.indexOf(field) + 1]
}
