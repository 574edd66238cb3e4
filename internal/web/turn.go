package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/calc"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// turnStep is one step between two batches: what to do, what to take care of, and the word
// under which it is kept.
type turnStep struct {
	Verdict  batch.Verdict
	Title    wording.Text
	Do       []wording.Text
	Cautions []string
	Links    []door
	Button   wording.Text
	Extra    bool // may be left out
}

// turnSteps are in the order in which they are done: the seals are off before the test that
// proves them, and the water of the test is out before it is sanitised.
func turnSteps(style unit.Style) []turnStep {
	care := func(key limit.Key, slots ...string) string { return limit.Say(style, key, slots...) }
	return []turnStep{
		{Verdict: batch.GasLetOut, Title: "Let the gas out and open it", Button: "It is open", Cautions: []string{care("c.open"), care("c.room")},
			Do: []wording.Text{"Empty of beer is not empty of gas.", "Pull the ring of the safety valve until it is silent, and keep it pulled.", "Do not lean in: gas lies in the bottom.", "Yeast weighs more than you think. Tip it with two."}},
		{Verdict: batch.Cleaned, Title: "Clean it", Button: "It is clean", Cautions: []string{care("c.clean"), care("c.sealed"), care("c.hot", "limit", style.Word("its maker allows")), care("c.eye")},
			Do: []wording.Text{"Rinse the yeast out with cool water.", "Then cleaner, as its label says, with the lid off.", "Line, tap and the inside of the lid too.", "Rinse the cleaner out, as its label says."}},
		{Verdict: batch.SealsChecked, Title: "Take seals and valves apart and look at them", Button: "Seals and valves are in order",
			Do:       []wording.Text{"Take every seal off. Cracked, flat or hard: put in a new one.", "Take the working valve apart, as its maker shows. Dried foam makes it stick.", "Pull the ring of the safety valve: it must move freely and spring back.", "Look for creases, cracks and white lines in the wall.", "Put it together, with the maker's grease on the seals."},
			Cautions: []string{care("c.valve", "limit", style.Word("what the weakest part allows"))}},
		{Verdict: batch.LeakTestPassed, Title: "Prove that it holds gas, full of water", Cautions: []string{care("c.test"), care("c.regulator")},
			Do: []wording.Text{"Fill it with water where it will stand. Leave about a litre of room.", "Give it a little gas, then gas off.", "Brush soapy water on every seal and look for bubbles.", "Read dial and thermometer now, and again hours later.", "Let the gas out by the ring before you open it."}},
		{Verdict: batch.Sanitised, Title: "Sanitise it", Button: "It is sanitised", Cautions: []string{care("c.clean"), care("c.sealed")},
			Do: []wording.Text{"Only what is clean can be sanitised.", "Mix it as the label says: how much, how long, whether to rinse.", "Wet every inside: lid, valves, line and tap too.", "Let it drain. Then fill it the same day."}},
		{Verdict: batch.Purged, Title: "Flush the air out, if beer goes in", Button: "The air is out", Extra: true, Cautions: []string{care("c.regulator"), care("c.room")},
			Do: []wording.Text{"Wort wants air: skip this before wort.", "Finished beer does not: fill the vessel with gas and let it down, several times."}, Links: []door{{"How do I flush out the air?", "/work-it-out/purge"}}},
	}
}

// turnView is the page of the turnaround.
type turnView struct {
	Vessel   string
	Path     string
	Holding  string // the batch that is still in it
	Never    bool   // nothing was in it yet
	Missing  string
	Steps    []turnLine
	Leak     *sheet
	NoRating string
	Alerts   []aware  // about the vessel itself
	Care     []string // before it is said to be empty
	Water    string   // to mix sanitiser with, usually
	Once     batch.ID
	When     *sheet
	Kept     bool
}

// turnLine is a step with when it was done.
type turnLine struct {
	turnStep
	Done  string // when; empty: not yet
	Words string
	Undo  batch.ID
	How   *door // the working of its words; nil: they have none
	Once  batch.ID
	When  *asking // it was earlier
	Leak  bool
	Dose  bool
	Open  bool // the next to do
}

// turnaround is the stage of its own between two batches.
func (s *Site) turnaround(w http.ResponseWriter, r *http.Request) {
	in := s.turning(w, r)
	if in != nil {
		s.showTurn(w, r, in, leakForm(readTastes(r).Style), emptiedForm(tongueOf(r)), http.StatusOK)
	}
}

