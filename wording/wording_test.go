package wording

import (
	"errors"
	"fmt"
	"testing"
	"time"
)

// german is a language with two forms, and none for "Finish".
var german = New("de", "Deutsch", map[Text][]string{
	"Cold":                    {"Kalt"},
	"Monday 2 Jan, 15:04":     {"Monday, 2. Jan, 15:04"},
	"Monday":                  {"Montag"},
	"Mar":                     {"März"},
	"%s and %s":               {"%[2]s und %[1]s"},
	"between {lo} and {hi}":   {"von {lo} bis {hi}"},
	"%d bottle":               {"%d Flasche", "%d Flaschen"},
	"Never open it at %s.":    {"Öffne es bei %d."},
	"Let {p} out.":            {"Lass es heraus."},
	"Nothing is wrong, %d %%": {"Nichts fehlt, %d %%"},
}, func(n int) int { return min(max(n-1, 0), 1) })

func TestWhatIsSaid(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{german.Word("Cold"), "Kalt"},
		{german.Word("Finish"), "Finish"},
		{german.Say("%s and %s", Text("Cold"), "Dunlin"), "Dunlin und Kalt"},
		{(*Tongue)(nil).Say("%s and %s", Text("Cold"), "Dunlin"), "Cold and Dunlin"},
		{german.Fill("between {lo} and {hi}", "lo", "{hi}", "hi", "2"), "von {hi} bis 2"},
		{german.Many(1, "%d bottle", "%d bottles", 1), "1 Flasche"},
		{german.Many(7, "%d bottle", "%d bottles", 7), "7 Flaschen"},
		{(*Tongue)(nil).Many(7, "%d bottle", "%d bottles", 7), "7 bottles"},
		{german.Many(1, "%d cup", "%d cups", 1), "1 cup"},
		{german.Say("Nothing is wrong, %d %%", 3), "Nichts fehlt, 3 %"},
		{german.Lang() + (*Tongue)(nil).Lang(), "deen"},
		{fmt.Sprint(german.Of(Unsaid("%s and %s", Text("Cold"), 3))), "%!s(int=3) und Kalt"},
		{german.Say("%s and %s", Moment{time.Date(2026, 3, 2, 9, 5, 0, 0, time.UTC), "Monday 2 Jan, 15:04"}, "x"), "x und Montag, 2. März, 09:05"},
		{Moment{time.Date(2026, 5, 2, 9, 5, 0, 0, time.UTC), "Mon 2 January"}.String(), "Sat 2 May"},
		{fmt.Sprint(german.Of("Cold"), german.Of(7)), "Cold7"}, // a user's own words are nobody's text
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// A translation that lost or changed a slot is never said: a caution without its number is none.
func TestWhatDoesNotFitIsSaidInEnglish(t *testing.T) {
	if got := german.Say("Never open it at %s.", "1 bar"); got != "Never open it at 1 bar." {
		t.Error(got)
	}
	if got := german.Fill("Let {p} out.", "p", "1 bar"); got != "Let 1 bar out." {
		t.Error(got)
	}
	defer func() {
		if recover() == nil {
			t.Error("a slot that nothing fills is a mistake of the program")
		}
	}()
	german.Fill("between {lo} and {hi}", "lo", "1")
}

func TestMisfit(t *testing.T) {
	for _, c := range []struct {
		english Text
		said    string
		fits    bool
	}{
		{"%s and %d", "%[2]d und %[1]s", true},
		{"%s and %d", "%d und %s", false},
		{"%.1f %%", "%.1f v. H.", true},
		{"%.1f", "%.2f", false},
		{"{a}Look{/a} at {Name}", "{Name}: {a}hier{/a}", true},
		{"{a}Look{/a}", "{a}hier", false},
		{"Cold", " ", false},
		{"85 %, by", "bis, 85 %", true},
		{"give --pour-time, or see spile calc gas-off", "spile calc gas-off, oder --pour-time", true},
		{"give --pour-time", "die Dauer", false},
		{"see spile calc leak", "siehe spile calc leck", false},
	} {
		if got := Misfit(c.english, c.said); (got == "") != c.fits {
			t.Errorf("%q as %q: %q", c.english, c.said, got)
		}
	}
}

func TestSentenceIsAnError(t *testing.T) {
	err := fmt.Errorf("line 3: %w", Unsaid("read %s", "x"))
	var s Sentence
	if !errors.As(err, &s) || err.Error() != "line 3: read x" || s.String() != "read x" {
		t.Error(err, s)
	}
}

func TestCapital(t *testing.T) {
	for text, want := range map[string]string{"": "", "öl": "Öl", "12 psi": "12 psi", "beer": "Beer"} {
		if got := Capital(text); got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
}
