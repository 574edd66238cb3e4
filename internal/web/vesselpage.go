package web

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/co2"
	"spile/estimate"
	"spile/internal/ingest"
	"spile/internal/report"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

// vesselView is the page of one vessel.
type vesselView struct {
	*stood
	Echo     *echo // of what was just kept; nil: nothing was
	Big      string
	BigSays  string // what the big number is, and how sure it is
	Caption  string
	First    advice.Action
	Rest     []advice.Action
	Amid     []finding
	Dots     []dotted
	Strips   strips
	Waits    []string // steps of the plan that wait for a condition
	Evidence []evidenceRow
	Working  workingTable
	Dates    workingTable
	Method   []string // how it was inferred, for experts
	Ledger   []report.LedgerRow
	Lines    []line
	More     string // how many lines of the log are not shown here; empty: none
	Try      *tryView
	Offer    *works      // a change that may help, to be tried; nil: none
	Scores   []scoreLine // of the forecasts, where it has ended
}

// dotted is a time that is waited for, as dots.
type dotted struct {
	Drawing  template.HTML
	Sentence string
}

// strips are the plots of a vessel over time, for a desk and for a phone, with the same in words and numbers.
type strips struct {
	Wide, Narrow template.HTML
	Tables       []report.StripTable
}

// vessel is the page of one vessel.
func (s *Site) vessel(w http.ResponseWriter, r *http.Request) {
	v := s.find(w, r)
	if v == nil {
		return
	}
	if err := s.setAside(r, v); err != nil {
		s.fail(w, r, err)
		return
	}
	p := page{Said: v.Name(), Here: "/", Cautious: true}
	view := &vesselView{stood: v}
	status := http.StatusOK
	switch {
	case v.Waiting():
		p.Again = 3
	case v.Said != nil:
		if v.Lasted() == "" && s.try(r, view) { // of what has ended nothing more can be changed
			status = http.StatusUnprocessableEntity
		}
		view.believe()
	}
	var err error
	if view.Echo, err = s.echoOf(r, v); err != nil {
		s.fail(w, r, err)
		return
	}
	if v.Seen != nil && !v.Seen.Ended.IsZero() {
		if view.Scores, err = s.scores(r.Context(), v.Seen.ID, v.Style); err != nil {
			s.fail(w, r, err)
			return
		}
	}
	if v.Seen != nil {
		view.written()
	}
	p.Content = view
	s.show(w, r, status, "vessel", p)
}

// written fills in what was written down last.
func (v *vesselView) written() {
	v.Lines = gathered(v.Style.Tongue, v.recent(&v.Seen.State))
	if more := len(v.Lines) - mostLines; more > 0 {
		v.Lines, v.More = v.Lines[:mostLines], v.Style.Tongue.Many(more, "%d earlier line", "%d earlier lines", more)
	} else {
		v.Lines = append(v.Lines, v.began())
	}
}

// Lasted says from when to when a batch that has ended was in its vessel; empty where it still is.
func (v *stood) Lasted() string {
	if v.Seen == nil || v.Seen.Ended.IsZero() {
		return ""
	}
	day := func(t time.Time) string {
		return dayWords(v.Style.In(t, v.Seen.State.Record.Pitched.Location()), v.Style)
	}
	vessel := v.Style.Word("its vessel")
	if v.Was != nil {
		vessel = v.Was.Name
	}
	return v.Style.Say("This batch has ended. It was in %s from %s to %s.", vessel, day(v.Seen.State.Record.Pitched), day(v.Seen.Ended))
}

// Halted tells that what is to be done is about beer that stopped: a change that may help stands beside it.
func (v *vesselView) Halted() bool { return v.First.Key == "stuck" || v.First.Key == "too cold" }

// WorthTaking tells that a reading is.
func (v *stood) WorthTaking() bool { return !v.Seen.Told.Forecast.Next.None }

// Odds are the words for odds, and what they stand for.
func (v *stood) Odds() [][2]string { return advice.OddsScale(v.Style) }

// Card is the address of the batch card, without the paper.
func (v *stood) Card() string { return batchCardOf(v.Seen.ID) }

