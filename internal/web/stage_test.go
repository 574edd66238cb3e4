package web

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"spile/advice"
	"spile/batch"
	"spile/calc"
	"spile/limit"
	"spile/wording"
)

// Every stage reads aloud: sentences of at most 18 words, no word of the workshop, nothing
// about a valve that is shut, every name in braces filled; and leads to questions that are there.
func TestStagesReadAloud(t *testing.T) {
	s := newSite(t)
	shutValve := regexp.MustCompile(`(?i)\b(shut|close|tighten)\b[^.]{0,40}\bvalve|\bvalve\b[^.]{0,40}\b(shut|close|tighten)\b`)
	for _, c := range stageCards {
		page := mainText(t, s, "/stages/"+c.Slug)
		if strings.ContainsAny(page, "{}") {
			t.Errorf("%s: a name in braces is left in\n%s", c.Slug, page)
		}
		for _, a := range c.Asks {
			for _, line := range append(slices.Clone(a.Answer), a.Question) {
				line := (*wording.Tongue)(nil).Fill(line, pairs(stageNumbers(nil, readTastes(request()).Style))...)
				for _, sentence := range strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(".?:;", r) }) {
					if n := len(strings.Fields(sentence)); n > 18 {
						t.Errorf("%s: %d words: %s", c.Slug, n, sentence)
					}
				}
				if bad := shutValve.FindString(line); bad != "" {
					t.Errorf("%s says %q", c.Slug, bad)
				}
			}
		}
		for _, l := range c.Links {
			name := strings.TrimPrefix(l.Path, "/work-it-out/")
			if row, ok := calc.Find(name); name != l.Path && (!ok || row.Question != l.Name) {
				t.Errorf("%s leads to %s as %q", c.Slug, l.Path, l.Name)
			}
		}
	}
}

func request() *http.Request { return &http.Request{Header: http.Header{}} }

// What lets gas out, opens, cools, cleans, lifts or pours carries its caution, in the words of
// the catalogue.
func TestStagesCarryTheirCautions(t *testing.T) {
	s := newSite(t)
	for slug, keys := range map[string][]limit.Key{
		"carry-home": {"c.wort"}, "prepare": {"c.clean"}, "prove-it": {"c.test", "c.regulator"}, "fill": {"c.lift", "c.today"}, "close-the-lid": {"c.valve", "c.sleep"}, "before-cooling": {"c.regulator"},
		"cold": {"c.fridge", "c.frozen"}, "pour": {"c.drink"}, "move": {"c.car"}, "empty": {"c.open"}, "clean": {"c.clean", "c.sealed", "c.hot"}, "a-sample-later": {"c.minor"},
	} {
		page := mainText(t, s, "/stages/"+slug)
		for _, key := range keys {
			first, _, _ := strings.Cut(string(limit.Caution(key)), "{")
			if first, _, _ = strings.Cut(first, ". "); first != "" && !strings.Contains(page, first) {
				t.Errorf("%s lacks %s: %s", slug, key, first)
			}
		}
	}
}

// Every state of a vessel leads to a card.
func TestEveryStateHasItsStage(t *testing.T) {
	for _, state := range advice.States() {
		if d := stageFor(state, batch.ID{}); stageNamed(strings.TrimPrefix(d.Path, "/stages/")) == nil || d.Name == "" {
			t.Errorf("%s leads to %+v", state, d)
		}
	}
}

// Where a batch is in the vessel its numbers stand in the card.
func TestStageHasTheNumbersOfTheBatch(t *testing.T) {
	s := newSite(t)
	start := asLeft(t, s, lookOf(t, s, asLeft(t, s, "/fill", seven)), url.Values{"plan-relief": {"12 psi"}})
	start.Set("do", "yeast")
	kept(t, s, "/fill/start", start)
	batches, err := s.watch.Batches(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	of := "?batch=" + batches[0].ID.String()
	want(t, "the lid", mainText(t, s, "/stages/close-the-lid"+of), "With the numbers of Batch of", "Never set the working valve above 29 psi", "Never above 29 psi")
	want(t, "the working valve while it works", mainText(t, s, "/stages/close-the-lid"+of), "Set its scale to 12 psi")
	want(t, "the working valve for the last points", mainText(t, s, "/stages/before-cooling"+of), "the working valve at 25.5 psi for the last points")
	want(t, "fill", mainText(t, s, "/stages/fill"+of), "20 L weighs about 26 kg")
	for _, address := range []string{"/stages/fill", "/stages/fill" + of} { // as much, in the units chosen
		want(t, address, mainText(t, s, address, unitsCookie+"=gal%28us%29%2Coz"), "5.25 gal (US) weighs about 57.5 lb")
	}
	want(t, "yeast", mainText(t, s, "/stages/yeast"+of), "18 °C to 22 °C")
	for _, bad := range []string{"/stages/nothing", "/stages/fill?batch=x", "/stages/fill?batch=017f22e2-79b0-7cc3-98c4-dc0c0c07398f"} {
		if w := get(s, bad); w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", bad, w.Code)
		}
	}
}
