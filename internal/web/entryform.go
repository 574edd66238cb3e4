package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
	"spile/wording"
)

// gauged is the question for an amount: what is expected, and what is asked where that
// which was typed can hardly be meant.
type gauged struct {
	asking
	amount   *amount
	Expected string // where the buttons begin, in the field's unit; empty: nobody knows
	Doubt    *doubt
	First    bool // has the focus when the page opens
	band     *estimate.Band
}

// Promised is what "just as expected" stands for when it is sent.
func (g *gauged) Promised() string { return strings.TrimSpace(g.Expected + " " + g.Unit) }

// Digits tells that a keyboard of digits is enough, which may have no minus and no letters: a number counts as it
// stands, and what the instrument can show is not below zero in its unit. A dial begins at zero (common practice, no source).
func (g *gauged) Digits() bool {
	a := g.amount
	if a.of < 0 {
		return false
	}
	if g.Unit == "" || a.of != unit.OfTemperature && a.of != unit.OfGravity {
		return true
	}
	low, _ := a.bounds()
	if g.band != nil {
		low = max(low, g.band.P05-near[a.of])
	}
	zero, err := a.parse("0 " + g.Unit)
	return err == nil && zero <= low
}

// Of and Short are the two parts of the label of a vessel in the round.
func (g *gauged) Of() string { return g.Label[:len(g.Label)-len(g.Short())] }

// Short is the quantity alone.
func (g *gauged) Short() string { return g.Label[strings.LastIndex(g.Label, ", ")+2:] }

// Briefly is what is expected, as an answer where there is little room.
func (g *gauged) Briefly() wording.Sentence {
	if g.Unit == "" {
		return wording.Unsaid("%s expected", g.Expected)
	}
	return wording.Unsaid("%s %s expected", g.Expected, wording.Text(g.Unit))
}

// just is the group of the answer that the instrument shows what was expected.
const just = "just"

// entryForm is a form that makes an entry: I read, I did, I noticed.
type entryForm struct {
	sheet
	ID      batch.ID // of the entry it makes, so that sending it twice makes one
	Style   unit.Style
	Earlier *asking
	Sure    []string // answers to doubts that were given before
	now     time.Time
	gauges  []*gauged
	stamped time.Time // by the device that sent it; zero: it came at once
	written []string  // what was typed, as it is kept
	kept    []batch.Entry
}

// The questions that all such forms have.
const earlierField = "when"

func newEntryForm(now time.Time, style unit.Style) *entryForm {
	f := &entryForm{ID: store.NewID(), Style: style, now: now}
	f.Earlier = &asking{Name: earlierField, Label: style.Word("About when?"), Optional: true,
		Hint: style.Word("Such as “20 minutes ago”, “two hours ago”, 14:30, “yesterday evening”. How sure you are of it goes in with it.")}
	f.Fields = append(f.Fields, f.Earlier)
	return f
}

// ask adds a question; those about time stay last.
func (f *entryForm) ask(a *asking) *asking {
	f.Fields = slices.Insert(f.Fields, len(f.Fields)-1, a)
	return a
}

// gauge adds the question for an amount.
func (f *entryForm) gauge(name, label string, a *amount) *gauged {
	g := &gauged{asking: asking{Name: name, Label: label, Optional: true, Unit: a.unitOf(f.Style)}, amount: a}
	if a.of >= 0 {
		g.Step = f.Style.Decimal(trimmed(f.Style.Of(a.of, a.usual()).Finest))
	}
	f.gauges = append(f.gauges, g)
	f.ask(&g.asking)
	return g
}