// turning is the vessel whose turnaround is asked for; nil was answered already.
func (s *Site) turning(w http.ResponseWriter, r *http.Request) *monitor.InVessel {
	id, err := batch.ParseID(r.PathValue("id"))
	var in *monitor.InVessel
	if err == nil {
		if in, err = s.inVessel(r.Context(), id); err != nil {
			s.fail(w, r, err)
			return nil
		}
	}
	if in == nil {
		s.missing(w, r)
	}
	return in
}

func (s *Site) showTurn(w http.ResponseWriter, r *http.Request, in *monitor.InVessel, leak, when *sheet, status int) {
	style := readTastes(r).Style
	stands := &stood{InVessel: *in, Style: style, Now: s.watch.Now()}
	v := turnView{Vessel: in.Vessel.Name, Path: "/vessels/" + in.Vessel.ID.String(), Missing: turnMissing(in.Turn, style.Tongue), Once: store.NewID(), When: when, Leak: leak,
		Alerts: stands.amissOn(stands.Path() + "/turnaround"), Kept: r.URL.Query().Has("kept")}
	v.Water = style.Volume(usualRinse, 0)
	if in.Seen != nil {
		v.Holding = in.Seen.State.Record.Name
		v.Care = []string{limit.Say(style, "c.open")}
	}
	if _, rated := advice.Most(&in.Vessel.Facts.Vessel); !rated {
		v.NoRating = limit.Say(style, "l.rating-unknown")
	}
	var err error
	if v.Steps, err = s.turnLines(r.Context(), in, style); err != nil {
		s.fail(w, r, err)
		return
	}
	for i := range v.Steps {
		l := &v.Steps[i]
		if typed := when.Fields[0]; typed.Name == l.When.Name {
			l.When, l.Open = typed, true
		}
		if l.Leak && leak.Bad() || l.Done == "" && !l.Extra && !slices.ContainsFunc(v.Steps[:i], func(x turnLine) bool { return x.Open }) {
			l.Open = true
		}
	}
	p := page{Said: style.Say("Clean and prove %s", v.Vessel), Here: "/what-i-have", Cautious: true, Content: &v}
	if status != http.StatusOK {
		p.Bad = true
	}
	s.show(w, r, status, "turnaround", p)
}

// turnLines are the steps with what was done of them since the last batch ended.
func (s *Site) turnLines(ctx context.Context, in *monitor.InVessel, style unit.Style) ([]turnLine, error) {
	last, err := s.lastIn(ctx)
	if err != nil {
		return nil, err
	}
	var since time.Time
	if b := last[in.Vessel.ID]; b != nil {
		since = b.Ended
	}
	log, _, err := s.watch.Store().Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	done := map[batch.Verdict]*batch.Held{}
	held := batch.Hold(log)
	for i := range held {
		h := &held[i]
		if j := judgementOf(h); j != nil && h.Thing == in.Vessel.ID && !h.At.Before(since) {
			verdict := j.Verdict
			if verdict == batch.LeakTestFailed {
				verdict = batch.LeakTestPassed // one step, the last result
			}
			done[verdict] = h
		}
	}
	var out []turnLine
	for _, step := range turnSteps(style) {
		line := turnLine{turnStep: step, Once: store.NewID(), When: whenOf(style.Tongue, step.Verdict), Leak: step.Verdict == batch.LeakTestPassed, Dose: step.Verdict == batch.Sanitised}
		if h := done[step.Verdict]; h != nil {
			j := judgementOf(h)
			line.Undo, line.How, line.Done = h.ID, judgedHow(h), style.Time(h.At.In(s.zone(style)), "2 January, 15:04")
			line.Words = strings.TrimSpace(style.Word(map[bool]wording.Text{true: "It did not pass.", false: ""}[j.Verdict == batch.LeakTestFailed]) + " " + j.Words)
			if line.Leak && in.Turn.Proved.IsZero() && !in.Turn.Failed {
				line.Words += " " + style.Word("The seals were off since: prove it again.")
			}
		}
		out = append(out, line)
	}
	return out, nil
}

// judgementOf is what an entry judges, nil where it judges nothing.
func judgementOf(h *batch.Held) *batch.Judgement {
	if h.Kind != batch.KindJudgement {
		return nil
	}
	j := as[batch.Judgement](asDoc(h.Body))
	return &j
}

// whenOf asks when a step was done, in a field of its own name.
func whenOf(t *wording.Tongue, verdict batch.Verdict) *asking {
	return whenAsked(t, "when-"+strings.ReplaceAll(string(verdict), " ", "-"), "two hours ago")
}

