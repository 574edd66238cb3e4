import type uPlot from "uplot"

/** What is drawn on: one canvas, its scale to the screen, and the colours by meaning. */
export class Ink {
  readonly ctx: CanvasRenderingContext2D
  readonly px: number // canvas pixels to one of the page
  private readonly style = getComputedStyle(document.documentElement)
  private readonly thin: number

  constructor(private readonly u: uPlot) {
    this.ctx = u.ctx
    this.px = devicePixelRatio
    this.thin = parseFloat(this.style.getPropertyValue("--thin")) || 1
  }

  colour(role: string): string {
    return this.style.getPropertyValue("--" + role).trim()
  }

  /** A colour at half its strength, where it is written in six digits. */
  faint(role: string): string {
    const colour = this.colour(role)
    return /^#[0-9a-f]{6}$/i.test(colour) ? colour + "80" : colour
  }

  x(hour: number): number {
    return this.u.valToPos(hour, "x", true)
  }

  y(value: number): number {
    return this.u.valToPos(value, "y", true)
  }

  pen(role: string, width: number, dash: number[] = []) {
    this.ctx.strokeStyle = this.colour(role)
    this.ctx.lineWidth = width * this.thin * this.px
    this.ctx.setLineDash(dash.map((d) => d * this.px))
  }

  /** Strokes a path given in pixels of the page from a point. */
  stroke(x: number, y: number, ...steps: [number, number][]) {
    this.outline(x, y, steps)
    this.ctx.stroke()
  }

  fill(role: string, x: number, y: number, ...steps: [number, number][]) {
    this.outline(x, y, steps)
    this.ctx.fillStyle = this.colour(role)
    this.ctx.fill()
  }

  private outline(x: number, y: number, steps: [number, number][]) {
    this.ctx.beginPath()
    this.ctx.moveTo(x, y)
    for (const [dx, dy] of steps) this.ctx.lineTo((x += dx * this.px), (y += dy * this.px))
  }

  text(words: string, x: number, y: number, role = "quiet", align: CanvasTextAlign = "left", weight = 400) {
    this.ctx.font = weight + " " + 13 * this.px + "px " + getComputedStyle(document.body).fontFamily
    this.ctx.fillStyle = this.colour(role)
    this.ctx.textAlign = align
    this.ctx.textBaseline = "alphabetic"
    this.ctx.setLineDash([])
    this.ctx.lineJoin = "round"
    this.ctx.lineWidth = 4 * this.px
    this.ctx.strokeStyle = this.colour("ground")
    this.ctx.strokeText(words, x, y) // what lies under it stays away from the letters
    this.ctx.fillText(words, x, y)
  }

  width(words: string): number {
    return this.ctx.measureText(words).width
  }

  /** Slanting lines, for what is not yet. */
  hatch(): CanvasPattern | string {
    const side = Math.round(8 * this.px)
    const tile = document.createElement("canvas")
    tile.width = tile.height = side
    const ctx = tile.getContext("2d")
    if (ctx === null) return this.colour("tint")
    ctx.strokeStyle = this.colour("belief")
    ctx.globalAlpha = 0.45
    ctx.lineWidth = 1.3 * this.thin * this.px
    for (const shift of [-side, 0, side]) {
      ctx.beginPath()
      ctx.moveTo(shift - 1, side + 1)
      ctx.lineTo(shift + side + 1, -1)
      ctx.stroke()
    }
    return this.ctx.createPattern(tile, "repeat") ?? this.colour("tint")
  }

  /** Draws with a pen of its own, inside what the scales span. */
  within(draw: () => void) {
    const { left, top, width, height } = this.u.bbox
    this.apart(() => {
      this.ctx.beginPath()
      this.ctx.rect(left, top, width, height)
      this.ctx.clip()
      draw()
    })
  }

  apart(draw: () => void) {
    this.ctx.save()
    draw()
    this.ctx.restore()
  }
}
