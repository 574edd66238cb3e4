/** Something that was sent, and that the server has not taken yet. */
export type Waiting = {
  id: string
  address: string
  fields: [string, string][]
  at: string // when it was typed, RFC 3339
  says: string
  refused?: string // why the server would not take it
}

const kept = "spile-kept"
const used = "spile-used"
const mostUsed = 500

function read<T>(name: string): T[] {
  try {
    const list: unknown = JSON.parse(localStorage.getItem(name) ?? "[]")
    return Array.isArray(list) ? (list as T[]) : []
  } catch {
    return []
  }
}

/** What waits, the oldest first. It is in the browser's own store, so that closing the page loses nothing. */
export const waiting = () => read<Waiting>(kept)

/** Keeps one, in the place of what stood under its id. False where the browser has no room. */
export function keep(one: Waiting): boolean {
  const list = waiting()
  const at = list.findIndex((w) => w.id === one.id)
  if (at < 0) list.push(one)
  else list[at] = one
  try {
    localStorage.setItem(kept, JSON.stringify(list))
    return true
  } catch {
    return false
  }
}

export function forget(id: string) {
  localStorage.setItem(kept, JSON.stringify(waiting().filter((w) => w.id !== id)))
}

/** Whether an id was given away before, as by a page that the browser kept. */
export function usedBefore(id: string): boolean {
  return read<string>(used).includes(id)
}

export function use(id: string) {
  try {
    localStorage.setItem(used, JSON.stringify([...read<string>(used), id].slice(-mostUsed)))
  } catch {
    // no room; then nothing is kept either
  }
}