// turnDone keeps that a step was done.
func (s *Site) turnDone(w http.ResponseWriter, r *http.Request) {
	in := s.turning(w, r)
	if in == nil {
		return
	}
	verdict := batch.Verdict(r.PostFormValue("verdict"))
	if !slices.ContainsFunc(turnSteps(unit.Style{}), func(t turnStep) bool { return t.Verdict == verdict && t.Button != "" }) {
		s.unreadable(w, r)
		return
	}
	when := &sheet{Fields: []*asking{whenOf(tongueOf(r), verdict)}}
	when.take(r.PostForm)
	at := when.Fields[0].moment(tongueOf(r), s.watch.Now().In(s.zone(readTastes(r).Style)))
	if when.Bad() {
		s.showTurn(w, r, in, leakForm(readTastes(r).Style), when, http.StatusUnprocessableEntity)
		return
	}
	s.judge(w, r, in, batch.Judgement{Verdict: verdict}, at)
}

// judge keeps a judgement of a vessel and leads back to its turnaround.
func (s *Site) judge(w http.ResponseWriter, r *http.Request, in *monitor.InVessel, j batch.Judgement, at moment) {
	e, err := s.written(onceID(r), batch.KindJudgement, at.At, j)
	e.Thing, e.Uncertain = in.Vessel.ID, at.Uncertain
	if err == nil {
		err = s.keepUnlessThere(r.Context(), e)
	}
	s.led(w, r, "/vessels/"+in.Vessel.ID.String()+"/turnaround?kept", err)
}

// The fields of a leak test, by the flags of its calculation.
var leakFields = []struct {
	name        string
	label, hint wording.Text
	fig         *figure
}{
	{"volume", "How much room was left above the water?", "For example 1 L.", roomLeft},
	{"from-pressure", "Pressure at the first reading", "For example 10 psi.", knobMark},
	{"from-temperature", "Temperature at the first reading", "Of the water, or on the vessel.", beerHeat},
	{"time", "Time between the readings", "For example 12 h.", betweenLooks},
	{"to-pressure", "Pressure at the second reading", "", knobMark},
	{"to-temperature", "Temperature at the second reading", "", beerHeat},
}

func leakForm(style unit.Style) *sheet {
	f := &sheet{}
	for _, x := range leakFields {
		f.Fields = append(f.Fields, &asking{Name: x.name, Label: style.Word(x.label), Hint: style.Word(x.hint), Unit: x.fig.behind(style), Numeric: x.fig.digits(style)})
	}
	return f
}

// usualRinse is the water that wets a vessel of 20 to 30 L when it is swilled round (common practice, no source).
const usualRinse = 5 * unit.Litre

// mostLeak is the loss that a test must be able to show, in g of gas a day: a full cylinder of
// 2.6 kg is gone within a year and a half (assumption).
const mostLeak = 5.0

// leakTest takes the two readings of a test, says whether it holds gas, and keeps the result.
func (s *Site) leakTest(w http.ResponseWriter, r *http.Request) {
	in := s.turning(w, r)
	if in == nil {
		return
	}
	style := readTastes(r).Style
	f := leakForm(style)
	if err := f.read(r); err != nil {
		s.unreadable(w, r)
		return
	}
	f.missing(style.Tongue)
	j := f.proof(&in.Vessel.Facts.Vessel, style)
	if f.Bad() {
		s.showTurn(w, r, in, f, emptiedForm(tongueOf(r)), http.StatusUnprocessableEntity)
		return
	}
	s.judge(w, r, in, *j, moment{At: s.watch.Now()})
}

// proof is the verdict of a leak test; what is wrong stands beside its field.
func (f *sheet) proof(v *batch.Vessel, style unit.Style) *batch.Judgement {
	said, si := map[string]string{}, map[string]float64{}
	for _, x := range leakFields {
		if a := f.field(x.name); a.Error == "" {
			si[x.name], a.Error = x.fig.read(a.Typed, style)
			said[x.name] = withUnit(a.Typed, x.fig.behind(style))
		}
	}
	if f.Bad() {
		return nil
	}
	if !f.allowed(v, unit.Gauge(max(si["from-pressure"], si["to-pressure"])), style) {
		return nil
	}
	read := &batch.LeakTest{Room: unit.Volume(si["volume"]), From: unit.Gauge(si["from-pressure"]), To: unit.Gauge(si["to-pressure"]),
		FromTemp: unit.Temperature(si["from-temperature"]), ToTemp: unit.Temperature(si["to-temperature"]), Time: unit.Duration(si["time"])}
	row, _ := calc.Find("leak")
	row = row.In(style)
	a, err := row.Evaluate(paired(leakValues(read)))
	if err != nil {
		f.Beside = reason(row, err)
		return nil
	}
	f.How = leakLink(read)
	perDay, half := a.Results[0].Value, bandOf(a, "leak_g_per_day")/2
	from, to, time := said["from-pressure"], said["to-pressure"], style.Duration(read.Time, 0)
	switch {
	case perDay > half:
		return &batch.Judgement{Verdict: batch.LeakTestFailed, LeakTest: read, Words: style.Say("%s to %s in %s. It loses about %s, temperature taken out.", from, to, time, aDay(perDay, style))}
	case perDay < -half:
		f.field("to-pressure").Error = style.Word("The gauge rose, temperature taken out. Was gas still coming in? Read it once more.")
	case perDay+half > mostLeak:
		f.field("time").Error = style.Say("These readings would not show a leak of less than %s. Wait at least %s, and read again.", aDay(perDay+half, style), style.Duration(read.Time*unit.Duration((perDay+half)/mostLeak), 0))
	default:
		return &batch.Judgement{Verdict: batch.LeakTestPassed, LeakTest: read, Words: style.Say("%s to %s in %s. At most %s, temperature taken out.", from, to, time, aDay(max(perDay, 0)+half, style))}
	}
	return nil
}