// believe fills in what the last forecast says.
func (v *vesselView) believe() {
	f, said := v.Seen.Told.Forecast, v.Said
	v.Big = v.Style.Gravity(unit.Gravity(f.Now.Gravity.P50), unit.Gravity(f.Now.Gravity.P95-f.Now.Gravity.P05))
	low, high := v.Style.Between(unit.OfGravity, f.Now.Gravity.P05, f.Now.Gravity.P95)
	v.BigSays = v.Style.Say("Gravity, between %s and %s", low, high)
	v.First, v.Rest = said.Next[0], said.Next[1:]
	v.Amid = v.findings()
	v.Caption = v.cut().Caption()
	v.Dots = v.dots()
	drawn := v.view()
	if v.Try != nil {
		drawn.Tried = v.Try.Drawn
	}
	c := report.ForecastChart(drawn)
	v.Strips = strips{template.HTML(c.Inline(820, "wide")), template.HTML(c.Inline(344, "narrow")), c.Tables()}
	v.Waits, v.Ledger = drawn.Waiting(), drawn.Ledger()
	if v.Lasted() == "" {
		v.Offer = v.offer()
	}
	v.Evidence = v.evidence()
	v.Dates = v.dateWorking()
	v.Working, v.Method = v.working(), method(f, v.Style.In(v.Seen.Told.Made, v.Seen.State.Record.Pitched.Location()), v.Style)
}

// Stale says that the forecast does not know the newest entry, or is old; empty where it is as fresh as it can be.
func (v *stood) Stale() string {
	switch {
	case v.Seen == nil || v.Seen.Told == nil || v.Lasted() != "":
		return ""
	case v.Seen.Failed != "":
		return v.Style.Say("%s What follows is from %s. Read the gauge before you act on it.", v.Seen.Failed, v.when(v.Seen.Told.Forecast.At))
	case !v.Seen.Fresh():
		return v.Style.Word("What came in last is being worked out. What follows does not know it yet.")
	case v.Seen.Told.Old(v.Now):
		return v.Style.Say("This is from %s. Read the gauge before you act on it.", v.when(v.Seen.Told.Forecast.At))
	}
	return sentence(v.Style.Word(wording.Text(v.Seen.Told.Apart)))
}

// dots shows the end of the ferment while it is awaited, and the day it is ready.
func (v *vesselView) dots() []dotted {
	return dotsOf(v.Seen.Told.Forecast, v.Said.Ahead, v.Seen.State.Record.Target, v.Now, v.Style)
}

// dotsOf draws of what is told ahead.
func dotsOf(f *estimate.Forecast, ahead []advice.Ahead, target *batch.Target, now time.Time, style unit.Style) (out []dotted) {
	var wish time.Time
	if target != nil {
		wish = target.Ready
	}
	add := func(key string, m *estimate.Milestone, label wording.Text, wish time.Time) {
		told := slices.ContainsFunc(ahead, func(a advice.Ahead) bool { return a.Key == key })
		if !told || m.Never >= 0.999 || !m.P95.IsZero() && !m.P95.After(now) {
			return // not part of the plan, or past
		}
		svg, sentence := report.Dots(m, style.Word(label), wish, now, style)
		out = append(out, dotted{template.HTML(svg), sentence})
	}
	add("finished", &f.Milestones.Finished, "Finished fermenting", time.Time{})
	add("ready", &f.Milestones.Ready, "Ready to pour", wish)
	return out
}

// evidenceRow is what one reading says.
type evidenceRow struct{ Read, When, Expected, Says string }

// evidence lists the readings in the order of how much they tell, the newest of equals first. Of a run of equal readings
// those between the first and the last have no say, and no row.
func (v *vesselView) evidence() (out []evidenceRow) {
	f, b := v.Seen.Told.Forecast, v.Seen.State.Record
	all := slices.Clone(f.Evidence)
	slices.Reverse(all)
	slices.SortStableFunc(all, func(a, b estimate.Evidence) int {
		if a.Alone != b.Alone {
			return map[bool]int{true: -1, false: 1}[a.Alone]
		}
		return cmp.Compare(a.Narrows, b.Narrows)
	})
	for _, e := range all[:min(len(all), mostLines)] {
		row := evidenceRow{Read: advice.Shown(e.Reading.Quantity, e.Reading.Value, 0, v.Style), When: v.when(e.Reading.Time)}
		if e.Of > 1 {
			row.Read = v.Style.Say("%s, the mean of %d readings", row.Read, e.Of)
		}
		low, high := advice.Shown(e.Reading.Quantity, e.Expected.P05, 0, v.Style), advice.Shown(e.Reading.Quantity, e.Expected.P95, 0, v.Style)
		row.Expected = v.Style.Say("between %s and %s", low, high)
		row.Says = v.says(&e, f, b.Pitched)
		out = append(out, row)
	}
	return out
}

