package catalogue

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

var (
	// workshop are the words that no page says but where the working is shown.
	workshop = regexp.MustCompile(`(?i)\b(belief|prior|posterior|ensemble|particle|percentile|p05|p50|p95|credible|pareto|likelihood|conductance|kL a|UA|vicinal diketones|hysteresis|conditioning|renewal|milestone|payload|token|recipe|mash|brew day|session|inventory|dashboard|widget|wizard|smart|doctor|pilot|fizz)\b|!`)
	// shutValve is what no sentence tells anyone to do; the tap of the gas in its line is no valve.
	shutValve = regexp.MustCompile(`(?i)\b(shut|close|tighten)\b[^.,;]{0,40}\bvalve|\bvalve\b[^.,;]{0,20}\b(shut|close|tighten)\b`)
	clause    = regexp.MustCompile(`[.?:;]+(?:\s|$)`)
)

// tooLong are texts that are longer than can be read aloud, and still to be made shorter.
var tooLong = []string{
	"A card for the door says what is inside, up to when that may be leant on, and what to do if something is wrong.",
	"The first forecast of each day is held against what came, as all readings told it at the end.",
}

// All that is said follows the rules of speech: sentences of at most 18 words, cautions of 30, no word of
// the workshop, no valve that is shut, no exclamation mark.
func TestCatalogueReadsAloud(t *testing.T) {
	all, err := All()
	if err != nil || len(all) < 900 {
		t.Fatal(len(all), err)
	}
	for _, e := range all {
		text, most := string(e.English), 18
		if e.Note != "" {
			most = 30
		}
		if slices.Contains(tooLong, text) || strings.Contains(text, " --") || e.Note == formulaNote { // flags are read in a terminal, formulas in the working
			continue
		}
		for _, s := range clause.Split(text, -1) {
			if n := len(strings.Fields(s)); n > most {
				t.Errorf("%v: %d words, at most %d: %s", e.Where, n, most, s)
			}
		}
		if bad := workshop.FindString(text); bad != "" {
			t.Errorf("%v says %q: %s", e.Where, bad, text)
		}
		if bad := shutValve.FindString(text); bad != "" {
			t.Errorf("%v tells to shut a valve: %s", e.Where, text)
		}
	}
}
