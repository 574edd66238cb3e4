package web

import (
	"context"
	"errors"
	"net/http"
	"slices"

	"spile/batch"
	"spile/internal/store"
	"spile/wording"
)

// peopleView is who may come in, and the form for one more.
type peopleView struct {
	sheet
	People []store.Person
	Alone  bool // this machine alone is served: nobody has to log in
}

// Stays tells of the only owner, without whom nobody could let people in.
func (v *peopleView) Stays(p store.Person) bool {
	return p.Role == store.Owner && !slices.ContainsFunc(v.People, func(other store.Person) bool { return other.Role == store.Owner && other.Name != p.Name })
}

// roleOptions say what each role may do.
var roleOptions = []choice{
	{string(store.Viewer), "Viewer: sees everything, keeps nothing"},
	{string(store.Brewer), "Brewer: keeps readings, fills vessels, gives keys to devices"},
	{string(store.Owner), "Owner: that, and lets people in"},
}

func newPerson(t *wording.Tongue) sheet {
	return sheet{Fields: []*asking{
		{Name: "name", Label: t.Word("Name"), Hint: t.Word("It stands beside what this person keeps.")},
		{Name: "role", Label: t.Word("May do"), Options: options(t, roleOptions...), Typed: string(store.Brewer)},
		{Name: "password", Label: t.Word("First password"), Secret: true, Kept: "new-password", Hint: t.Word(passwordHint) + " " + t.Word("It can be changed after logging in.")},
	}}
}

// people shows who may come in, adds one or takes one out.
func (s *Site) people(w http.ResponseWriter, r *http.Request) {
	v, kept := peopleView{sheet: newPerson(tongueOf(r)), Alone: s.beyond == nil}, s.watch.Store()
	s.manage(w, r, &v.sheet, "/settings/people", managing{
		add: func(ctx context.Context) error {
			_, err := kept.AddPerson(ctx, v.field("name").Typed, store.Role(v.field("role").Typed), v.field("password").Typed)
			return err
		},
		remove: kept.RemovePerson,
		show: func(status int) (err error) {
			v.People, err = kept.People(r.Context())
			if err == nil {
				s.show(w, r, status, "people", page{Title: "People", Here: "/settings", Content: &v})
			}
			return err
		},
	})
}

// managing is what a page does that lists names, adds one and takes one out.
type managing struct {
	add    func(ctx context.Context) error
	remove func(ctx context.Context, name string) error
	show   func(status int) error
	once   bool // what adding made is shown in the answer, and never again
}

// manage answers for such a page. What the cellar refuses stands with the form.
func (s *Site) manage(w http.ResponseWriter, r *http.Request, f *sheet, at string, m managing) {
	status := http.StatusOK
	if r.Method == http.MethodPost {
		if err := r.ParseForm(); err != nil {
			s.unreadable(w, r)
			return
		}
		var err error
		name := r.PostForm.Get("remove")
		if name != "" {
			err = m.remove(r.Context(), name)
		} else {
			f.take(r.PostForm)
			if f.missing(tongueOf(r)); !f.Bad() {
				err = m.add(r.Context())
			}
		}
		status = http.StatusUnprocessableEntity
		var fault *store.Fault
		switch {
		case errors.As(err, &fault) && fault.Usage:
			f.Beside = refusal(fault)
		case err != nil:
			s.fail(w, r, err)
			return
		case !f.Bad() && m.once && name == "":
			status = http.StatusCreated
		case !f.Bad():
			http.Redirect(w, r, at, http.StatusSeeOther)
			return
		}
	}
	if err := m.show(status); err != nil {
		s.fail(w, r, err)
	}
}

// devicesView is the keys for devices, and the form for one more.
type devicesView struct {
	sheet
	Devices []deviceLine
	Key     string // made just now: it is shown once
	Named   string
	Base    string // address of this server
	Alone   bool   // it answers to this machine alone
}

// deviceLine is a device with the name of its vessel.
type deviceLine struct {
	store.Device
	Stands string
}

// devices shows the keys for devices, makes one or takes one away.
func (s *Site) devices(w http.ResponseWriter, r *http.Request) {
	stands, names, err := s.places(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	v := devicesView{Base: s.base(r), Alone: s.beyond == nil, sheet: sheet{Fields: []*asking{
		{Name: "name", Label: tongueOf(r).Word("Name of the device"), Hint: tongueOf(r).Word("It stands beside what it sends. For example “strip on Dunlin”.")},
		{Name: "vessel", Label: tongueOf(r).Word("The only vessel it may add readings to"), Options: stands},
	}}}
	kept := s.watch.Store()
	s.manage(w, r, &v.sheet, "/settings/devices", managing{
		add: func(ctx context.Context) error {
			id, err := batch.ParseID(v.field("vessel").Typed)
			if err != nil {
				return err // it was among the options
			}
			var d store.Device
			d, v.Key, err = kept.AddDevice(ctx, v.field("name").Typed, id)
			v.Named = d.Name
			return err
		},
		remove: kept.RemoveDevice,
		once:   true,
		show: func(status int) error {
			all, err := kept.Devices(r.Context())
			if err != nil {
				return err
			}
			for _, d := range all {
				v.Devices = append(v.Devices, deviceLine{d, names[d.Vessel]})
			}
			if v.Key != "" {
				v.field("name").Typed = ""
			}
			s.show(w, r, status, "devices", page{Title: "Keys for devices", Here: "/settings", Content: &v})
			return nil
		},
	})
}

// places are the vessels, and the batches that stand in none of the cellar's, to choose from.
func (s *Site) places(ctx context.Context) (out []option, names map[batch.ID]string, err error) {
	all, err := s.watch.Round(ctx)
	if err != nil {
		return nil, nil, err
	}
	names = map[batch.ID]string{}
	for _, in := range all {
		names[in.ID()] = in.Name()
		out = append(out, option{in.ID().String(), in.Name()})
	}
	return out, names, nil
}
