package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/ingest"
	"spile/unit"
)

// What is refused is said in the language of whoever typed it; what was typed, examples and units stay.
func TestRefusalsAreSaid(t *testing.T) {
	tongue, now := unreal(t), time.Date(2026, 11, 21, 15, 0, 0, 0, time.UTC)
	style := unit.Style{Tongue: tongue}
	own := map[string]bool{"qq": true} // and units, which are typed in English here
	for _, w := range strings.Fields(nameWords + " psi bar kPa kg cm gal") {
		own[w] = true
	}
	said := map[string]string{}
	for typed, a := range map[string]*amount{"qq": pressureRead, "7 qq": pressureRead, "70 bar": pressureRead, "1,000 kg": vesselWeight, "-5 bar": pressureRead, "46": gravityRead, "9 gal": sampleVolume} {
		_, d, problem := a.read(style, typed, "", nil)
		if d != nil {
			problem = d.Says
		}
		said[typed] = problem
	}
	_, said["no unit"] = pressureRead.surely(style, "7", "")
	for typed, f := range map[string]*figure{"qq cm": vesselWidth, "9000 kg": gasMass, "0 m": lineLength, "900 IBU": wortBitter, "1.9": wortGravity} {
		_, said[typed] = f.read(typed, style)
	}
	for _, line := range []string{"qq", "12 psi, 13 psi", "7 qq", "12 psi qq"} {
		_, said["line "+line] = readLine(tongue, line)
	}
	for name, text := range map[string]string{"empty": "", "one column": "x\ny\n", "no text": "a,b\n1,\x00\n", "no row": "time,SG\n", "wide": strings.Repeat("a,", 80) + "\n"} {
		_, err := ingest.Understand("a.csv", []byte(text), &batch.Batch{}, ingest.Choices{}, now)
		said["file "+name] = refusedFile(tongue, err)
	}
	for typed, problem := range said {
		if problem == "" {
			t.Errorf("%q is not refused", typed)
		}
		for _, word := range plainWord.FindAllString(problem, -1) {
			if !own[word] {
				t.Errorf("%q: %q is in no catalogue, in %s", typed, word, problem)
			}
		}
	}
	if _, problem := readMoment(tongue, "3 March 2010", now); problem == "" || problem[:6] == "I read" {
		t.Error(problem)
	}
}

// A form that was sent empty comes back in its language.
func TestRefusedFormIsSaid(t *testing.T) {
	s := newShed(t)
	s.learn(unreal(t))
	w := post(s, "/add/vessel", url.Values{}, "Cookie", tongueCookie+"=en-XA")
	if w.Code != http.StatusUnprocessableEntity {
		t.Fatal(w.Code, w.Body.String())
	}
	texts, err := outside(w.Body.String(), ownWords(t, s))
	if err != nil {
		t.Fatal(err)
	}
	for word, text := range texts {
		t.Errorf("%q is in no catalogue: %s", word, text)
	}
}
