package advice

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// Words that stay in the workshop (voice and look, section 12), "entry" and the like as whole words.
var workshopWords = []string{
	"belief", "prior", "posterior", "ensemble", "particle", "percentile", "p05", "p50", "p95", "credible", "Pareto",
	"likelihood", "conductance", "kL a", "UA", "vicinal diketones", "hysteresis", "conditioning", "renewal", "milestone",
	"entry", "payload", "token", "mapping", "recipe", "mash", "brew day", "session", "profile", "equipment", "inventory",
	"dashboard", "widget", "status", "mode", "wizard", "smart", "doctor", "pilot", "fizz", "programme", "kit",
}

// sentences splits a text at full stops, question marks and colons that end a clause.
func sentences(text string) []string {
	return regexp.MustCompile(`[.?!:;]\s+`).Split(text, -1)
}

func checkWords(t *testing.T, where, text string, most int) {
	t.Helper()
	for _, s := range sentences(text) {
		if n := len(strings.Fields(s)); n > most {
			t.Errorf("%s: expected at most %d words a sentence, got %d: %s", where, most, n, s)
		}
	}
	for _, w := range workshopWords {
		if regexp.MustCompile(`(?i)\b` + regexp.QuoteMeta(w) + `\b`).MatchString(text) {
			t.Errorf("%s: the word %q stays in the workshop: %s", where, w, text)
		}
	}
	if regexp.MustCompile(`(?i)\b(shut|close|tighten)\b[^.]*\bvalve`).MatchString(text) || regexp.MustCompile(`(?i)\bvalve[^.]*\b(shut|close|tighten)`).MatchString(text) {
		t.Errorf("%s: no sentence tells anyone to shut a valve: %s", where, text)
	}
	if strings.ContainsAny(text, "!{}") {
		t.Errorf("%s: expected calm and filled, got %s", where, text)
	}
}

// Every sentence that the cases make is read as a user reads it, numbers filled in.
func TestEverySentenceReadsAloud(t *testing.T) {
	for _, c := range cases {
		s := c.said()
		for _, line := range append(append(append([]string{s.Worst, s.Reading, string(s.State.Spoken())}, append(s.Now, s.Sure...)...), s.Flags...), s.Also...) {
			checkWords(t, c.what, line, 18)
		}
		for _, a := range s.Next {
			checkWords(t, c.what+" do", a.Do, 18)
			checkWords(t, c.what+" when", a.When, 18)
			checkWords(t, c.what+" why", a.Why, 18)
			checkWords(t, c.what+" caution", a.Caution, 30)
		}
		for _, f := range s.Findings {
			checkWords(t, c.what, f.Sentence, 18)
			checkWords(t, c.what, f.Settles, 18)
		}
		for _, a := range s.Asked {
			checkWords(t, c.what, a.Label, 18)
			checkWords(t, c.what, a.Caution, 30)
			for _, line := range a.Sentences {
				checkWords(t, c.what, line, 18)
			}
		}
		for _, a := range s.Ahead {
			checkWords(t, c.what, a.Label+" "+a.When, 18)
			checkWords(t, c.what, a.Band, 18)
		}
	}
}

// bareNumber is a number with no unit behind it; gravities, which have none, carry three decimals.
var bareNumber = regexp.MustCompile(`(^|\s)-?\d+(\.\d{1,2})?([.,;:)]|$|\s(?:[a-z]))`)

func TestNumbersCarryUnits(t *testing.T) {
	units := regexp.MustCompile(`-?[\d.]*\d (psi|bar|kPa|°C|g|kg|mg|L|mL|%|h|points?|days?|hours?|times|volumes|g/L|readings?|January|February|March|April|May|June|July|August|September|October|November|December)`)
	for _, c := range cases {
		s := c.said()
		lines := append(append([]string{s.Worst}, s.Now...), s.Sure...)
		for _, a := range s.Next {
			lines = append(lines, a.Do, a.Why)
		}
		for _, a := range s.Asked {
			lines = append(lines, append([]string{a.Label}, a.Sentences...)...)
		}
		for _, line := range lines {
			rest := units.ReplaceAllString(line, "")
			rest = regexp.MustCompile(`\d+ to |\d\d:\d\d|\d\.\d{3}|between [\d.]+ and|nine times`).ReplaceAllString(rest, "")
			if m := bareNumber.FindString(rest); m != "" {
				t.Errorf("%s: expected a unit behind every number, got %q in %s", c.what, m, line)
			}
		}
	}
}

// Every action that lets gas out, opens, cools, warms, cleans or pours carries its caution.
func TestHazardsCarryCautions(t *testing.T) {
	hazard := regexp.MustCompile(`(?i)\b(cold|cool|warm|open|let the pressure|clean|pour|gas on|working valve)\b`)
	calm := regexp.MustCompile(`Glance|Nothing to do|A hiss`)
	for _, c := range cases {
		for _, a := range c.said().Next {
			if hazard.MatchString(a.Do) && !calm.MatchString(a.Do) && a.Caution == "" {
				t.Errorf("%s: expected a caution beside %q", c.what, a.Do)
			}
		}
	}
}

