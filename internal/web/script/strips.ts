import uPlot from "uplot"
import { withUnit, written, type Drawn, type Strip } from "./drawn"
import { Ink } from "./ink"
import { above, drawBase, drawMarks, drawSpans } from "./marks"
import { words } from "./words"

const head = 24 // px above each strip
const base = 104 // px for plan and time axis

/** Draws the strips of a vessel in the place of those that the server drew, as high as those were. */
export function addStrips() {
  if (!/^\/vessels\/[^/]+$/.test(location.pathname)) return
  for (const figure of document.querySelectorAll("figure.strips:not(:has(spile-strips))")) {
    const strips = document.createElement("spile-strips")
    strips.setAttribute("src", location.pathname + "/strips.json")
    figure.prepend(strips)
  }
}

export class Strips extends HTMLElement {
  private drawn: Drawn | null = null
  private plots: uPlot[] = []
  private heads: HTMLElement[] = []
  private at = -1
  private readonly sizes = new ResizeObserver(() => this.resize())
  private readonly dark = matchMedia("(prefers-color-scheme:dark)")
  private readonly redraw = () => this.plots.forEach((p) => p.redraw(false))

  async connectedCallback() {
    const answer = await fetch(this.getAttribute("src") ?? "").catch(() => null)
    if (answer?.status !== 200 || !this.isConnected) return // what the server drew stays
    this.drawn = (await answer.json()) as Drawn
    const height = this.height()
    this.build(this.drawn, height)
    this.sizes.observe(this)
    this.dark.addEventListener("change", this.redraw)
  }

  disconnectedCallback() {
    this.sizes.disconnect()
    this.dark.removeEventListener("change", this.redraw)
    this.plots.forEach((p) => p.destroy())
    this.plots = []
  }

  /** The height of the drawing of the server at this width. */
  private height(): number {
    const figure = this.parentElement
    const wide = window.matchMedia("(max-width:620px)").matches ? "svg.narrow" : "svg.wide"
    const box = figure?.querySelector<SVGSVGElement>(wide)?.viewBox.baseVal
    const width = figure?.clientWidth ?? 0
    return box === undefined || box.width === 0 ? 0.9 * width : (width * box.height) / box.width
  }

  private build(d: Drawn, height: number) {
    const width = this.parentElement?.clientWidth ?? 0
    const each = this.each(d, height)
    for (const s of d.strips) {
      const line = document.createElement("div")
      line.className = "head"
      this.heads.push(line)
      const place = document.createElement("div")
      this.append(line, place)
      this.plots.push(new uPlot({ ...stripOptions(d, s), width, height: each }, columnsOf(d, s), place))
    }
    const place = document.createElement("div")
    this.append(place)
    this.plots.push(new uPlot({ ...baseOptions(d), width, height: base }, [[0, d.end], [null, null]], place))
    for (const p of this.plots) p.over.addEventListener("mousemove", () => this.look(nearest(d, p.cursor.left === undefined ? NaN : p.posToVal(p.cursor.left, "x"))))
    this.addEventListener("mouseleave", () => this.look(-1))
    this.addEventListener("blur", () => this.look(-1))
    this.addEventListener("keydown", (e) => this.pressed(e, d))
    this.setAttribute("role", "slider")
    this.setAttribute("aria-label", words.looked)
    this.setAttribute("aria-valuemin", "0")
    this.setAttribute("aria-valuemax", String(Math.round(d.end)))
    this.tabIndex = 0
    this.say(-1)
    this.classList.add("drawn")
  }

  private each(d: Drawn, height: number): number {
    return Math.max(Math.floor((height - base) / d.strips.length) - head, 60)
  }

  private resize() {
    const width = this.parentElement?.clientWidth ?? 0
    if (this.drawn === null || width === 0 || width === this.plots[0]?.width) return
    const each = this.each(this.drawn, this.height())
    this.plots.forEach((p, i) => p.setSize({ width, height: i < this.plots.length - 1 ? each : base }))
  }

  private pressed(e: KeyboardEvent, d: Drawn) {
    const last = d.times.length - 1
    const from = this.at < 0 ? nearest(d, d.now ?? 0) : this.at
    const day = (by: number) => nearest(d, (d.strips[0]?.hours[from] ?? 0) + by)
    const to: Record<string, number> = {
      ArrowLeft: from - 1, ArrowRight: from + 1, ArrowDown: from - 1, ArrowUp: from + 1, PageDown: day(-24), PageUp: day(24), Home: 0, End: last,
    }
    const next = to[e.key]
    if (next === undefined) return
    e.preventDefault()
    this.look(Math.min(Math.max(next, 0), last))
  }

  /** Looks at one time on all strips; -1 looks at none. */
  private look(at: number) {
    if (at === this.at) return
    this.at = at
    const hour = this.drawn?.strips[0]?.hours[at]
    for (const p of this.plots) p.setCursor({ left: hour === undefined ? -10 : p.valToPos(hour, "x"), top: 0 }, false)
    this.say(at)
  }

