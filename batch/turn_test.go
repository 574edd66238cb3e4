package batch

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// judged is a judgement of vessel 2 in the cellar's own log, n minutes after noon.
func judged(n int, verdict Verdict) Entry {
	e := entry(n, KindJudgement, `{"verdict":"`+string(verdict)+`"}`)
	e.Batch, e.Thing = ID{}, id(2)
	return e
}

func shownTurn(t Turn) string {
	var out []string
	for _, step := range []struct {
		name string
		at   time.Time
	}{{"cleaned", t.Cleaned}, {"seals", t.Seals}, {"proved", t.Proved}, {"sanitised", t.Sanitised}, {"purged", t.Purged}} {
		if !step.at.IsZero() {
			out = append(out, step.name+"@"+step.at.Format("04"))
		}
	}
	if t.Failed {
		out = append(out, "failed")
	}
	if t.Passed() {
		out = append(out, "passed")
	}
	return strings.Join(out, " ")
}

// Ice counts until the vessel was checked, whatever else was noticed since.
func TestFrozenUntilChecked(t *testing.T) {
	noon := judged(0, "").At
	at := func(n int) time.Time { return noon.Add(time.Duration(n) * time.Minute) }
	noticed := func(n int, words string) Event { return Event{Time: at(n), Kind: Noticed, Words: words} }
	for _, c := range []struct {
		what   string
		log    []Event
		upkeep Upkeep
		frozen bool
	}{
		{"nothing noticed", nil, Upkeep{}, false},
		{"a hiss", []Event{noticed(1, "hiss")}, Upkeep{}, false},
		{"ice", []Event{noticed(1, "ice")}, Upkeep{}, true},
		{"something else noticed since", []Event{noticed(1, "ice"), noticed(2, "hiss"), noticed(3, "nothing")}, Upkeep{}, true},
		{"checked since", []Event{noticed(1, "ice"), noticed(3, "hiss")}, Upkeep{Checked: at(2)}, false},
		{"checked before", []Event{noticed(3, "ice")}, Upkeep{Checked: at(2)}, true},
		{"ice again", []Event{noticed(1, "ice"), noticed(3, "ice")}, Upkeep{Checked: at(2)}, true},
		{"in the batch before", []Event{noticed(5, "hiss")}, Upkeep{Iced: at(1)}, true},
		{"in the batch before, checked since", nil, Upkeep{Iced: at(1), Checked: at(2)}, false},
	} {
		if got := c.upkeep.Frozen(&Log{Events: c.log}); got != c.frozen {
			t.Errorf("%s: frozen %v, want %v", c.what, got, c.frozen)
		}
	}
}

// What was judged of a vessel is its own, and no longer once it was taken back.
func TestNotesOfVessel(t *testing.T) {
	elsewhere := judged(13, Cleaned)
	elsewhere.Thing = id(3)
	back := supersedes(entry(20, KindTakenBack, ``), 12)
	back.Batch, back.Body = ID{}, nil
	seen := judged(14, LimitSeen)
	seen.By, seen.Body = "Ada", []byte(`{"verdict":"limit seen","words":"Due.","limits":[{"kind":"check-due","when":"plate","soon":"Today"}]}`)
	got := NotesOf(id(2), []Entry{seen, back, judged(12, SealsChecked), elsewhere, judged(11, Cleaned)})
	if len(got) != 2 || got[0].Judgement.Verdict != Cleaned || got[1].By != "Ada" || got[1].Words != "Due." || got[1].Judgement.Limits[0].Kind != "check-due" {
		t.Errorf("%+v", got)
	}
}

