package advice

import (
	"math"
	"slices"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/wort"
)

// checkLimits hands package limit all that records and belief allow: the last
// reading, the edges of the belief now and while the plan is followed, the plate,
// the settings, and the worst cases.
func (v *view) checkLimits() []Limit { return worded(limit.Check(v.limitVessel()), v.style) }

// worded puts findings into words, the most urgent first.
func worded(found []limit.Finding, style unit.Style) []Limit {
	units := limit.In(style)
	var out []Limit
	for _, urgent := range []limit.Severity{limit.Now, limit.Today, limit.WhenYouCan} {
		for _, f := range found {
			if f.Severity == urgent {
				out = append(out, Limit{Finding: f, Sentence: f.Sentence(units)})
			}
		}
	}
	return out
}

func findingsOf(limits []Limit) []limit.Finding {
	out := make([]limit.Finding, len(limits))
	for i, l := range limits {
		out[i] = l.Finding
	}
	return out
}

func (v *view) limitVessel() limit.Vessel {
	n := &v.f.Now
	lv := limit.Vessel{
		Rating: v.batch.Vessel.Rating, SafetyRelief: v.batch.Vessel.SafetyRelief,
		WorkingValve: v.set.highRelief, Regulator: v.set.highGas, OverGas: v.set.overGas(),
		High: gauge(n.Pressure.P95), Low: gauge(n.Pressure.P05),
		WorstCase: &v.f.Worst.Contents, Gas: v.gassed(),
		Headspace: v.headspace(), Freezes: v.freezes(), Measured: v.measured(),
	}
	if lv.Gas {
		lv.RegulatorOpen = &v.f.Worst.Regulator
	}
	v.lookAhead(&lv)
	lv.Frozen, lv.CheckDue, lv.Due = v.upkeep.Frozen(&v.log), v.upkeep.Overdue(v.now), v.upkeep.Due
	return lv
}

// unrefuted are the values of q that count for a limit: the last one, and where a device
// or a file sent it all before it back to the last that a person read. For they can raise an
// alarm and never clear one.
func (v *view) unrefuted(q batch.Quantity) (values []float64) {
	for i := len(v.log.Readings) - 1; i >= 0; i-- {
		if r := &v.log.Readings[i]; r.Quantity == q {
			if values = append(values, r.Value); !r.Unattended {
				break
			}
		}
	}
	return values
}

// measured is the highest pressure read that counts for a limit; nil: none was read.
func (v *view) measured() *unit.Gauge {
	if p := v.unrefuted(batch.Pressure); len(p) > 0 {
		return gauge(slices.Max(p))
	}
	return nil
}

func gauge(pa float64) *unit.Gauge {
	g := unit.Gauge(pa)
	return &g
}

// lookAhead takes the extremes of the edges while the plan is followed.
func (v *view) lookAhead(lv *limit.Vessel) {
	s := &v.f.Series
	high, low, cold := math.Inf(-1), math.Inf(1), v.f.Now.Temperature.P05
	for i, h := range s.Hours {
		if h < v.hours() {
			continue
		}
		high = math.Max(high, s.Pressure[i].P95)
		low = math.Min(low, s.Pressure[i].P05)
		cold = math.Min(cold, s.Temperature[i].P05)
	}
	low = math.Min(low, float64(v.f.Lowest))
	if !math.IsInf(high, 0) {
		lv.AheadHigh, lv.AheadLow = gauge(high), gauge(low)
	}
	for _, t := range v.unrefuted(batch.Temperature) {
		cold = math.Min(cold, t)
	}
	coldest := unit.Temperature(cold)
	lv.Coldest = &coldest
}

// headspace is the share of gas once the beer is as warm as the hottest credible
// place makes it. The beer expands like water, 0.2 % too little at most.
func (v *view) headspace() *unit.Ratio {
	liquid := v.f.Now.Liquid.P95
	if !(liquid > 0) {
		liquid = float64(v.batch.Wort.Volume)
	}
	grows := wort.WaterDensity(unit.Temperature(v.f.Now.Temperature.P50)) / wort.WaterDensity(v.f.Worst.Hottest)
	share := unit.Ratio(1 - liquid*math.Max(grows, 1)/float64(v.batch.Vessel.Capacity))
	return &share
}

