package limit

import (
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/unit"
)

var workshop = regexp.MustCompile(`(?i)\b(belief|prior|posterior|ensemble|particle|percentile|p05|p50|p95|credible|likelihood|conductance|hysteresis|milestone|payload|token|recipe|mash|session|profile|equipment|dashboard|status|mode)\b|!`)

// The house rules for cautions: at most 30 words a sentence, no words of the
// workshop, no exclamation mark, and never "shut" beside a valve.
func TestCatalogue(t *testing.T) {
	for _, key := range Keys() {
		text := string(Caution(key))
		for _, sentence := range strings.SplitAfter(text, ". ") {
			if n := len(strings.Fields(sentence)); n > 30 {
				t.Errorf("%s: a sentence of %d words, at most 30: %s", key, n, sentence)
			}
			lower := strings.ToLower(sentence)
			if strings.Contains(lower, "valve") && regexp.MustCompile(`\b(shut|close|tighten)\b`).MatchString(lower) {
				t.Errorf("%s: tells to shut a valve: %s", key, sentence)
			}
		}
		if bad := workshop.FindString(text); bad != "" {
			t.Errorf("%s: holds %q: %s", key, bad, text)
		}
		if !strings.HasSuffix(text, ".") {
			t.Errorf("%s: does not end with a full stop: %s", key, text)
		}
	}
}

func TestEveryFindingHasWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, units := range []Units{In(style(t, "bar")), In(style(t, "psi,F"))} {
			for _, f := range Check(drawn(t)) { // Sentence panics where a key or slot is missing
				if s := f.Sentence(units); strings.ContainsAny(s, "{}") || strings.Contains(s, "NaN") || s == "" {
					t.Fatalf("%s: %q", f.Kind, s)
				}
			}
		}
	})
}

func TestImperial(t *testing.T) {
	v := sound()
	v.Measured = bar(2.6)
	v.Coldest = celsius(-4)
	said := strings.Join(Sentences(Check(v), In(style(t, "psi,F"))), " ")
	for _, want := range []string{"37.5 psi", "rating 36 psi", "25 °F"} {
		if !strings.Contains(said, want) {
			t.Errorf("got %q, want %s in it", said, want)
		}
	}
}

func TestMistakesOfTheProgramPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"unknown key":   func() { Caution("c.none") },
		"unfilled slot": func() { Say(unit.Style{}, "c.warm", "temp", "40 °C") },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}

func TestSeverityWords(t *testing.T) {
	for s, want := range map[Severity]string{WhenYouCan: "When you can", Today: "Today", Now: "Now"} {
		if s.String() != want {
			t.Errorf("got %q, want %q", s, want)
		}
	}
}
