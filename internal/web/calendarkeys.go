package web

import (
	"context"
	"html/template"
	"net/http"
	"strings"

	"spile/batch"
	"spile/internal/store"
	"spile/wording"
)

// calendarsView is the addresses for calendars that somebody sees, and the form for one more.
type calendarsView struct {
	sheet
	Lines   []calendarLine
	Address string // made just now: it is shown once
	Opens   template.URL
	Drawing template.HTML
	Named   string
}

// calendarLine is an address, with whose it is where that is somebody else.
type calendarLine struct {
	store.Calendar
	Whose string
	Since string
}

// calendarsOf are the addresses of whoever asks. An owner, and who is at this machine without a login, see those of all.
func (s *Site) calendarsOf(r *http.Request) (*calendarsView, error) {
	v := newCalendars(tongueOf(r))
	return v, s.listCalendars(r, v)
}

func newCalendars(t *wording.Tongue) *calendarsView {
	return &calendarsView{sheet: sheet{Fields: []*asking{{Name: "name", Label: t.Word("Which calendar is it for?"), Hint: t.Word("For example “my phone”.")}}}}
}

func (s *Site) listCalendars(r *http.Request, v *calendarsView) error {
	all, err := s.watch.Store().Calendars(r.Context())
	if err != nil {
		return err
	}
	people, err := s.watch.Store().People(r.Context())
	if err != nil {
		return err
	}
	names := map[batch.ID]string{}
	for _, p := range people {
		names[p.ID] = p.Name
	}
	style := readTastes(r).Style
	for _, c := range all {
		if mayWithdraw(r.Context(), c) {
			line := calendarLine{Calendar: c, Since: style.Time(style.In(c.Made, s.watch.Now().Location()), "Monday 2 January 2006")}
			if c.Person != whose(r.Context()) {
				line.Whose = names[c.Person]
			}
			v.Lines = append(v.Lines, line)
		}
	}
	return nil
}

// whose is the id of who asks; zero: somebody at this machine who did not log in.
func whose(ctx context.Context) (id batch.ID) {
	if p := whoIs(ctx); p != nil {
		id = p.ID
	}
	return id
}

// mayWithdraw tells whether an address is of who asks, or theirs to withdraw.
func mayWithdraw(ctx context.Context, c store.Calendar) bool {
	p := whoIs(ctx)
	return p == nil || p.Role == store.Owner || c.Person == p.ID
}

// calendars shows the addresses for calendars, makes one or withdraws one.
func (s *Site) calendars(w http.ResponseWriter, r *http.Request) {
	v := newCalendars(tongueOf(r))
	s.manage(w, r, &v.sheet, "/settings/calendars", managing{
		add:    func(ctx context.Context) error { return s.newCalendar(r, v) },
		remove: s.withdraw,
		once:   true,
		show: func(status int) error {
			if err := s.listCalendars(r, v); err != nil {
				return err
			}
			s.show(w, r, status, "calendars", page{Title: "Addresses for calendars", Here: "/settings", Content: v})
			return nil
		},
	})
}

// newCalendar makes an address in the units, the zone and the language of whoever asks.
func (s *Site) newCalendar(r *http.Request, v *calendarsView) error {
	t := readTastes(r)
	c := store.Calendar{Person: whose(r.Context()), Name: v.field("name").Typed, Words: strings.Join(t.Words, ","), Language: t.Style.Tongue.Lang()}
	if t.Style.Zone != nil {
		c.Zone = t.Style.Zone.String()
	}
	c, key, err := s.watch.Store().AddCalendar(r.Context(), c)
	if err != nil {
		return err
	}
	v.Address, v.Named, v.field("name").Typed = s.base(r)+"/calendar/"+key+calendarEnding, c.Name, ""
	v.Opens = template.URL("webcal" + strings.TrimPrefix(v.Address, "http")) // a program that subscribes answers to it
	if s.beyond != nil {
		v.Drawing, err = opens(v.Address, t.Style.Tongue)
	}
	return err
}

// withdraw withdraws the address of that id.
func (s *Site) withdraw(ctx context.Context, id string) error {
	all, err := s.watch.Store().Calendars(ctx)
	if err != nil {
		return err
	}
	for _, c := range all {
		if c.ID.String() == id && mayWithdraw(ctx, c) {
			return s.watch.Store().WithdrawCalendar(ctx, c.ID)
		}
	}
	return &store.Fault{Usage: true, Sentence: "that address is not there any more"}
}