func TestTurnOfVessel(t *testing.T) {
	elsewhere := judged(13, Cleaned)
	elsewhere.Thing = id(3)
	takenBack := supersedes(entry(20, KindTakenBack, ``), 14)
	takenBack.Batch, takenBack.Body = ID{}, nil
	corrected := supersedes(entry(21, KindCorrection, `{"verdict":"leak test failed"}`), 14)
	corrected.Batch, corrected.At = ID{}, judged(14, "").At
	all := []Entry{judged(11, Cleaned), judged(12, SealsChecked), judged(14, LeakTestPassed), judged(15, Sanitised), judged(16, Purged)}
	for _, c := range []struct {
		what string
		log  []Entry
		want string
	}{
		{"nothing", nil, ""},
		{"all of it", all, "cleaned@11 seals@12 proved@14 sanitised@15 purged@16 passed"},
		{"not purged", all[:4], "cleaned@11 seals@12 proved@14 sanitised@15 passed"},
		{"not sanitised", all[:3], "cleaned@11 seals@12 proved@14"},
		{"another vessel", []Entry{elsewhere}, ""},
		{"before the batch ended", []Entry{judged(9, Cleaned), judged(12, SealsChecked)}, "seals@12"},
		{"done again", append(slices.Clone(all), judged(30, Cleaned)), "cleaned@30 seals@12 proved@14 sanitised@15 purged@16 passed"},
		{"taken back", append(slices.Clone(all), takenBack), "cleaned@11 seals@12 sanitised@15 purged@16"},
		{"corrected", append(slices.Clone(all), corrected), "cleaned@11 seals@12 sanitised@15 purged@16 failed"},
		{"failed since", append(slices.Clone(all), judged(30, LeakTestFailed)), "cleaned@11 seals@12 sanitised@15 purged@16 failed"},
		{"failed, then passed", append(slices.Clone(all), judged(13, LeakTestFailed)), "cleaned@11 seals@12 proved@14 sanitised@15 purged@16 passed"},
		{"seals off since", append(slices.Clone(all), judged(30, SealsChecked)), "cleaned@11 seals@30 sanitised@15 purged@16"},
		{"a word of another time", append(slices.Clone(all), judged(30, "doubtful")), "cleaned@11 seals@12 proved@14 sanitised@15 purged@16 passed"},
	} {
		if got := shownTurn(TurnOf(id(2), c.log, noon.Add(10*time.Minute))); got != c.want {
			t.Errorf("%s: expected %q, got %q", c.what, c.want, got)
		}
	}
}

func TestTurnDoesNotDependOnOrder(t *testing.T) {
	verdicts := []Verdict{Cleaned, SealsChecked, Sanitised, Purged, LeakTestPassed, LeakTestFailed}
	rapid.Check(t, func(t *rapid.T) {
		var log []Entry
		for n := range rapid.IntRange(0, 12).Draw(t, "entries") {
			log = append(log, judged(10+n, rapid.SampledFrom(verdicts).Draw(t, "verdict")))
		}
		want := TurnOf(id(2), log, noon)
		if got := TurnOf(id(2), rapid.Permutation(log).Draw(t, "order"), noon); got != want {
			t.Fatalf("expected %v, got %v", want, got)
		}
		if want.Passed() && (want.Failed || want.Proved.Before(want.Seals)) {
			t.Fatalf("passed with %v", want)
		}
	})
}

func TestBatchEndsWhenEmptied(t *testing.T) {
	log := []Entry{entry(1, KindBatch, made), pressure(2, 7e4)}
	if s := Derive(id(1), log); !s.Ended().IsZero() {
		t.Errorf("ended %v with beer in it", s.Ended())
	}
	log = append(log, entry(5, KindJudgement, `{"verdict":"emptied"}`))
	if s := Derive(id(1), log); !s.Ended().Equal(log[2].At) {
		t.Errorf("expected %v, got %v", log[2].At, s.Ended())
	}
	back := supersedes(entry(6, KindTakenBack, ``), 5)
	back.Body = nil
	if s := Derive(id(1), append(log, back)); !s.Ended().IsZero() {
		t.Error("it was taken back, and the batch is still ended")
	}
}
