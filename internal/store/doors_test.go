package store

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/argon2"

	"spile/batch"
)

func TestPeople(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		if has, err := s.HasOwner(ctx); err != nil || has {
			t.Fatal("an owner before there is one", err)
		}
		ada, err := s.AddPerson(ctx, " Ada  Marsh ", Owner, "ladder otter lamp")
		if err != nil || ada.Name != "Ada Marsh" {
			t.Fatal(ada, err)
		}
		if _, err := s.AddPerson(ctx, "Bo", Viewer, "eight888"); err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct{ name, role, password, say string }{
			{"ada marsh", "viewer", "eight888", "already"}, {"", "viewer", "eight888", "1 to 40 letters"}, {strings.Repeat("x", 41), "viewer", "eight888", "1 to 40"},
			{"device Tilt", "viewer", "eight888", "of a device"}, {"Cy\x00", "viewer", "eight888", "letters"}, {"Cy", "king", "eight888", "owner, brewer, viewer"},
			{"Cy", "viewer", "  seven77 ", "a password of 7 letters"}, {"Cy", "viewer", strings.Repeat("a", 201), "8 to 200"},
		} {
			var f *Fault
			if _, err := s.AddPerson(ctx, c.name, Role(c.role), c.password); !errors.As(err, &f) || !f.Usage || !strings.Contains(f.Sentence, c.say) {
				t.Errorf("%q %s %q: got %v, want %q", c.name, c.role, c.password, err, c.say)
			}
		}
		if who, err := s.Login(ctx, "ADA marsh", "ladder otter lamp\n"); err != nil || who.ID != ada.ID || who.Stamp != ada.Stamp {
			t.Error("the right password:", who, err)
		}
		for _, c := range [][2]string{{"Ada Marsh", "ladder otter lamq"}, {"Ada Marsh", ""}, {"Nobody", "ladder otter lamp"}, {"Bo", "ladder otter lamp"}, {"", ""}} {
			if who, err := s.Login(ctx, c[0], c[1]); !errors.Is(err, ErrPerson) || !who.ID.IsZero() {
				t.Errorf("%v: got %v, %v", c, who, err)
			}
		}
		if err := s.SetPassword(ctx, "ada marsh", "another one entirely"); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Login(ctx, "Ada Marsh", "ladder otter lamp"); !errors.Is(err, ErrPerson) {
			t.Error("the old password still opens")
		}
		if who, err := s.Login(ctx, "Ada Marsh", "another one entirely"); err != nil || who.Stamp == ada.Stamp {
			t.Error("the new one, whose stamp must differ:", who, err)
		}
		for name, say := range map[string]string{"Ada Marsh": "the only owner", "Nobody": "nobody is called"} {
			if err := s.RemovePerson(ctx, name); err == nil || !strings.Contains(err.Error(), say) {
				t.Errorf("%s taken out: %v", name, err)
			}
		}
		if err := s.RemovePerson(ctx, "Bo"); err != nil {
			t.Error(err)
		}
		if err := s.RemovePerson(ctx, "Ada Marsh"); err == nil || !strings.Contains(err.Error(), "the only owner") {
			t.Errorf("the only owner, and nobody else, taken out: %v", err)
		}
		if left, err := s.People(ctx); err != nil || len(left) != 1 || left[0].Name != "Ada Marsh" {
			t.Error(left, err)
		}
	})
}

// Nothing that opens a door stands in the file as it is typed.
func TestSecretsAreHashed(t *testing.T) {
	s := opened(t, t.TempDir())
	if _, err := s.AddPerson(ctx, "Ada", Owner, "ladder otter lamp"); err != nil {
		t.Fatal(err)
	}
	_, key, err := s.AddDevice(ctx, "strip", NewID())
	if err != nil || len(key) != 32 {
		t.Fatal(key, err)
	}
	var secret string
	if err := s.read.QueryRow(`SELECT secret FROM person`).Scan(&secret); err != nil || !strings.HasPrefix(secret, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Error(secret, err)
	}
	for _, query := range []string{`SELECT group_concat(hex(secret) || hex(name)) FROM person`, `SELECT group_concat(hex(sum) || hex(name)) FROM device`} {
		var all string
		if err := s.read.QueryRow(query).Scan(&all); err != nil || strings.Contains(all, strings.ToUpper(fmt.Sprintf("%x", key))) || strings.Contains(all, fmt.Sprintf("%X", "ladder")) {
			t.Errorf("%s: %s, %v", query, all, err)
		}
	}
	for _, bad := range []string{"", "$", "plain", strings.Replace(secret, "t=2", "t=200", 1), strings.Replace(secret, "m=19456", "m=99999999", 1), strings.Replace(secret, "v=19", "v=18", 1), secret[:len(secret)-4] + "!!!!"} {
		if opens(bad, "ladder otter lamp") {
			t.Errorf("%q opens", bad)
		}
	}
}