// freezes is the freezing point of the beer as it is now, at the upper edge of
// gravity: less alcohol, so the safe side.
func (v *view) freezes() *unit.Temperature {
	original := wort.ExtractFromGravity(v.batch.Wort.Gravity)
	apparent := wort.ExtractFromGravity(unit.Gravity(v.f.Now.Gravity.P95))
	beer := wort.FromApparent(original, min(apparent, original))
	t := wort.FreezingPoint(beer.Real, unit.Ratio(beer.Ethanol))
	return &t
}

// gassed tells that a cylinder is or will be connected.
func (v *view) gassed() bool { return v.batch.Gas != nil || v.set.highGas != nil }

// worst is the worst-case line: what it could reach, against the weakest part.
func (v *view) worst() string {
	w := v.f.Worst
	value, temp := limit.Bounded(v.style, w.Contents, v.style.Dials), v.style.Temperature(w.Hottest, 0)
	line := v.say("worst norating", "value", value, "temp", temp)
	if r := v.batch.Vessel.Rating; r != nil {
		line = v.say("worst", "value", value, "temp", temp, "limit", v.style.LimitDials(*r))
	}
	if w.Regulator > 0 && v.gassed() {
		line += " " + v.say("worst regulator", "value", limit.Bounded(v.style, w.Regulator, v.style.Dials))
	}
	return line
}

// pressureHigh: at or above a limit now, or well above the highest setting the
// working valve ever had.
func (v *view) pressureHigh() bool {
	for _, l := range v.limits {
		if (l.Kind == limit.OverRating || l.Kind == limit.OverSafety) && l.Severity == limit.Now && l.Value.Known && l.Limit.Known {
			return true
		}
	}
	high := v.f.Now.Pressure.P05
	if r := v.last(batch.Pressure); r != nil && v.now.Sub(r.Time).Hours() < oldHours {
		high = math.Max(high, slices.Max(v.unrefuted(batch.Pressure)))
	}
	relief, gas := v.set.highRelief, v.set.highGas
	return relief != nil && high > float64(*relief)+overSetting && (gas == nil || high > float64(*gas)+overSetting)
}

// Extremes are the edges of a run that is known, not believed.
type Extremes struct {
	High, Low            unit.Gauge
	Coldest, Hottest     unit.Temperature
	WorstCase, Regulator unit.Gauge
	Gravity              unit.Gravity // at the coldest
}

// CheckPlan looks at the limits of a plan that was run on a vessel known exactly.
func CheckPlan(b *batch.Batch, x Extremes, style unit.Style) []Limit {
	return worded(limit.Check(plannedVessel(b, x)), style)
}

func plannedVessel(b *batch.Batch, x Extremes) limit.Vessel {
	v := view{batch: b, f: &estimate.Forecast{}, clock: clock{now: b.Pitched}}
	for i := range b.Programme {
		v.set.extremes(b.Programme[i].Set)
	}
	v.f.Now.Temperature.P50, v.f.Now.Gravity.P95, v.f.Worst.Hottest = float64(unit.Celsius(20)), float64(x.Gravity), x.Hottest
	lv := limit.Vessel{
		Rating: b.Vessel.Rating, SafetyRelief: b.Vessel.SafetyRelief, WorkingValve: v.set.highRelief, Regulator: v.set.highGas, OverGas: v.set.overGas(),
		High: gauge(0), Low: gauge(0), AheadHigh: &x.High, AheadLow: &x.Low, WorstCase: &x.WorstCase, Gas: v.gassed(),
		Headspace: v.headspace(), Coldest: &x.Coldest, Freezes: v.freezes(),
	}
	if lv.Gas {
		lv.RegulatorOpen = &x.Regulator
	}
	return lv
}

// Passed tells whether a limit asks for something today or now.
func Passed(limits []Limit) bool { return limit.Passed(findingsOf(limits)) }