  private say(at: number) {
    const d = this.drawn
    if (d === null) return
    const shown = at < 0 ? nearest(d, d.now ?? 0) : at
    this.setAttribute("aria-valuenow", String(Math.round(d.strips[0]?.hours[shown] ?? 0)))
    const told = d.strips.map((s) => valueAt(s, shown, d.end))
    this.setAttribute("aria-valuetext", d.times[shown] + ": " + d.strips.map((s, i) => s.name.split(",")[0] + " " + told[i]).join("; "))
    d.strips.forEach((s, i) => {
      const name = s.unit === "" ? s.name : s.name + " (" + s.unit + ")"
      const left = document.createElement(at < 0 ? "b" : "span")
      left.textContent = at < 0 ? name : (i === 0 ? d.times[at] + ": " : "") + told[i]
      const right = document.createElement("span")
      right.className = "limit-text"
      right.textContent = above(s)
      this.heads[i]?.replaceChildren(left, right)
    })
  }
}

/** The value at a time with its band, and what was read about then. */
function valueAt(s: Strip, at: number, end: number): string {
  const [hour, mid, low, high] = [s.hours[at] ?? 0, s.p50[at] ?? NaN, s.p05[at] ?? NaN, s.p95[at] ?? NaN]
  const said = [withUnit(s, mid) + ", " + words.between(written(s, low), written(s, high))]
  const close = end / 120
  const reading = s.readings.filter((r) => Math.abs(r.hour - hour) < close).sort((a, b) => Math.abs(a.hour - hour) - Math.abs(b.hour - hour))[0]
  if (reading !== undefined) said.push(words.read(withUnit(s, reading.value)))
  const span = s.spans.find(([h]) => Math.abs(h - hour) < end / 900)
  if (span !== undefined) said.push(words.readMany(span[3], written(s, span[1]), written(s, span[2])))
  return said.join("; ")
}

/** The place among the times that is nearest to an hour; -1 for none. */
function nearest(d: Drawn, hour: number): number {
  const hours = d.strips[0]?.hours ?? []
  let best = -1
  hours.forEach((h, i) => {
    if (best < 0 || Math.abs(h - hour) < Math.abs((hours[best] ?? 0) - hour)) best = i
  })
  return Number.isNaN(hour) ? -1 : best
}

type Column = (number | null)[]

/** Low, high and middle up to now, then the same ahead; both have now itself. */
function columnsOf(d: Drawn, s: Strip): uPlot.AlignedData {
  const now = s.hours.findLastIndex((h) => d.now === null || h <= d.now)
  const past = (v: number[]): Column => v.map((x, i) => (i <= now ? x : null))
  const ahead = (v: number[]): Column => v.map((x, i) => (i >= now ? x : null))
  return [s.hours, past(s.p05), past(s.p95), past(s.p50), ahead(s.p05), ahead(s.p95), ahead(s.p50)]
}

const leftOf = () => (document.documentElement.clientWidth < 620 ? 44 : 50)

function common(d: Drawn): Pick<uPlot.Options, "legend" | "cursor" | "select" | "scales"> {
  return {
    legend: { show: false },
    cursor: { y: false, points: { show: false }, drag: { x: false, y: false, setScale: false } },
    select: { show: false, left: 0, top: 0, width: 0, height: 0 },
    scales: { x: { time: false, range: [0, d.end] } },
  }
}

function stripOptions(d: Drawn, s: Strip): Omit<uPlot.Options, "width" | "height"> {
  const role = (name: string) => (u: uPlot) => new Ink(u).colour(name)
  const edge: uPlot.Series = { stroke: role("belief"), width: 0.8, points: { show: false } }
  const line: uPlot.Series = { stroke: role("belief"), width: 2.2, points: { show: false } }
  const incrs = [-4, -3, -2, -1, 0, 1, 2, 3].flatMap((p) => [1, 2, 5].map((m) => m * 10 ** p)).filter((step) => step > s.finest * 0.99)
  const decimals = (step: number) => (s.unit === "" ? s.decimals : Math.max(0, Math.ceil(-Math.log10(step) - 1e-9)))
  const c = common(d)
  return {
    ...c,
    padding: [4, 14, 4, 0],
    scales: { ...c.scales, y: { range: () => s.scale } },
    axes: [
      { size: 0, splits: () => d.days.map((x) => x.hour), values: (_, splits) => splits.map(() => ""), grid: { stroke: (u) => new Ink(u).faint("rule"), width: 0.5 }, ticks: { show: false } },
      {
        size: leftOf(), font: "13px " + getComputedStyle(document.body).fontFamily, incrs, space: 26, stroke: role("quiet"), grid: { show: false }, gap: 3,
        values: (_u, splits, _axis, _space, step) => splits.map((v) => written(s, v, decimals(step))),
        border: { show: true, stroke: role("rule"), width: 1 }, ticks: { stroke: role("rule"), width: 1, size: 4 },
      },
    ],
    series: [{}, edge, edge, line, edge, edge, { ...line, dash: [7, 4] }],
    bands: [
      { series: [2, 1], fill: role("tint") as uPlot.Band.Fill },
      { series: [5, 4], fill: ((u: uPlot) => new Ink(u).hatch()) as uPlot.Band.Fill },
    ],
    hooks: { drawAxes: [(u) => drawSpans(u, s)], draw: [(u) => drawMarks(u, s, d.now)] },
  }
}

function baseOptions(d: Drawn): Omit<uPlot.Options, "width" | "height"> {
  return {
    ...common(d),
    padding: [0, 14, 44, leftOf()],
    axes: [{ show: false }, { show: false }],
    series: [{}, { show: true, points: { show: false } }],
    hooks: { draw: [(u) => drawBase(u, d)] },
  }
}