// says is what a reading changes.
func (v *vesselView) says(e *estimate.Evidence, f *estimate.Forecast, pitched time.Time) string {
	if e.Alone {
		return v.Style.Word("Most hangs on this one: without it little would be known.")
	}
	says := v.Style.Word("It changes little.")
	with, without := f.Milestones.Finished.P50, pitched.Add(time.Duration(e.Finished.P50*float64(time.Second)))
	if moved := with.Sub(without).Hours(); !with.IsZero() && with.After(v.Now) && e.Finished.P50 < 400*24*3600 && (moved > 3 || moved < -3) {
		text := wording.Text("It moves the end %.0f hours sooner.")
		if moved > 0 {
			text = "It moves the end %.0f hours later."
		}
		says = v.Style.Say(text, max(moved, -moved))
	}
	if e.Narrows < 0.9 {
		says = v.Style.Say("It narrows the gravity now by %.0f %%.", 100*(1-e.Narrows)) + " " + says
	}
	return says
}

// when is a time in the zone of whoever looks.
func (v *stood) when(t time.Time) string {
	return v.Style.Time(v.Style.In(t, v.Seen.State.Record.Pitched.Location()), "Monday 2 January, 15:04")
}

// Made says when what is foretold was worked out.
func (v *stood) Made() string { return v.Style.Say("Forecast made %s.", v.when(v.Seen.Told.Made)) }

// workingTable opens numbers, one a row.
type workingTable struct {
	Name, Low, High wording.Text
	Rows            []workingRow
}

// workingRow is how one number came about.
type workingRow struct {
	Name, Low, Mid, High string
	How                  string
	Link                 *door // the same relation, to be worked out with these numbers
	Sources              []string
}

// working opens the numbers of now.
func (v *vesselView) working() workingTable {
	f, b, st := v.Seen.Told.Forecast, v.Seen.State.Record, v.Style
	n := &f.Now
	row := func(name wording.Text, band estimate.Band, write func(x float64) string, how wording.Text, link *door, sources ...string) workingRow {
		return workingRow{st.Word(name), write(band.P05), write(band.P50), write(band.P95), st.Word(how), link, sources}
	}
	sg := func(x float64) string { return st.Gravity(unit.Gravity(x), 0) }
	share := func(x float64) string { return st.ABV(unit.ABV(max(x, 0)), 0) }
	og, fg := givenGravity(b.Wort.Gravity), givenGravity(unit.Gravity(n.Gravity.P50))
	temp, gauge := givenTemperature(unit.Temperature(n.Temperature.P50)), givenPressure(unit.Gauge(n.Pressure.P50))
	altitude := givenHeight(b.Place.Altitude)
	worst := advice.Shown(batch.Pressure, float64(f.Worst.Contents), 0, st)
	return workingTable{"The working", "Low", "High", []workingRow{
		row("Gravity", n.Gravity, sg, "Each set of unknowns follows sugar, alcohol and yeast from pitching; those that fit your readings are kept.", nil, "Gause1932", "Foster2022"),
		row("Gravity at the end", f.TerminalGravity, sg, "What the sugar that this yeast can use leaves, at the last fermenting temperature.", nil, "Balling1865"),
		row("Alcohol", n.ABV, share, "From the sugar used, by the balance of sugar, alcohol, gas and yeast.", workLink("How strong is it?", "alcohol", "og", og, "fg", fg), "Balling1865", "Cutaia2009"),
		row("Gas in the beer", n.Volumes, func(x float64) string { return st.Gas(unit.Volumes(x), 0) }, "What the yeast made and the cylinder gave, less what was let out, lost and poured; part is above the beer.",
			workLink("How much gas is in the beer?", "carbonation", "temperature", temp, "pressure", gauge, "altitude", altitude), "Weiss1974"),
		row("Pressure", n.Pressure, func(x float64) string { return st.Pressure(unit.Gauge(x), 0) }, "The gas above the beer, its air and water vapour, less the air outside.", v.warmLink(), "SpanWagner1996"),
		row("Temperature of the beer", n.Temperature, func(x float64) string { return st.Temperature(unit.Temperature(x), 0) }, "From what was read, the heat of fermentation, the wall, and what warms or cools it.", nil, "ChurchillChu1975"),
		{Name: st.Word("Worst case"), High: worst, How: st.Word("All that may still ferment does, with the working valve stuck, in the hottest place."), Link: worstLink(&b.Batch, f), Sources: []string{"Balling1865", "Weiss1974"}},
	}}
}

