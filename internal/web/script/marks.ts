import type uPlot from "uplot"
import { withUnit, type Drawn, type Mark, type Strip } from "./drawn"
import { Ink } from "./ink"
import { words } from "./words"

/** What lies under the lines: columns of readings too many to tell apart. */
export function drawSpans(u: uPlot, s: Strip) {
  const ink = new Ink(u)
  ink.within(() => {
    ink.pen("rule", 2.2)
    for (const [hour, low, high] of s.spans) {
      const top = ink.y(high) - ink.px
      ink.stroke(ink.x(hour), top, [0, (ink.y(low) - top) / ink.px + 1])
    }
  })
}

/** What lies over the lines: limits, readings, now, and the value at the end. */
export function drawMarks(u: uPlot, s: Strip, now: number | null) {
  const ink = new Ink(u)
  ink.within(() => {
    if (now !== null) {
      ink.pen("rule", 1)
      ink.stroke(ink.x(now), u.bbox.top, [0, u.bbox.height / ink.px])
    }
    for (const l of s.limits) drawLimit(ink, u, l)
  })
  ink.apart(() => {
    for (const r of s.readings) drawReading(ink, u, r)
    drawEnd(ink, u, s)
  })
}

/** A bar with teeth on the forbidden side. */
function drawLimit(ink: Ink, u: uPlot, l: Strip["limits"][number]) {
  const y = ink.y(l.value)
  if (y < u.bbox.top) return
  const { left, width } = u.bbox
  ink.pen("limit", 1.6)
  ink.stroke(left, y, [width / ink.px, 0])
  for (let x = left; x < left + width - 4 * ink.px; x += 9 * ink.px) ink.stroke(x, y, [4.5, -5], [4.5, 5])
  ink.text(l.label, left + 6 * ink.px, y - 8 * ink.px, "limit")
}

/** The limits that lie above what is shown. */
export function above(s: Strip): string {
  const over = s.limits.find((l) => l.value > s.scale[1])
  return over === undefined ? "" : "↑ " + over.label
}

/** A ring with the error of the instrument; a tick for a sensor; a diamond in doubt. */
function drawReading(ink: Ink, u: uPlot, r: Strip["readings"][number]) {
  const { px } = ink
  const x = ink.x(r.hour)
  const y = ink.y(r.value)
  ink.pen("ink", 1)
  if (r.sensor && !r.doubt) return ink.stroke(x, y - 3 * px, [0, 6])
  const inside = (v: number) => Math.min(Math.max(ink.y(v), u.bbox.top), u.bbox.top + u.bbox.height)
  const top = inside(r.value + r.error)
  ink.stroke(x, top, [0, (inside(r.value - r.error) - top) / px])
  ink.pen("ink", 1.4)
  if (r.doubt) {
    ink.fill("ground", x, y - 7 * px, [7, 7], [-7, 7], [-7, -7], [7, -7])
    ink.ctx.stroke()
    return ink.text("?", x, y + 4.5 * px, "ink", "center", 700)
  }
  ink.ctx.beginPath()
  ink.ctx.arc(x, y, 3.6 * px, 0, 2 * Math.PI)
  ink.ctx.fillStyle = ink.colour("ground")
  ink.ctx.fill()
  ink.ctx.stroke()
}

function drawEnd(ink: Ink, u: uPlot, s: Strip) {
  const last = s.hours.length - 1
  const [mid, low, high] = [s.p50[last], s.p05[last], s.p95[last]]
  if (mid === undefined || low === undefined || high === undefined) return
  const up = ink.y(high) - 6 * ink.px
  const y = up < u.bbox.top + 10 * ink.px ? ink.y(low) + 16 * ink.px : up
  ink.text(withUnit(s, mid), u.bbox.left + u.bbox.width, y, "belief", "right")
}

/** The plan on its own strip, what was done as flags, the days, and the peg at now. */
export function drawBase(u: uPlot, d: Drawn) {
  const ink = new Ink(u)
  ink.apart(() => {
    const bottom = u.bbox.top + u.bbox.height
    drawPlan(ink, u, d)
    ink.pen("rule", 1)
    ink.stroke(u.bbox.left, bottom, [u.bbox.width / ink.px, 0])
    drawDays(ink, u, d, bottom)
    drawFlags(ink, u, d, bottom)
    if (d.now === null) return
    ink.fill("ink", ink.x(d.now), bottom, [5, -15], [-10, 0])
    ink.text(words.now, ink.x(d.now), bottom - 18 * ink.px, "ink", "center", 700)
  })
}

function drawPlan(ink: Ink, u: uPlot, d: Drawn) {
  if (d.plan.length === 0) return
  const { px } = ink
  const right = u.bbox.left + u.bbox.width
  const y = u.bbox.top + 20 * px
  ink.text(words.plan, u.bbox.left - 7 * px, y + 4 * px, "quiet", "right")
  let free = u.bbox.left
  d.plan.forEach((m: Mark, i) => {
    const from = ink.x(m.hour)
    const end = Math.min(ink.x(d.plan[i + 1]?.hour ?? d.end), right)
    const up = (i % 2) * 6
    ink.pen("ink", 1.6, [1.5, 3.5])
    ink.stroke(from, y - 6 * px, [0, 12 - up], [(end - from) / px, 0])
    const text = fitted(ink, m.text, right - from - 3 * px)
    if (text !== "" && from + 3 * px >= free) {
      ink.text(text, from + 3 * px, y - 8 * px)
      free = from + 10 * px + ink.width(text)
    }
  })
}

function fitted(ink: Ink, text: string, room: number): string {
  ink.text("", 0, 0)
  if (ink.width(text) <= room) return text
  let cut = text
  while (cut !== "" && ink.width(cut + "…") > room) cut = cut.slice(0, -1)
  return cut === "" ? "" : cut + "…"
}

function drawDays(ink: Ink, u: uPlot, d: Drawn, bottom: number) {
  const { px } = ink
  const day = ink.x(24) - ink.x(0)
  const every = Math.max(Math.ceil((34 * px) / day), 1)
  d.days.forEach(({ hour, day: name, date }, i) => {
    ink.pen("rule", 1)
    ink.stroke(ink.x(hour), bottom, [0, 5])
    const noon = ink.x(hour + 12)
    if (i % every !== 0 || noon > u.bbox.left + u.bbox.width - 10 * px) return
    const month = i === 0 || date.split(" ")[1] !== d.days[i - every]?.date.split(" ")[1]
    ink.text(name, noon, bottom + 18 * px, "quiet", "center")
    ink.text(month ? date : (date.split(" ")[0] ?? ""), noon, bottom + 33 * px, "quiet", "center")
  })
}

function drawFlags(ink: Ink, u: uPlot, d: Drawn, bottom: number) {
  const { px } = ink
  let free = u.bbox.left
  for (const m of d.done) {
    const x = ink.x(m.hour)
    ink.pen("ink", 1)
    ink.fill("ink", x, bottom, [0, -12], [8, 0], [-3, 3.5], [3, 3.5], [-7, 0], [0, 5])
    const end = x + ink.width(m.text)
    const peg = d.now === null ? NaN : ink.x(d.now)
    const clear = Number.isNaN(peg) || end < peg - 22 * px || x > peg + 22 * px
    if (x < free || !clear || end > u.bbox.left + u.bbox.width) continue
    ink.text(m.text, x, bottom - 15 * px) // above the flags, of which more may follow
    free = end + 4 * px
  }
}
