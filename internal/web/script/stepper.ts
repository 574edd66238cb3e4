import { words } from "./words"

const decimals = (text: string) => (text.split(/[.,]/)[1] ?? "").length
const number = (text: string) => Number(text.trim().replace(",", "."))

/**
 * Puts a button for less and one for more around each field that is marked. The field
 * shows what is expected, and says so, but holds nothing until somebody puts it there.
 */
export function addSteppers(within: ParentNode) {
  for (const field of within.querySelectorAll<HTMLInputElement>("input[data-step]:not([data-stepping])")) stepper(field)
}

function stepper(field: HTMLInputElement) {
  const expected = field.dataset.expected ?? ""
  const label = field.labels?.[0]?.cloneNode(true) as HTMLElement | undefined
  label?.querySelector(".quiet")?.remove()
  const what = label?.textContent?.trim() ?? ""
  field.dataset.stepping = ""
  field.parentElement?.classList.add("stepped")
  field.before(button("−", words.less(what), () => move(field, -1)))
  const unit = field.parentElement?.querySelector(".unit")
  ;(unit ?? field).after(button("+", words.more(what), () => move(field, 1)))
  if (expected === "") return
  field.placeholder = expected
  const word = document.createElement("span")
  word.className = "expected"
  word.textContent = words.expected
  ;(unit ?? field).after(word)
  const same = field.closest(".field")?.querySelector<HTMLInputElement>("input[name=just]")
  field.addEventListener("input", () => same && (same.checked = false))
  same?.addEventListener("change", () => same.checked && (field.value = ""))
}

function button(sign: string, said: string, press: () => void): HTMLButtonElement {
  const b = document.createElement("button")
  b.type = "button"
  b.className = "step"
  b.textContent = sign
  b.setAttribute("aria-label", said)
  b.addEventListener("click", press)
  return b
}

/** Goes a step from what stands in the field, or from where it begins. */
function move(field: HTMLInputElement, by: number) {
  const { step = "1", expected = "", begins = "", min = "-Infinity", max = "Infinity" } = field.dataset
  const text = field.value.trim() === "" ? expected || begins : field.value
  const from = number(text)
  if (Number.isNaN(from)) return field.focus()
  const value = Math.min(Math.max(from + by * number(step), number(min)), number(max))
  const mark = (text + step).includes(",") ? "," : "."
  const shown = value.toFixed(Math.max(decimals(step), decimals(text))).replace(/^-(0\.?0*)$/, "$1")
  field.value = shown.replace(".", mark)
  field.dispatchEvent(new Event("input", { bubbles: true }))
}
