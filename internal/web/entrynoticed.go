package web

import (
	"net/http"

	"spile/batch"
	"spile/unit"
	"spile/wording"
)

// sight is something that people notice at a vessel.
type sight struct {
	Word   string // as it is kept
	Name   wording.Text
	Answer wording.Text // what it means, said at once; empty where a limit says it
	Poured bool         // it is noticed of beer that can be poured alone
}

// noticeable are what can be noticed with one tap.
var noticeable = []sight{
	{Word: "hiss", Name: "Hiss", Answer: "A hiss from the working valve is gas leaving. That is its job."},
	{Word: "foam", Name: "Foam in the valve", Answer: "Cool it two degrees. Keep faces away from the lid."},
	{Word: "wet seal", Name: "Wet seal", Answer: "Brush soapy water on it and look for bubbles."},
	{Word: "smell", Name: "Smell", Answer: "A smell of rotten eggs or sulphur is common while it works."},
	{Word: "swollen", Name: "Swollen", Answer: "Read the dial from the side. Keep faces away. Do not undo anything. See Something is wrong."},
	{Word: batch.Ice, Name: "Ice"},
	{Word: batch.FoamInGlass, Name: "Mostly foam in the glass", Answer: "The page of the vessel says why, as far as the vessel tells.", Poured: true},
	{Word: "nothing", Name: "Nothing yet", Answer: "Nothing is an observation too."},
}

// noticedForm is "I noticed".
type noticedForm struct {
	*entryForm
	Vessel *stood
	What   *asking
	Words  *asking
}

func newNoticedForm(v *stood, t tastes) *noticedForm {
	f := &noticedForm{entryForm: newEntryForm(v.Now.In(v.zone()), t.Style), Vessel: v}
	f.What = f.ask(&asking{Name: "what", Label: f.Style.Word("What was it?"), Optional: true})
	for _, x := range noticeable {
		if x.Poured && !v.State.Pourable() {
			continue
		}
		f.What.Options = append(f.What.Options, option{x.Word, f.Style.Word(x.Name)})
	}
	f.Words = f.ask(&asking{Name: "words", Label: f.Style.Word("In your own words"), Hint: f.Style.Word("Kept as you write it."), Long: true, Optional: true})
	return f
}

// iNoticed asks what was noticed, and keeps it.
func (s *Site) iNoticed(w http.ResponseWriter, r *http.Request) {
	v := s.findFilled(w, r)
	if v == nil {
		return
	}
	f := newNoticedForm(v, readTastes(r))
	if s.takeEntries(w, r, f, "entry-noticed", "I noticed") {
		s.goBack(w, r, v, f.kept)
	}
}

// entries are what was noticed: one, with the words beside.
func (f *noticedForm) entries() ([]batch.Entry, error) {
	when := f.moment()
	if f.What.Typed == "" && f.Words.Typed == "" {
		f.Beside = f.Style.Word("Choose what you noticed, or write it.")
	}
	if f.Bad() {
		return nil, nil
	}
	told := &batch.Said{Words: f.Words.Typed}
	if f.What.Typed != "" {
		told.Event = &batch.Event{Kind: batch.Noticed, Words: f.What.Typed}
	}
	e, err := f.entry(f.Vessel.Seen.ID, kindOf(told), when, 0, told)
	return []batch.Entry{e}, err
}

// meaning is what it means that something was noticed, said at once.
func meaning(e *batch.Event, style unit.Style) string {
	for _, x := range noticeable {
		if e != nil && e.Kind == batch.Noticed && e.Words == x.Word {
			return style.Word(x.Answer)
		}
	}
	return ""
}