// The library's Argon2id against a vector of the reference implementation of RFC 9106
// (its test.c: 2 passes, 64 MiB, 1 lane, 32 bytes; recalled from memory).
func TestArgon2id(t *testing.T) {
	got := fmt.Sprintf("%x", argon2.IDKey([]byte("password"), []byte("somesalt"), 2, 1<<16, 1, 32))
	if want := "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestSessions(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		x := s.Sessions()
		soon, past := time.Now().Add(time.Hour), time.Now().Add(-time.Second)
		if err := errors.Join(x.Commit("a", []byte("1"), soon), x.Commit("a", []byte("2"), soon), x.Commit("b", []byte("3"), past)); err != nil {
			t.Fatal(err)
		}
		if data, found, err := x.Find("a"); err != nil || !found || string(data) != "2" {
			t.Error(data, found, err)
		}
		if _, found, err := x.Find("b"); err != nil || found {
			t.Error("one that has ended is found", err)
		}
		if err := x.Commit("c", []byte("4"), soon); err != nil {
			t.Fatal(err)
		}
		rows := 0
		if err := s.read.QueryRowContext(ctx, `SELECT count(*) FROM session`).Scan(&rows); err != nil || rows != 2 {
			t.Errorf("%d rows (%v), want a and c: one that has ended goes with the next that is kept", rows, err)
		}
		if err := x.Delete("a"); err != nil {
			t.Fatal(err)
		}
		if _, found, err := x.Find("a"); err != nil || found {
			t.Error("one that was ended is found", err)
		}
	})
}

func TestDevices(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		vessel := NewID()
		d, key, err := s.AddDevice(ctx, "Strip on Dunlin", vessel)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := s.AddDevice(ctx, "strip on dunlin", vessel); err == nil || !strings.Contains(err.Error(), "already") {
			t.Error("the same name twice:", err)
		}
		if got, found, err := s.DeviceOf(ctx, key); err != nil || !found || got != (Device{d.ID, "Strip on Dunlin", vessel, d.Made}) {
			t.Error(got, found, err)
		}
		for _, other := range []string{"", key[1:], key + "a", strings.ToUpper(key)} {
			if _, found, err := s.DeviceOf(ctx, other); found || err != nil {
				t.Errorf("%q opens: %v", other, err)
			}
		}
		at := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
		for i := range 25 {
			if err := s.PutInTray(ctx, d, at, "no unit", fmt.Sprint(i)); err != nil {
				t.Fatal(err)
			}
		}
		other := Device{ID: NewID()}
		if err := s.PutInTray(ctx, other, at, "no unit", "of another"); err != nil {
			t.Fatal(err)
		}
		tray, err := s.Tray(ctx)
		if err != nil || len(tray) != trayLines+1 || tray[0].Message != "24" || tray[9].Message != "15" || tray[0].Device != d.Name {
			t.Error(tray, err)
		}
		if err := s.RemoveDevice(ctx, "STRIP on Dunlin"); err != nil {
			t.Fatal(err)
		}
		if _, found, err := s.DeviceOf(ctx, key); err != nil || found {
			t.Error("a key that was taken away still opens", err)
		}
	})
}

// Doors are changed beside a Spile that serves, which sees it; logs are not.
func TestOpenDoorsBeside(t *testing.T) {
	dir := t.TempDir()
	serving := opened(t, dir)
	id := NewID()
	keep(t, serving, oneReading(id, 1))
	beside, err := OpenDoors(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer beside.Close()
	if _, err := beside.AddPerson(ctx, "Ada", Owner, "ladder otter lamp"); err != nil {
		t.Fatal(err)
	}
	if _, err := beside.AddPerson(ctx, "ada", Owner, "ladder otter lamp"); err == nil {
		t.Error("the same name twice")
	}
	if _, err := beside.Append(ctx, oneReading(id, 2)); err == nil {
		t.Error("a second process appends to the log")
	}
	people, err := serving.People(ctx)
	if err != nil || !slices.ContainsFunc(people, func(p Person) bool { return p.Name == "Ada" }) {
		t.Error("the Spile that serves does not see it:", people, err)
	}
	keep(t, serving, oneReading(id, 3))
	sound(t, serving, 2)
	alone, err := OpenDoors(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer alone.Close()
	if _, err := alone.AddPerson(ctx, "Bo", Brewer, "ladder otter lamp"); err != nil {
		t.Error(err)
	}
}

func TestDeviceNames(t *testing.T) {
	if !batch.ByDevice(batch.DeviceBy("strip")) || batch.ByDevice("Ada") || batch.ByDevice("devices") || batch.ByDevice("") {
		t.Error("a device and a person are mistaken for one another")
	}
}
