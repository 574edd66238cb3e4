/** The strips of a vessel as the server gives them: hours since pitching, units of whoever looks. */
export type Drawn = {
  now: number | null
  end: number
  days: { hour: number; day: string; date: string }[]
  times: string[] // of the hours of the strips, in words
  strips: Strip[]
  plan: Mark[]
  done: Mark[]
}

export type Mark = { hour: number; text: string }

export type Strip = {
  name: string
  unit: string
  mark: string // of decimals
  finest: number
  decimals: number
  scale: [number, number]
  hours: number[]
  p05: number[]
  p50: number[]
  p95: number[]
  readings: Reading[]
  spans: [hour: number, low: number, high: number, count: number][]
  limits: { value: number; label: string }[]
}

export type Reading = { hour: number; value: number; error: number; doubt?: boolean; sensor?: boolean }

/** A number as the trade writes it. */
export function written(s: Strip, value: number, decimals = s.decimals): string {
  const step = Math.max(s.finest, 10 ** -decimals)
  const text = (Math.round(value / step) * step).toFixed(decimals).replace(/^-(0\.?0*)$/, "$1")
  return text.replace(".", s.mark)
}

export function withUnit(s: Strip, value: number): string {
  return s.unit === "" ? written(s, value) : written(s, value) + "\u00a0" + s.unit
}