func trimmed(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.4g", v), ".0") }

// expect says what the instrument should show.
func (g *gauged) expect(band estimate.Band, style unit.Style) {
	m, wide := style.Of(g.amount.of, band.P50), band.P95-band.P05
	low, high := m.Edges(band.P05, band.P95)
	g.band, g.Expected = &band, m.Number(band.P50, wide)
	g.Hint = style.Say("Expected: %s, between %s and %s.", m.With(g.Expected), low, m.With(high))
	g.Others = []otherwise{{Group: just, Words: style.Word("It shows just that")}}
}

// read takes what was sent.
func (f *entryForm) read(r *http.Request) error {
	if err := f.sheet.read(r); err != nil {
		return err
	}
	if id, err := batch.ParseID(r.PostForm.Get("id")); err == nil {
		f.ID = id
	}
	f.Sure = r.PostForm["sure"]
	for _, g := range f.gauges {
		if g.instead(just) { // what the page promised when it was made, not what is expected by now
			g.Expected = strings.TrimSpace(strings.TrimSuffix(r.PostForm.Get("expected-"+g.Name), g.Unit))
		}
	}
	if at, err := time.Parse(time.RFC3339, r.PostForm.Get("at")); err == nil && at.Before(f.now) && at.After(f.now.AddDate(0, 0, -60)) {
		f.stamped = at
	}
	return nil
}

// sureOf is what the user said was meant by what was typed into a field.
func (f *entryForm) sureOf(field, typed string) (meant string, sure bool) {
	for _, s := range f.Sure {
		if parts := strings.SplitN(s, "|", 3); len(parts) == 3 && parts[0] == field && parts[2] == typed {
			return parts[1], true
		}
	}
	return "", false
}

// Surely is how the button says what is meant.
func (g *gauged) Surely(meant string) string { return g.Name + "|" + meant + "|" + g.Typed }

// value is what a question was answered with, in SI. Where it cannot be taken the reason
// stands beside the question.
func (f *entryForm) value(g *gauged) (si float64, given bool) {
	typed := g.Typed
	if typed == "" && g.instead(just) {
		typed = g.Promised()
	}
	if typed == "" || g.Error != "" {
		return 0, false
	}
	meant, sure := f.sureOf(g.Name, typed)
	if sure {
		si, g.Error = g.amount.surely(f.Style, meant, g.Unit)
	} else if si, g.Doubt, g.Error = g.amount.read(f.Style, typed, g.Unit, g.band); g.Doubt != nil {
		g.Error, g.Doubt.Take, g.Doubt.Keep = g.Doubt.Says, f.Style.Decimal(g.Doubt.Take), f.Style.Decimal(g.Doubt.Keep)
	}
	if g.Error != "" {
		g.Error = f.Style.Decimal(g.Error)
		return 0, false
	}
	f.written = append(f.written, asWritten(string(g.amount.Name), typed, g.Unit, meant))
	return si, true
}

// asWritten is what was typed, with the unit that stood behind it or what was meant by it.
func asWritten(name, typed, in, meant string) string {
	text := lowered(name) + " " + typed
	if meant != "" {
		return text + ", meant as " + meant
	}
	if numberAlone.MatchString(typed) && in != "" {
		text += " " + in
	}
	return text
}

// moment is when it was; the reason stands beside the question where that is not clear.
func (f *entryForm) moment() moment {
	if f.Earlier.Typed == "" {
		if !f.stamped.IsZero() {
			return moment{At: f.stamped}
		}
		return moment{At: f.now}
	}
	now := f.now
	if !f.stamped.IsZero() {
		now = f.stamped.In(f.now.Location())
	}
	m, problem := readMoment(f.Style.Tongue, f.Earlier.Typed, now)
	f.Earlier.Error = problem
	return m
}

// entry is one line of a log as this form makes it; n counts those of one form.
func (f *entryForm) entry(log batch.ID, kind batch.Kind, when moment, n byte, says any) (batch.Entry, error) {
	e := batch.Entry{ID: nth(f.ID, n), Batch: log, Kind: kind, At: when.At, Uncertain: when.Uncertain, Made: f.now}
	if says == nil {
		return e, nil
	}
	body, err := batch.EncodeBody(says)
	e.Body = body
	return e, err
}

// nth is the id of the n-th entry that one form makes, the first being its own: a form that is
// sent twice makes the same ones.
func nth(id batch.ID, n byte) batch.ID {
	id[15] ^= n
	return id
}
