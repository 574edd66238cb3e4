package web

import (
	"regexp"
	"strings"
	"testing"
	"time"
)

// What a door card asks to be typed back with its number is kept at its beer; at another it is said whose card it is.
func TestCardIsTypedBack(t *testing.T) {
	s := newFilled(t, "Dunlin", "Godwit").foretold()
	printed := map[string]string{}
	for name, id := range s.vessels {
		m := regexp.MustCompile(`type it back with (card \d{3}-\d{3})`).FindStringSubmatch(get(s.Site, "/print/door-card?vessel="+id.String()).Body.String())
		if m == nil {
			t.Fatal("a card without a number")
		}
		printed[name] = m[1]
	}
	if printed["Dunlin"] == printed["Godwit"] {
		t.Fatal("two cards with one number")
	}
	door := s.at("Dunlin", "/i-read")
	s.now = s.now.Add(3 * time.Hour) // the card hung there for a while
	for i, line := range []string{printed["Dunlin"] + ", 12 psi", "11 psi, 19 C " + strings.ToUpper(printed["Dunlin"])} {
		s.now = s.now.Add(time.Hour)
		s.send(door, s.form(door, "line", line))
		if n := len(s.log("Dunlin").Log.Readings); n != 1+2*i {
			t.Errorf("%q: the log holds %d readings", line, n)
		}
	}
	before := s.entries("Dunlin")
	for line, say := range map[string]string{printed["Godwit"] + " 12 psi": "is of Godwit. Type it in there", "12 psi, card 000-000": "No card here has the number 000-000."} {
		if said := text(s.refused(door, s.form(door, "line", line)).class("problem")[0]); !strings.Contains(said, say) || s.entries("Dunlin") != before {
			t.Errorf("%q: %s", line, said)
		}
	}
	s.end("Godwit")
	if said := text(s.refused(door, s.form(door, "line", printed["Godwit"]+", 12 psi")).class("problem")[0]); !strings.Contains(said, "which has ended") {
		t.Errorf("a card of a beer that is gone: %s", said)
	}
}