func TestCatalogueKeysAreUsedAndStatesSpeak(t *testing.T) {
	for _, s := range States() {
		if s.Spoken() == "" {
			t.Errorf("state %s: expected a spoken form", s)
		}
	}
	for _, k := range limit.Keys() {
		for _, s := range sentences(string(limit.Caution(k))) {
			if n := len(strings.Fields(s)); n > 30 {
				t.Errorf("caution %s: expected at most 30 words, got %d", k, n)
			}
		}
	}
	for k, text := range texts {
		checkWords(t, k, strings.NewReplacer("{", "", "}", "").Replace(string(text)), 18)
	}
}

func TestSayPanicsOnAnEmptySlot(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("expected a panic on an unfilled slot")
		}
	}()
	sayIn(unit.Style{}, "stuck", "gravity", "1.014")
}

func TestSayTakesBracesInTheUsersOwnWords(t *testing.T) {
	if got := sayIn(unit.Style{}, "step action", "action", "hang the {red} tag"); got != "As planned: hang the {red} tag." {
		t.Errorf("expected the words as they are, got %q", got)
	}
}

// The bands of odds words are those of the voice, edges included.
func TestOddsWords(t *testing.T) {
	for p, want := range map[float64]string{
		0.97: "almost certainly", 0.969: "very likely", 0.85: "very likely", 0.849: "likely", 0.65: "likely", 0.649: "could go either way",
		0.35: "could go either way", 0.349: "unlikely", 0.15: "unlikely", 0.149: "very unlikely", 0.03: "very unlikely", 0.029: "almost certainly not",
	} {
		if got := string(OddsWord(p)); got != want {
			t.Errorf("%v: expected %q, got %q", p, want, got)
		}
	}
	for p, want := range map[float64]string{1: "over 99 %", 0: "under 1 %", 0.72: "72 %"} {
		if got := (*wording.Tongue)(nil).Of(percent(p)); got != want {
			t.Errorf("%v: expected %q, got %q", p, want, got)
		}
	}
}

func TestTimesAsPeopleSayThem(t *testing.T) {
	now := pitched // Friday 20 November 2026, 18:30
	c := clock{now: now}
	for _, x := range []struct {
		hours float64
		band  time.Duration
		want  string
	}{
		{1, time.Hour, "today at 20:00"},
		{5.25, time.Hour, "tomorrow at 00:00"},
		{1, 12 * time.Hour, "this evening"},
		{5, 12 * time.Hour, "tonight"},
		{8, 12 * time.Hour, "tonight"}, // 02:30 belongs to the night before
		{14, 12 * time.Hour, "tomorrow morning"},
		{20, 12 * time.Hour, "tomorrow afternoon"},
		{50, 12 * time.Hour, "Sunday evening"},
		{50, 72 * time.Hour, "about Sunday"},
		{200, 72 * time.Hour, "about Sunday 29 November"},
		{200, 12 * time.Hour, "Saturday 28 November, night"},
		{-20, 12 * time.Hour, "last night"},
	} {
		if got := c.at(now.Add(time.Duration(x.hours*float64(time.Hour))), x.band); got != x.want {
			t.Errorf("%v h ahead, band %v: expected %q, got %q", x.hours, x.band, x.want, got)
		}
	}
	c.absolute = true
	for band, want := range map[time.Duration]string{time.Hour: "Friday 20 November at 20:00", 12 * time.Hour: "Friday 20 November, evening", 72 * time.Hour: "about Friday 20 November"} {
		if got := c.at(now.Add(time.Hour), band); got != want {
			t.Errorf("read at any time: expected %q, got %q", want, got)
		}
	}
}

// Hours are those of the clocks on the wall, in zones half an hour and a quarter off too.
func TestHoursAreThoseOfTheZone(t *testing.T) {
	for _, x := range []struct {
		zone            *time.Location
		hour, minute    int
		nearest, hourOf string
		said            string
	}{
		{time.FixedZone("Kolkata", 19800), 18, 10, "18:00", "18:00", "today at 18:00"},
		{time.FixedZone("Kolkata", 19800), 18, 40, "19:00", "18:00", "today at 19:00"},
		{time.FixedZone("Kathmandu", 20700), 18, 29, "18:00", "18:00", "today at 18:00"},
		{time.FixedZone("St John's", -12600), 18, 30, "19:00", "18:00", "today at 19:00"},
		{time.UTC, 18, 59, "19:00", "18:00", "today at 19:00"},
	} {
		at := time.Date(2026, 11, 20, x.hour, x.minute, 59, 5, x.zone)
		if got := NearestHour(at).Format("15:04"); got != x.nearest {
			t.Errorf("%v: nearest %s, expected %s", at, got, x.nearest)
		}
		if got := HourOf(at); got.Format("15:04:05.999") != x.hourOf+":00" {
			t.Errorf("%v: in the hour of %v, expected %s", at, got, x.hourOf)
		}
		if got := (clock{now: at.Add(-time.Hour)}).at(at, time.Hour); got != x.said {
			t.Errorf("%v: %q, expected %q", at, got, x.said)
		}
	}
}
