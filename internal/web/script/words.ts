// All that the scripts say comes with the page, in its language; a slot stands in braces.
const told: Record<string, string> = JSON.parse(document.getElementById("words")?.textContent ?? "{}") as Record<string, string>

const say = (name: string, slots: Record<string, string | number> = {}) =>
  (told[name] ?? "").replace(/\{(\w+)\}/g, (_, slot: string) => String(slots[slot] ?? ""))

export const words = {
  renewed: (names: string[]) => say("renewed", { names: names.join(", ") }),
  away: (since: string) => say("away", { since }),
  back: say("back"),
  expected: say("expected"),
  less: (what: string) => say("less", { what }),
  more: (what: string) => say("more", { what }),
  kept: say("kept"),
  full: say("full"),
  sent: say("sent"),
  refused: say("refused"),
  tryAgain: say("tryAgain"),
  discard: say("discard"),
  looked: say("looked"),
  between: (low: string, high: string) => say("between", { low, high }),
  read: (value: string) => say("read", { value }),
  readMany: (n: number, low: string, high: string) => say("readMany", { n, low, high }),
  now: say("now"),
  plan: say("plan"),
} as const
