package web

import (
	"html"
	"regexp"
	"strings"
	"testing"
)

// A cylinder is tried shut in one's own words; an empty field leaves it as it is.
func TestGasOff(t *testing.T) {
	tongue := unreal(t)
	for typed, off := range map[string]bool{"off": true, "Off": true, "none": true, accented("off"): true, strings.ToUpper(accented("none")): true, "": false, "0 psi": false, "of": false} {
		if isOff(typed, tongue) != off {
			t.Errorf("%q: expected off to be %v", typed, off)
		}
	}
}

// A vessel that is stuck in the cold offers warmth beside what is to be done; what that leads to says first what the warmth is good
// for. One that only takes its gas offers nothing.
func TestAChangeIsOffered(t *testing.T) {
	s := newShed(t)
	offered := regexp.MustCompile(`<a class="next" href="([^"]*)">Would`)
	pageOf := func(name string) string {
		path := regexp.MustCompile(`<a href="(/vessels/[^"]*)">` + name).FindStringSubmatch(get(s, "/").Body.String())
		return get(s, path[1]).Body.String()
	}
	link := offered.FindStringSubmatch(pageOf("Godwit"))
	if link == nil {
		t.Fatal("nothing is offered")
	}
	want(t, "the change", mainText(t, s, strings.TrimSuffix(html.UnescapeString(link[1]), "#try")), "It would finish about ", "By the plan it more likely would not")
	if offered.MatchString(pageOf("Whimbrel")) {
		t.Error("a change is offered for beer that is poured")
	}
}
