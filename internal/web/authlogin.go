package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"spile/internal/store"
	"spile/wording"
)

// loginForm asks who is there.
type loginForm struct {
	sheet
	Back   string
	Unsent bool // a form was sent that could not be kept without a login
	Nobody bool // no person is known at all
}

func newLogin(people []store.Person) *loginForm {
	f := &loginForm{Nobody: len(people) == 0}
	if len(people) != 1 {
		f.Fields = append(f.Fields, &asking{Name: "name", Label: "Your name", Kept: "username"})
	}
	f.Fields = append(f.Fields, &asking{Name: "password", Label: "Password", Secret: true, Kept: "current-password"})
	return f
}

// askLogin answers who has not logged in.
func (s *Site) askLogin(w http.ResponseWriter, r *http.Request) {
	get := r.Method == http.MethodGet || r.Method == http.MethodHead
	switch {
	case machine(r) || get && !strings.Contains(r.Header.Get("Accept"), "text/html") && r.Header.Get("Accept") != "" && r.Header.Get("Accept") != "*/*":
		refuse(w, r, http.StatusUnauthorized, "Log in first: POST /login with name and password, and send the cookie that comes back.")
	case get:
		http.Redirect(w, r, "/login?back="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
	default: // not sent on, so that no script takes it for kept
		s.showLogin(w, r, http.StatusUnauthorized, func(f *loginForm) { f.Unsent = true })
	}
}

func (s *Site) showLogin(w http.ResponseWriter, r *http.Request, status int, fill func(f *loginForm)) {
	people, err := s.watch.Store().People(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	f := newLogin(people)
	fill(f)
	s.show(w, r, status, "login", page{Title: "Log in", Bad: f.Bad(), Content: f})
}

// login shows the form, or lets somebody in.
func (s *Site) login(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		s.showLogin(w, r, http.StatusOK, func(f *loginForm) { f.Back = ownPath(r.URL.Query().Get("back")) })
		return
	}
	if err := r.ParseForm(); err != nil {
		s.unreadable(w, r)
		return
	}
	name, back := strings.TrimSpace(r.PostForm.Get("name")), ownPath(r.PostForm.Get("back"))
	say, status := "", http.StatusUnprocessableEntity
	p, err := s.identify(r, name)
	switch {
	case errors.Is(err, errTooMany):
		say, status = sentence(err.Error()), http.StatusTooManyRequests
		w.Header().Set("Retry-After", "60")
	case errors.Is(err, store.ErrPerson):
		say = sentence(err.Error())
	case err != nil:
		s.fail(w, r, err)
		return
	default:
		s.begin(w, r, p, back)
		return
	}
	s.showLogin(w, r, status, func(f *loginForm) {
		f.Back = back
		f.take(url.Values{"name": {name}})
		if f.field("password").Error = say; len(f.Fields) == 1 && errors.Is(err, store.ErrPerson) {
			f.field("password").Error = tongueOf(r).Word("That is not the password.") // no name was asked for
		}
	})
}

// identify is the person that logs in. Where there is one person only the name may be left out.
func (s *Site) identify(r *http.Request, name string) (store.Person, error) {
	if !s.clients.guess(clientOf(r)) {
		return store.Person{}, errTooMany
	}
	if name == "" {
		people, err := s.watch.Store().People(r.Context())
		if err != nil {
			return store.Person{}, err
		}
		if len(people) == 1 {
			name = people[0].Name
		}
	}
	return s.watch.Store().Login(r.Context(), name, r.PostForm.Get("password"))
}

// begin begins a session under a name that nobody knew before.
func (s *Site) begin(w http.ResponseWriter, r *http.Request, p store.Person, back string) {
	if err := s.sessions.RenewToken(r.Context()); err != nil {
		s.fail(w, r, err)
		return
	}
	s.sessions.Put(r.Context(), personKey, p.ID.String())
	s.sessions.Put(r.Context(), stampKey, p.Stamp)
	if back == "" {
		back = "/"
	}
	http.Redirect(w, r, back, http.StatusSeeOther)
}

// logout ends the session.
func (s *Site) logout(w http.ResponseWriter, r *http.Request) {
	if err := s.sessions.Destroy(r.Context()); err != nil {
		s.fail(w, r, err)
		return
	}
	http.Redirect(w, r, "/login", http.StatusSeeOther)
}

// passwordForm changes one's own password.
type passwordForm struct {
	sheet
	Kept bool
	Who  string // empty: nobody has logged in
}

func newPassword(t *wording.Tongue) *passwordForm {
	return &passwordForm{sheet: sheet{Fields: []*asking{
		{Name: "password", Label: t.Word("The password so far"), Secret: true, Kept: "current-password"},
		{Name: "new", Label: t.Word("The new one"), Secret: true, Kept: "new-password", Hint: t.Word(passwordHint)},
	}}}
}

const passwordHint wording.Text = "At least eight letters. Four words that do not belong together are easy to keep in mind."

// ownPassword shows the form, or changes the password. Other sessions of the person end.
func (s *Site) ownPassword(w http.ResponseWriter, r *http.Request) {
	f, p, status := newPassword(tongueOf(r)), whoIs(r.Context()), http.StatusOK
	f.Kept = r.URL.Query().Has("kept")
	if p != nil {
		f.Who = p.Name
	}
	if r.Method == http.MethodPost && p != nil {
		if err := f.read(r); err != nil {
			s.unreadable(w, r)
			return
		}
		f.missing(tongueOf(r))
		if status = http.StatusUnprocessableEntity; !f.Bad() {
			done, err := s.changePassword(r, f, p)
			if err != nil {
				s.fail(w, r, err)
				return
			}
			if done {
				http.Redirect(w, r, "/settings/password?kept", http.StatusSeeOther)
				return
			}
		}
	}
	s.show(w, r, status, "password", page{Title: "My password", Here: "/settings", Content: f})
}

// changePassword changes it, or puts the reason beside the field.
func (s *Site) changePassword(r *http.Request, f *passwordForm, p *store.Person) (done bool, err error) {
	old, wanted := f.field("password"), f.field("new")
	if err := store.CheckPassword(wanted.Typed); err != nil {
		wanted.Error = refusal(err)
		return false, nil
	}
	if !s.clients.guess(clientOf(r)) {
		old.Error = sentence(errTooMany.Error())
		return false, nil
	}
	kept := s.watch.Store()
	if _, err := kept.Login(r.Context(), p.Name, old.Typed); errors.Is(err, store.ErrPerson) {
		old.Error = tongueOf(r).Word("That is not the password so far.")
		return false, nil
	} else if err != nil {
		return false, err
	}
	if err := kept.SetPassword(r.Context(), p.Name, wanted.Typed); err != nil {
		return false, err
	}
	now, err := kept.Login(r.Context(), p.Name, wanted.Typed)
	if err != nil {
		return false, err
	}
	s.sessions.Put(r.Context(), stampKey, now.Stamp)
	return true, s.sessions.RenewToken(r.Context())
}

// refusal is a fault as it stands beside a field.
func refusal(err error) string {
	return sentence(strings.Replace(err.Error(), "; accepted: ", ". Accepted: ", 1))
}
