/** A page of this server as it is sent now; null where somebody else answered in its place. */
export async function fetchPage(address: string, signal?: AbortSignal): Promise<Document | null> {
  const answer = await fetch(address, { headers: { Accept: "text/html" }, signal })
  const asked = new URL(address, location.href)
  const ours = answer.ok && isPage(answer) && new URL(answer.url).pathname === asked.pathname
  return ours ? parsePage(await answer.text()) : null
}

export function isPage(answer: Response): boolean {
  return (answer.headers.get("Content-Type") ?? "").startsWith("text/html")
}

export function parsePage(source: string): Document {
  return new DOMParser().parseFromString(source, "text/html")
}

export type Control = HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement

/** Whether somebody has put something into it that the server did not. */
export function touched(c: Control): boolean {
  if (c instanceof HTMLSelectElement) return [...c.options].some((o) => o.selected !== o.defaultSelected)
  if (c instanceof HTMLInputElement && (c.type === "radio" || c.type === "checkbox")) return c.checked !== c.defaultChecked
  return c.type !== "hidden" && c.value !== c.defaultValue
}

export function controls(within: ParentNode): Control[] {
  return [...within.querySelectorAll<Control>("input,textarea,select")]
}