// worstLink works out the worst case: all fermented, the working valve stuck, as warm as it may come to be. Nil for beer that holds
// no more gas than under open air, which the calculation does not take.
func worstLink(b *batch.Batch, f *estimate.Forecast) *door {
	n := &f.Now
	open := co2.Equilibrium(unit.Temperature(n.Temperature.P50), unit.StandardAtmosphere(b.Place.Altitude), co2.BeerFactor{}, nil)
	if n.Liquid.P50 <= 0 || n.Volumes.P50 <= float64(open) {
		return nil
	}
	values := []string{"temperature", givenTemperature(unit.Temperature(n.Temperature.P50)), "volumes", givenGas(unit.Volumes(n.Volumes.P50)),
		"volume", givenVolume(unit.Volume(n.Liquid.P50)), "capacity", givenVolume(b.Vessel.Capacity),
		"gravity", givenGravity(unit.Gravity(n.Gravity.P50)), "final", givenGravity(unit.Gravity(min(f.TerminalGravity.P05, n.Gravity.P50))), "altitude", givenHeight(b.Place.Altitude)}
	if b.Vessel.Rating != nil {
		values = append(values, "rating", givenPressure(*b.Vessel.Rating))
	}
	return workLink("What could the pressure come to?", "relief", values...)
}

// What a calculation is given from a page, whatever units the reader chose.
func givenGravity(g unit.Gravity) string         { return fmt.Sprintf("%.4f", float64(g)) }
func givenTemperature(t unit.Temperature) string { return fmt.Sprintf("%.1f C", t.Celsius()) }
func givenPressure(g unit.Gauge) string          { return fmt.Sprintf("%.1f kPa", g.Kilopascals()) }
func givenVolume(v unit.Volume) string           { return fmt.Sprintf("%.2f L", v.Litres()) }
func givenGas(v unit.Volumes) string             { return fmt.Sprintf("%.2f volumes", float64(v)) }
func givenHeight(h unit.Length) string           { return fmt.Sprintf("%.0f m", float64(h)) }

// warmLink works out the worst case of warmth with the numbers of this vessel.
func (v *vesselView) warmLink() *door {
	f, b := v.Seen.Told.Forecast, v.Seen.State.Record
	if b.Vessel.Rating == nil || f.Now.Liquid.P50 <= 0 {
		return nil
	}
	return workLink("What will warmth do to the pressure?", "warming",
		"from", givenTemperature(unit.Temperature(f.Now.Temperature.P50)), "to", givenTemperature(f.Worst.Hottest),
		"volume", givenVolume(unit.Volume(f.Now.Liquid.P50)), "capacity", givenVolume(b.Vessel.Capacity),
		"volumes", givenGas(unit.Volumes(f.Now.Volumes.P50)), "rating", givenPressure(*b.Vessel.Rating))
}

// workLink leads to a calculation with its numbers filled in.
func workLink(name wording.Text, calculation string, values ...string) *door {
	q := url.Values{}
	for name, value := range paired(values) {
		q.Set(name, value)
	}
	return &door{name, "/work-it-out/" + calculation + "?" + q.Encode()}
}

// paired are names and values that follow on each other.
func paired(values []string) map[string]string {
	out := map[string]string{}
	for i := 0; i+1 < len(values); i += 2 {
		out[values[i]] = values[i+1]
	}
	return out
}

// ways are how the numbers can have been inferred.
var ways = map[string]wording.Text{"importance": "drawn around the best fit and weighed", "tempered": "carried step by step from what is usual to what fits"}

// unfit says why the vessel's daily means do not do, and what that means for the reader.
var unfit = map[vessel.Unfit]wording.Text{
	vessel.Simmers:     "The working valve passes so little gas that it never quite closes. The pressure is less sure than its band says.",
	vessel.NoHeadspace: "Next to no space is left above the beer. The pressure is less sure than its band says.",
	vessel.WideBand:    "The temperature swings so far that the yeast feels it. The pace is less sure than its band says.",
}