// allowed tells whether a vessel may be tested at a pressure; else the reason stands beside its field.
func (f *sheet) allowed(v *batch.Vessel, p unit.Gauge, style unit.Style) bool {
	switch most, rated := advice.Most(v); {
	case !rated:
		f.field("from-pressure").Error = limit.Say(style, "l.rating-unknown")
	case p > most:
		f.field("from-pressure").Error = style.Say("That is above %s, the most that is advised for this vessel. Let it down, and test with less.", style.Limit(most))
	default:
		return true
	}
	return false
}

// leakValues are what a leak test read, as its calculation takes it: far finer than any dial.
func leakValues(t *batch.LeakTest) []string {
	of := func(x float64, unit string) string { return fmt.Sprintf("%.5g %s", x, unit) }
	return []string{"volume", of(t.Room.Litres(), "L"), "time", of(float64(t.Time)/unit.Hour, "h"),
		"from-pressure", of(t.From.Kilopascals(), "kPa"), "from-temperature", of(t.FromTemp.Celsius(), "C"),
		"to-pressure", of(t.To.Kilopascals(), "kPa"), "to-temperature", of(t.ToTemp.Celsius(), "C")}
}

// leakLink works out a leak test with what was read.
func leakLink(t *batch.LeakTest) *door {
	return workLink("Does it hold gas?", "leak", leakValues(t)...)
}

// judgedHow is the working of what was judged; nil where it has none.
func judgedHow(h *batch.Held) *door {
	if j := judgementOf(h); j != nil && j.LeakTest != nil {
		return leakLink(j.LeakTest)
	}
	return nil
}

// aDay writes a loss of so many grams a day.
func aDay(g float64, style unit.Style) string {
	return style.Say("%s a day", style.Mass(unit.Mass(g*unit.Gram), 0))
}

func emptiedForm(t *wording.Tongue) *sheet {
	return &sheet{Fields: []*asking{whenAsked(t, "when", "two hours ago")}}
}

// emptied ends the batch in a vessel: it is judged to be empty.
func (s *Site) emptied(w http.ResponseWriter, r *http.Request) {
	v := s.find(w, r)
	if v == nil {
		return
	}
	if v.Seen == nil {
		http.Redirect(w, r, v.Path(), http.StatusSeeOther)
		return
	}
	form := emptiedForm(tongueOf(r))
	if err := form.read(r); err != nil {
		s.unreadable(w, r)
		return
	}
	now := s.watch.Now().In(s.zone(readTastes(r).Style))
	at := form.field("when").moment(tongueOf(r), now)
	if a := form.field("when"); a.Error == "" && at.At.Before(v.Seen.State.Record.Pitched) {
		a.Error = tongueOf(r).Word("The yeast went in later than that. Look once more.")
	}
	if form.Bad() {
		if v.Vessel == nil {
			s.show(w, r, http.StatusUnprocessableEntity, "error", page{Title: "That could not be read", Content: form.field("when").Error})
			return
		}
		s.showTurn(w, r, &v.InVessel, leakForm(readTastes(r).Style), form, http.StatusUnprocessableEntity)
		return
	}
	e, err := s.written(onceID(r), batch.KindJudgement, at.At, batch.Judgement{Verdict: batch.Emptied})
	e.Batch, e.Uncertain = v.Seen.ID, at.Uncertain
	if err == nil {
		err = s.keepUnlessThere(r.Context(), e)
	}
	to := v.Path()
	if v.Vessel != nil {
		to += "/turnaround?kept"
	}
	s.led(w, r, to, err)
}
