package advice

import (
	"fmt"
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

// rule is one thing that may need saying: when it holds, and the action. The
// order of the table is the order of speech; limits stand before it.
type rule struct {
	key   string
	holds func(v *view) bool
	say   func(v *view) Action
}

var rules = []rule{
	{"foam", func(v *view) bool { return v.noticedLately("foam") }, foam},
	{"disagree", (*view).gaugeDisagrees, disagree},
	{"leak", (*view).losingGas, leak},
	{"too cold", func(v *view) bool { return v.isStuck() && v.belowRange() }, tooCold},
	{"stuck", func(v *view) bool { return v.isStuck() && !v.belowRange() }, stuck},
	{"odd", func(v *view) bool { return v.far() != nil && !v.gaugeDisagrees() }, odd},
	{"foam in the glass", (*view).glassFoams, foamInGlass},
	{"empty", func(v *view) bool { return v.state == Empty }, empty},
	{"pouring", func(v *view) bool { return v.state == Pouring }, pouring},
	{"too much gas", (*view).overdone, overdone},
	{"first glass", func(v *view) bool { return v.state == Ready }, firstGlass},
	{"drain", func(v *view) bool { return v.set.gasOn && v.drains(v.set.gas) }, drain},
	{"taking gas", func(v *view) bool { return v.state == TakingGas }, takingGas},
	{"cooling", func(v *view) bool { return v.state == Cooling }, cooling},
	{"falling gauge", (*view).drinks, falling},
	{"before cold", func(v *view) bool { return v.state == Finished && v.coldNext() }, beforeCold},
	{"drain ahead", func(v *view) bool {
		return v.state == Finished && v.coldNext() && v.set.next.Set.Gas != nil && v.drains(*v.set.next.Set.Gas)
	}, drain},
	{"plan", func(v *view) bool { return v.planDue() && !(v.state == Finished && v.coldNext()) }, planned},
	{"finished", func(v *view) bool { return v.state == Finished }, finished},
	{"two equal", (*view).twoEqual, twoEqual},
	{"old", func(v *view) bool { return !v.f.LastReading.IsZero() && v.age() > oldHours && !v.isStuck() }, old},
	{"too little", func(v *view) bool { return v.f.LastReading.IsZero() && v.hours() > 36 }, tooLittle},
	{"hiss", func(v *view) bool { return v.noticedLately("hiss") && v.state == Working }, hiss},
	{"still nothing", func(v *view) bool { return v.state == Waking && v.hours() > 36 }, stillNothing},
	{"waiting", func(v *view) bool { return v.state == Waking && v.hours() <= 36 }, waiting},
	{"best", func(v *view) bool { return !v.f.Next.None && v.state == Slowing && !v.isStuck() }, best},
	{"slowing", func(v *view) bool { return v.state == Slowing && !v.isStuck() }, slowing},
	{"working", func(v *view) bool { return v.state == Working && !v.isStuck() }, working},
	{"gas short", (*view).short, short},
	{"late", (*view).late, late},
}

// mayWait are the rules whose action somebody may be reminded of later. Limits are not among them, nor
// gas that leaves or a pressure in doubt.
var mayWait = map[string]bool{"too cold": true, "stuck": true, "odd": true, "empty": true, "before cold": true, "plan": true, "finished": true,
	"two equal": true, "old": true, "too little": true, "still nothing": true, "best": true, "gas short": true, "late": true}

// actions are all that hold, the most urgent first: limits, then the table.
func (v *view) actions() []Action {
	var out []Action
	for _, l := range v.limits {
		if l.Severity > limit.WhenYouCan {
			out = append(out, v.limitAction(l))
		}
	}
	for _, r := range rules {
		if r.holds(v) {
			a := r.say(v)
			a.Key, a.Waits = r.key, mayWait[r.key] && (a.Urgency == WhenYouCan || a.Urgency == Today)
			out = append(out, a)
		}
	}
	if len(out) == 0 {
		out = []Action{working(v)}
	}
	return saidOnce(out)
}

// saidOnce drops what would be said a second time.
func saidOnce(actions []Action) []Action {
	var out []Action
	seen := map[string]bool{}
	for _, a := range actions {
		if !seen[a.Do] {
			seen[a.Do] = true
			out = append(out, a)
		}
	}
	return out
}

// limitAction makes a limit the thing to do; its sentence says what.
func (v *view) limitAction(l Limit) Action {
	a := Action{Key: string(l.Kind), Do: l.Sentence, When: v.style.Word("Today."), Why: v.say("why limit"), Caution: v.caution("c.plate"), Urgency: Today}
	if l.Kind == limit.WasFrozen {
		a.When, a.Urgency = v.style.Word("Now."), Now
		return a
	}
	if !l.Limit.Known && l.Kind != limit.CheckDue { // nothing to compare with: to be found out, not to run from
		a.Why = v.say("why rating")
		switch l.Kind {
		case limit.SafetyUnknown, limit.SafetyHigh, limit.OverSafety, limit.ValveOverSafety, limit.RegulatorOverSafety, limit.GasNearSafety:
			a.Why = v.say("why safety")
		}
		return a
	}
	if l.Severity == limit.Now {
		a.When, a.Urgency = v.style.Word("Now."), Now
	}
	switch l.Kind {
	case limit.OverRating, limit.OverSafety, limit.ValveHigh, limit.ValveOverSafety:
		a.Caution = v.valveCaution() + " " + a.Caution
	}
	return a
}

func (v *view) noticedLately(words string) bool {
	for _, e := range v.log.Events {
		if e.Kind == batch.Noticed && e.Words == words && v.now.Sub(e.Time) < 24*time.Hour {
			return true
		}
	}
	return false
}

func foam(v *view) Action {
	return Action{Do: v.say("foam", "deg", v.style.Difference(2, 0)), When: v.style.Word("Now."), Why: v.say("why foam"), Caution: v.caution("c.over"), Urgency: Now}
}

func (v *view) gaugeDisagrees() bool { return v.far(batch.Pressure) != nil }

func disagree(v *view) Action {
	return Action{Do: v.say("disagree"), When: v.style.Word("Now."), Why: v.whyOdd(*v.far(batch.Pressure)), Caution: v.caution("c.plate"), Urgency: Today}
}

func odd(v *view) Action {
	f := v.far()
	return Action{Do: v.say("odd"), When: v.style.Word("When you pass."), Why: v.whyOdd(*f), Caution: v.sampleCaution(f.Reading.Quantity), Urgency: WhenYouCan}
}

// sampleCaution stands beside asking for a sample.
func (v *view) sampleCaution(q batch.Quantity) string {
	if q == batch.Gravity {
		return v.caution("c.minor")
	}
	return ""
}

func leak(v *view) Action {
	for _, f := range v.f.Findings {
		if f.Kind == estimate.FindingLeak {
			return Action{Do: v.say("leak", "n", v.findingSize(f)), When: v.style.Word("Today."), Why: v.say("why leak", "odds", wording.Capital(v.odds(f.Probability))), Caution: v.caution("c.room"), Urgency: Today}
		}
	}
	panic("advice: no leak found")
}

// belowRange: colder than the kind of yeast ordinarily works.
func (v *view) belowRange() bool {
	low, _ := v.batch.Yeast.Kind.Range()
	return v.f.Now.Temperature.P50 < float64(low)-1
}

// warmTo is a temperature at which the kind works well: the middle of its range.
func (v *view) warmTo() unit.Temperature {
	low, high := v.batch.Yeast.Kind.Range()
	return (low + high) / 2
}

// warmCaution says what warmth does to the pressure, against the weakest part.
func (v *view) warmCaution() string {
	r := v.batch.Vessel.Rating
	if r == nil {
		return v.caution("l.rating-unknown")
	}
	return v.caution("c.warm", "temp", v.style.Temperature(v.f.Worst.Hottest, 0), "p", v.style.Pressure(v.f.Worst.Contents, 0), "limit", v.style.Limit(*r))
}

func tooCold(v *view) Action {
	low, high := v.batch.Yeast.Kind.Range()
	a := stuck(v)
	a.Do = v.say("too cold", "gravity", inBand(v.style.Gravity, v.f.Now.Gravity), "temp", v.style.Temperature(v.warmTo(), 0))
	a.Why += " " + v.say("why cold", "low", v.style.Temperature(low, 0), "high", v.style.Temperature(high, 0))
	return a
}

func stuck(v *view) Action {
	n := &v.f.Now
	key, to := "stuck", v.warmTo()
	if warm := unit.Temperature(n.Temperature.P50); warm > to-1 {
		key, to = "stuck warm", warm
	}
	return Action{
		Do:      v.say(key, "gravity", inBand(v.style.Gravity, n.Gravity), "temp", v.style.Temperature(to, 0)),
		When:    v.style.Word("Today."),
		Why:     v.say("why stuck", "points", v.pointsBetween(n.PointsLeft)),
		Caution: v.warmCaution() + " " + v.caution("c.mains"), Urgency: Today,
	}
}

// planDue: the next step of the plan at a time comes within a day and a half, or the gravity that it waits for is there.
func (v *view) planDue() bool {
	return v.gravityMet() || v.set.next != nil && !v.set.nextAt.IsZero() && v.set.nextAt.Sub(v.now) < 36*time.Hour
}

// gravityMet: the next step sets a pressure once the gravity has fallen so far, and it has.
func (v *view) gravityMet() bool {
	p := v.set.next
	return p != nil && p.Set.Hold == nil && p.When.Kind == batch.GravityAtMost && v.f.Now.Gravity.P50 <= float64(p.When.Gravity)
}

// planned says what the next step sets. Pressure is advised only below what the weakest part allows.
func planned(v *view) Action {
	set := v.set.next.Set
	a := Action{When: v.style.Word("Today."), Why: v.say("why plan"), Urgency: Today}
	if v.gravityMet() {
		a.Why = v.say("why plan met", "gravity", v.style.Gravity(v.set.next.When.Gravity, 0))
	} else {
		a.When, a.Urgency = wording.Capital(v.clock.at(v.set.nextAt, 24*time.Hour))+".", WhenYouCan
	}
	a.Do, a.Caution = v.stepAction(&set)
	if set.Gas == nil && v.coldNext() && !v.set.gasOn {
		a.Do, a.Caution = join(v.say("cool alone"), a.Do), join(v.caution("c.regulator"), a.Caution)
	}
	if !v.set.nextAt.IsZero() && v.set.nextAt.Sub(v.now) < 12*time.Hour {
		a.Urgency = Today
	}
	return a
}

// stepAction says what a step of the plan sets, with what to take care of.
func (v *view) stepAction(set *batch.Setting) (do, caution string) {
	add := func(text, care string) { do, caution = join(do, text), join(caution, care) }
	if set.Gas != nil {
		add(v.gasAdvice(*set.Gas), v.caution("c.regulator"))
	}
	if set.GasOff {
		add(v.say("step gas off"), v.caution("c.cylinder"))
	}
	if set.Relief != nil {
		add(v.valveAdvice(*set.Relief), v.valveCaution())
	}
	if set.Hold != nil {
		add(v.say("step hold", "temp", v.style.Temperature(*set.Hold, 0)), v.caution("c.fridge"))
	}
	if set.Action != "" {
		add(v.say("step action", "action", set.Action), v.caution("c.open"))
	}
	return do, caution
}

// weakest is the least that a part of the vessel allows; not known without a rating.
func (v *view) weakest() (unit.Gauge, bool) {
	return limit.Weakest(v.batch.Vessel.Rating, v.batch.Vessel.SafetyRelief)
}

func (v *view) highestValve() (unit.Gauge, bool) {
	return vessel.HighestValve(v.batch.Vessel.Rating, v.batch.Vessel.SafetyRelief)
}

// gasAdvice is a setting of the gas in words, or why none is given.
func (v *view) gasAdvice(set unit.Gauge) string {
	weakest, rated := v.weakest()
	switch safety := v.batch.Vessel.SafetyRelief; {
	case !rated:
		return v.say("no rating")
	case set < weakest:
		return v.say("step gas", "set", v.style.Pressure(set, 0))
	default:
		key := limit.Key("l.over-rating.plan")
		if safety != nil && *safety == weakest {
			key = "l.over-safety-valve.plan"
		}
		return v.caution(key, "value", v.style.Pressure(set, 0), "limit", v.style.Limit(weakest))
	}
}

// valveAdvice is a setting of the working valve in words, or why none is given: never one above the highest.
func (v *view) valveAdvice(set unit.Gauge) string {
	highest, rated := v.highestValve()
	switch {
	case !rated:
		return v.say("no rating")
	case set > highest:
		return v.say("valve high", "set", v.style.Pressure(set, 0), "most", v.style.Limit(highest))
	}
	return v.say("step relief", "set", v.style.Pressure(set, 0))
}

// drainAdvice says how the working valve and gas at that setting are brought apart, within what the vessel allows.
func (v *view) drainAdvice(gas unit.Gauge) string {
	set := gas + estimate.AboveGas
	if highest, rated := v.highestValve(); !rated || set > highest {
		return GasCaution(&v.batch.Vessel, v.style)
	}
	return v.say("drain", "set", v.style.Pressure(set, 0))
}

// GasCaution names the highest gas over which a vessel leaves the working valve room, or says that nobody knows it.
func GasCaution(v *batch.Vessel, style unit.Style) string {
	highest, rated := vessel.HighestValve(v.Rating, v.SafetyRelief)
	if !rated {
		return limit.Say(style, "l.rating-unknown")
	}
	return sayIn(style, "drain gas", "gas", style.Limit(max(highest-estimate.AboveGas, 0)), "most", style.Limit(highest))
}

func (v *view) valveCaution() string { return ValveCaution(&v.batch.Vessel, v.style) }

// ValveCaution names the highest setting of the working valve of a vessel, or says that nobody knows it.
func ValveCaution(v *batch.Vessel, style unit.Style) string {
	highest, rated := vessel.HighestValve(v.Rating, v.SafetyRelief)
	if !rated {
		return limit.Say(style, "l.rating-unknown")
	}
	return limit.Say(style, "c.valve", "limit", style.Limit(highest))
}

func join(a, b string) string {
	switch {
	case a == "" || a == b:
		return b
	case b == "":
		return a
	}
	return a + " " + b
}

func empty(v *view) Action {
	return Action{Do: v.say("empty"), When: v.style.Word("Today."), Why: v.say("why empty"), Caution: v.caution("c.open") + " " + v.caution("c.clean"), Urgency: Today}
}

func pouring(v *view) Action {
	l := v.f.Now.Liquid
	return Action{Do: v.say("pouring", "litres", inBand(v.style.Volume, l)), When: v.style.Word("When you like."), Why: v.say("why pour"), Caution: v.caution("c.drink"), Urgency: NothingToDo}
}

// firstPour is what goes away with settled yeast. Common practice, no source.
const firstPour = 100 * unit.Millilitre

func firstGlass(v *view) Action {
	return Action{Do: v.say("first glass", "ml", v.style.Volume(firstPour, 0)), When: v.style.Word("When you like."), Why: v.say("why ready"), Caution: v.caution("c.drink"), Urgency: NothingToDo}
}

func takingGas(v *view) Action {
	target := v.style.Word("what you set")
	if t := v.batch.Target; t != nil && t.CO2 > 0 {
		target = v.style.Say("%s wished", v.style.BareGas(t.CO2, 0))
	}
	return Action{
		Do: v.say("taking gas", "time", v.comes(v.f.Milestones.Carbonated)), When: v.style.Word("No hurry."),
		Why:     v.say("why taking", "volumes", inBand(v.style.BareGas, v.f.Now.Volumes), "target", target),
		Caution: v.caution("c.drink"), Urgency: NothingToDo,
	}
}

func cooling(v *view) Action {
	a := Action{Do: v.say("cooling alone"), When: v.style.Word("Today."), Why: v.say("why gas"), Caution: v.caution("c.fridge"), Urgency: WhenYouCan}
	if v.set.gasOn {
		a.Do, a.When, a.Urgency = v.say("cooling", "time", v.comes(v.f.Milestones.Cold)), v.style.Word("Nothing to do."), NothingToDo
	}
	return a
}

// coldNext: the next step of the plan is the cold.
func (v *view) coldNext() bool {
	s := v.set.next
	return s != nil && s.Set.Hold != nil && float64(*s.Set.Hold) < v.f.Now.Temperature.P50-2*nearCold
}

func beforeCold(v *view) Action {
	s := v.set.next.Set
	weakest, rated := v.weakest()
	a := Action{When: v.stepTime(), Why: v.say("why gas"), Caution: v.caution("c.regulator") + " " + v.caution("c.fridge"), Urgency: Today}
	switch {
	case s.Gas != nil && rated && *s.Gas < weakest:
		a.Do = v.say("before cold", "set", v.style.Pressure(*s.Gas, 0))
	case v.set.gasOn && rated:
		a.Do = v.say("cool", "temp", v.style.Temperature(*s.Hold, 0), "set", v.style.Pressure(v.set.gas, 0))
	default:
		a.Do = v.say("cool alone")
	}
	if s.Action == estimate.ButterTest {
		a.Do = v.say("plan butter") + " " + a.Do
	}
	return a
}

// drains: gas at this setting may leave through the working valve.
func (v *view) drains(gas unit.Gauge) bool {
	relief := v.set.relief
	if s := v.set.next; s != nil && s.Set.Relief != nil && s.Set.Gas != nil {
		relief = s.Set.Relief
	}
	return leaves(gas, relief)
}

// leaves: gas at a setting may leave through a working valve that is set to relief; nil: not told.
func leaves(gas unit.Gauge, relief *unit.Gauge) bool {
	return relief != nil && *relief > 0 && gas > *relief-estimate.AboveGas+1
}

func drain(v *view) Action {
	gas := v.set.gas
	if !v.set.gasOn {
		gas = *v.set.next.Set.Gas
	}
	return Action{Do: v.drainAdvice(gas), When: v.style.Word("With the gas."), Why: v.say("why drain"), Caution: v.valveCaution(), Urgency: Today}
}

// late: the wished date will almost certainly pass.
func (v *view) late() bool {
	t, m := v.batch.Target, v.f.Milestones.Ready
	return t != nil && !t.Ready.IsZero() && m.Probability < 0.03 && v.now.Before(t.Ready) && (!m.P05.IsZero() || m.Never > 0.9)
}

func late(v *view) Action {
	ready := v.batch.Target.Ready
	a := Action{Do: v.say("late", "time", v.clock.part(ready)), When: v.style.Word("When you can."), Why: v.say("ahead odds", "odds", wording.Capital(v.odds(v.f.Milestones.Ready.Probability)), "time", v.clock.part(ready)) + ".", Urgency: WhenYouCan}
	if early := v.f.Milestones.Ready.P05; !early.IsZero() {
		a.Do += " " + v.say("late earliest", "time", v.clock.part(early))
	} else if v.neverCold() {
		a.Why = v.say("why never cold", "temp", v.style.Temperature(v.batch.Target.Temperature, 0))
	}
	return a
}

// neverCold: cold is wished for, nothing made it cold, and no step of the plan does.
func (v *view) neverCold() bool {
	cold := v.batch.Target.Temperature
	return cold > 0 && v.f.Now.Temperature.P50 > float64(cold)+nearCold && !v.wantsCold() &&
		!slices.ContainsFunc(v.batch.Programme, func(p batch.Step) bool { return p.Set.Hold != nil && *p.Set.Hold <= cold+nearCold })
}

// stepTime is when the next step of the plan is due, "Now." where its condition holds.
func (v *view) stepTime() string {
	if v.set.nextAt.IsZero() {
		return v.style.Word("As your plan says.")
	}
	return wording.Capital(v.clock.at(v.set.nextAt, 24*time.Hour)) + "."
}

func finished(v *view) Action {
	n, key := &v.f.Now, "finished"
	most := max(n.PointsLeft.P95, 1)
	if v.several(most, 0) {
		key = "finished some"
	}
	return Action{
		Do:   v.say(key, "odds", v.odds(n.Finished), "points", v.points(most, 0)),
		When: v.style.Word("When you can."), Why: v.say("why finished", "rate", v.fall(n.PointsPerDay.P95, 0.1)), Urgency: WhenYouCan,
	}
}

// twoEqual: the last two samples, on different days, agree within a point, and
// the belief does not call it finished.
func (v *view) twoEqual() bool {
	var last []batch.Reading
	for i := len(v.log.Readings) - 1; i >= 0 && len(last) < 2; i-- {
		r := v.log.Readings[i]
		if r.Quantity == batch.Gravity && (len(last) == 0 || last[0].Time.Sub(r.Time) > 18*time.Hour) {
			last = append(last, r)
		}
	}
	if len(last) < 2 || v.isStuck() || v.state != Working && v.state != Slowing {
		return false
	}
	d := (last[0].Value - last[1].Value) * 1000
	return d < 1 && d > -1 && v.f.Now.Finished < sureOfFinish && v.fallen() >= seenPoints
}

func twoEqual(v *view) Action {
	left := v.f.Now.PointsLeft
	return Action{
		Do:   v.say("two equal", "points", v.points(max(left.P95, 1), 0), "day", v.clock.part(v.now.Add(48*time.Hour))),
		When: v.style.Word("Wait until then."), Why: v.say("why equal"), Caution: v.caution("c.minor"), Urgency: WhenYouCan,
	}
}

func old(v *view) Action {
	return Action{Do: v.say("old", "ago", v.clock.ago(v.f.LastReading)), When: v.style.Word("Today."), Why: v.say("why old"), Urgency: Today}
}

func tooLittle(v *view) Action {
	return Action{Do: v.say("too little", "reading", wording.Capital(v.style.Word(instruments[batch.Gravity]))), When: v.style.Word("Today."), Why: v.say("why little"), Caution: v.caution("c.minor"), Urgency: Today}
}

func hiss(v *view) Action {
	return Action{Do: v.say("hiss"), When: v.style.Word("Nothing to do."), Why: v.say("glance working"), Urgency: NothingToDo}
}

func waiting(v *view) Action {
	until := v.batch.Pitched.Add(time.Duration(wakingHours * float64(time.Hour)))
	return Action{Do: v.say("waiting", "time", v.clock.part(until)), When: v.style.Word("Nothing to do.") + " " + v.say("glance working"), Why: v.say("why waking"), Urgency: NothingToDo}
}

func stillNothing(v *view) Action {
	until := v.batch.Pitched.Add(time.Duration(v.lagHours() * float64(time.Hour)))
	return Action{Do: v.say("still nothing", "time", v.clock.part(until)), When: v.style.Word("Today."), Why: v.say("why still"), Caution: v.caution("c.open"), Urgency: Today}
}

func best(v *view) Action {
	n := v.f.Next
	return Action{
		Do:   v.say("best", "instrument", v.style.Word(instruments[n.Instrument]), "time", v.clock.part(n.At)),
		When: wording.Capital(v.clock.part(n.At)) + ".", Why: v.say("why best", "share", fmt.Sprintf("%.0f %%", 100*n.Narrows)),
		Caution: v.sampleCaution(n.Instrument), Urgency: WhenYouCan,
	}
}

func slowing(v *view) Action { return v.wait("slowing") }
func working(v *view) Action { return v.wait("working") }

// wait: nothing to do until the next reading or step worth the walk.
func (v *view) wait(key string) Action {
	left := v.f.Now.PointsLeft
	return Action{
		Do: v.say(key, "time", v.clock.part(v.nextLook())), When: v.say("glance working"),
		Why: v.say("why working", "points", v.pointsBetween(left)), Urgency: NothingToDo, Key: key,
	}
}

// nextLook is the earliest of the next reading, the next step and the finish, a day ahead at least.
func (v *view) nextLook() time.Time {
	at := v.f.Next.At
	for _, t := range []time.Time{v.set.nextAt, v.f.Milestones.Finished.P05} {
		if !t.IsZero() && t.After(v.now) && (at.IsZero() || t.Before(at)) {
			at = t
		}
	}
	if day := v.now.Add(24 * time.Hour); at.Before(day) {
		return day
	}
	return at
}