// method says how the numbers were inferred, for those who ask; made is in the zone of whoever looks.
func method(f *estimate.Forecast, made time.Time, style unit.Style) []string {
	d := &f.Diagnostics
	lines := []string{
		style.Say("Made %s from readings up to then. Seed %d.", style.Time(made, "2 January 2006, 15:04"), f.Seed),
		style.Say("%d runs of the vessel were compared with your readings; they were %s.", d.Simulations, ways[d.Method]),
		style.Say("The draws that are left are worth %.0f that do not depend on each other. The tail of their weights has the shape %.2f.", d.EffectiveSamples, d.ParetoK),
		style.Word("Low and high are the 5 % and 95 % points: the truth lies between them nine times in ten."),
	}
	if text, ok := unfit[d.Unfit]; ok {
		lines = append(lines, style.Word(text))
	}
	return lines
}

// mostLines of the log or of the evidence stand on a vessel's page.
const mostLines = 12

// line is one line of the log. It is put into words when it is shown: few of many are.
type line struct {
	Entry batch.ID  // zero: of no entry
	At    time.Time // in the zone of whoever looks
	says  func() string
	by    string // the instrument that was read by itself; empty: a person said it
}

// When is its time.
func (l line) When() wording.Moment { return wording.Moment{At: l.At, Layout: "Mon 2 Jan 15:04"} }

// Says is what was read, done or noted.
func (l line) Says() string { return l.says() }

// lineAt is a line of the log of what is in the vessel.
func (v *stood) lineAt(entry batch.ID, at time.Time, says func() string) line {
	return line{Entry: entry, At: v.Style.In(at, v.Seen.State.Record.Pitched.Location()), says: says}
}

// began is the line with which everything begins.
func (v *stood) began() line {
	return v.lineAt(batch.ID{}, v.Seen.State.Record.Pitched, func() string { return v.Style.Word("the yeast is in") })
}

// recent are the lines of what was read, done and noted, the latest first.
func (v *stood) recent(s *batch.State) []line {
	most := len(s.Log.Readings) + len(s.Log.Events) + len(s.Notes)
	at, lines := make(map[batch.ID]int, most), make([]line, 0, most)
	add := func(id batch.ID, t time.Time, says func() string) *line {
		if i, there := at[id]; there && !id.IsZero() {
			before := lines[i].says
			lines[i].says = func() string { return before() + ", " + says() }
			return &lines[i]
		}
		at[id] = len(lines)
		lines = append(lines, v.lineAt(id, t, says))
		return &lines[len(lines)-1]
	}
	for i := range s.Log.Readings {
		r := &s.Log.Readings[i]
		add(r.Entry, r.Time, func() string { return readWords(r, v.Style) }).by = reader(r)
	}
	for _, e := range s.Log.Events {
		add(e.Entry, e.Time, func() string { return report.EventWords(e, v.Style) })
	}
	for _, n := range s.Notes {
		words := n.Words
		if n.Judgement != nil && words == "" {
			words = v.Style.Word(n.Judgement.Verdict.Wording())
		}
		says := "“" + words + "”"
		switch j := n.Judgement; {
		case j != nil && len(j.Limits) > 0:
			says = judgedWords(j, v.Style.Tongue)
		case j != nil && n.Words == "":
			says = words
		}
		before := len(lines)
		if l := add(n.Entry, n.Time, func() string { return says }); len(lines) > before && ingest.OfAir(words) {
			l.by = "the air"
		}
	}
	slices.SortStableFunc(lines, func(a, b line) int { return b.At.Compare(a.At) })
	return lines
}

// gathered draws lines of one instrument that follow on each other into one, so that what people said is not lost among
// them: the latest is written out, and how many came before it.
func gathered(tongue *wording.Tongue, lines []line) (out []line) {
	for i := 0; i < len(lines); {
		end := i + 1
		for lines[i].by != "" && end < len(lines) && lines[end].by == lines[i].by {
			end++
		}
		l := lines[i]
		if earlier, latest, first := end-i-1, l.says, lines[end-1]; earlier > 0 {
			l.says = func() string {
				return tongue.Many(earlier, "%s, and %d earlier since %s", "%s, and %d earlier since %s", latest(), earlier, first.When())
			}
		}
		out = append(out, l)
		i = end
	}
	return out
}

// reader is what read by itself; empty: a person did, whatever with. Most devices name no instrument.
func reader(r *batch.Reading) string {
	if !r.Unattended {
		return ""
	}
	return cmp.Or(r.Instrument, "a device")
}

// readWords is what was read, and with what.
func readWords(r *batch.Reading, style unit.Style) string {
	says := style.Word(report.ReadNames[r.Quantity]) + " " + advice.Shown(r.Quantity, r.Value, 0, style)
	if r.Instrument != "" {
		says += " (" + r.Instrument + ")"
	}
	return says
}
