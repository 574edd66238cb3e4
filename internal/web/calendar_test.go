package web

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
	"golang.org/x/net/html/atom"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
)

var (
	nameOfLine  = regexp.MustCompile(`^[A-Z-]+(;[A-Z-]+=[A-Z-]+)*:`)
	plainText   = regexp.MustCompile(`^([^\\;,\x00-\x1f\x7f]|\\[\\;,nN])*$`)
	ofDate      = regexp.MustCompile(`^\d{8}$`)
	ofDateTime  = regexp.MustCompile(`^\d{8}T\d{6}Z$`)
	ofSequence  = regexp.MustCompile(`^\d+$`)
	unescapeICS = strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n", `\N`, "\n")
)

// readFeed reads a feed by RFC 5545 alone, and says where it departs from it: each event by its properties.
func readFeed(feed string) (events []map[string]string, faults []string) {
	bad := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	if !strings.HasSuffix(feed, "\r\n") || strings.ContainsAny(strings.ReplaceAll(feed, "\r\n", ""), "\r\n") {
		bad("section 3.1: lines end with CRLF and nothing else")
	}
	for _, line := range strings.Split(feed, "\r\n") {
		if len(line) > 75 || !utf8.ValidString(line) {
			bad("section 3.1: %d octets, or a letter cut in two: %q", len(line), line)
		}
	}
	lines := strings.Split(strings.TrimSuffix(strings.ReplaceAll(strings.ReplaceAll(feed, "\r\n ", ""), "\r\n\t", ""), "\r\n"), "\r\n")
	if len(lines) < 4 || lines[0] != "BEGIN:VCALENDAR" || lines[len(lines)-1] != "END:VCALENDAR" || !slices.Contains(lines, "VERSION:2.0") {
		bad("section 3.4 and 3.7.4: one calendar of version 2.0")
	}
	head := map[string]string{}
	at := head
	for _, line := range lines[min(1, len(lines)):max(len(lines)-1, 1)] {
		name, value, _ := strings.Cut(line, ":")
		switch {
		case !nameOfLine.MatchString(line):
			bad("section 3.1: %q", line)
		case line == "BEGIN:VEVENT":
			at = map[string]string{}
		case line == "END:VEVENT":
			faults = append(faults, faultsOf(at)...)
			events, at = append(events, at), head
		default:
			if params := strings.Split(name, ";"); len(slices.Compact(slices.Sorted(slices.Values(params)))) < len(params) {
				bad("section 3.2: a parameter twice in %s", name)
			}
			if _, twice := at[name]; twice {
				bad("section 3.6: %s twice", name)
			}
			at[name] = value
		}
	}
	if head["PRODID"] == "" {
		bad("section 3.7.3: no PRODID")
	}
	return events, faults
}

// faultsOf is what is wrong with one event.
func faultsOf(e map[string]string) (faults []string) {
	date := e["DTSTART;VALUE=DATE"]
	for _, p := range []struct {
		name, section string
		is            *regexp.Regexp
	}{{"UID", "3.8.4.7", plainText}, {"DTSTAMP", "3.8.7.2", ofDateTime}, {"LAST-MODIFIED", "3.8.7.3", ofDateTime}, {"SEQUENCE", "3.8.7.4", ofSequence},
		{"SUMMARY", "3.3.11", plainText}, {"DESCRIPTION", "3.3.11", plainText}} {
		if e[p.name] == "" || !p.is.MatchString(e[p.name]) {
			faults = append(faults, fmt.Sprintf("section %s: %s is %q", p.section, p.name, e[p.name]))
		}
	}
	from, to, is := e["DTSTART"], e["DTEND"], ofDateTime
	if date != "" {
		from, to, is = date, e["DTEND;VALUE=DATE"], ofDate
	}
	if !is.MatchString(from) || !is.MatchString(to) || to <= from {
		faults = append(faults, fmt.Sprintf("section 3.6.1 and 3.8.2.2: from %q to %q", from, to))
	}
	if s := e["STATUS"]; s != "CONFIRMED" && s != "TENTATIVE" || e["TRANSP"] != "TRANSPARENT" {
		faults = append(faults, "section 3.8.1.11 and 3.8.2.7: "+s+" "+e["TRANSP"])
	}
	return faults
}

// sound reads a feed that has no fault, and that the library reads the same.
func soundFeed(t *testing.T, feed string) map[string]map[string]string {
	t.Helper()
	events, faults := readFeed(feed)
	for _, f := range faults {
		t.Error(f)
	}
	cal, err := ics.ParseCalendar(strings.NewReader(feed))
	if err != nil || len(cal.Events()) != len(events) {
		t.Fatalf("the library reads %d events of %d: %v", len(cal.Events()), len(events), err)
	}
	out := map[string]map[string]string{}
	for i, e := range cal.Events() {
		uid := events[i]["UID"]
		if out[uid] != nil {
			t.Errorf("%s stands twice", uid)
		}
		out[uid] = events[i]
		for _, name := range []string{"SUMMARY", "DESCRIPTION"} {
			if p := e.GetProperty(ics.ComponentProperty(name)); p == nil || p.Value != unescapeICS.Replace(events[i][name]) {
				t.Errorf("%s of %s: %q, and the library reads %v", name, uid, events[i][name], p)
			}
		}
	}
	return out
}

// A rule that cannot fail holds nothing.
func TestFeedRulesCatch(t *testing.T) {
	good := "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\nBEGIN:VEVENT\r\nUID:a\r\nDTSTAMP:20261128T120000Z\r\nLAST-MODIFIED:20261128T120000Z\r\nSEQUENCE:0\r\n" +
		"DTSTART:20261128T120000Z\r\nDTEND:20261128T130000Z\r\nSUMMARY:a\\, b\r\nDESCRIPTION:c\r\n d\r\nSTATUS:CONFIRMED\r\nTRANSP:TRANSPARENT\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
	if events, faults := readFeed(good); len(faults) > 0 || len(events) != 1 || events[0]["DESCRIPTION"] != "cd" {
		t.Fatal(events, faults)
	}
	for from, to := range map[string]string{"\r\n": "\n", "a\\, b": "a, b", "DESCRIPTION:c": "DESCRIPTION:" + strings.Repeat("c", 70), "UID:a": "URL:a", "20261128T130000Z": "20261128T110000Z",
		"DTSTAMP:20261128T120000Z": "DTSTAMP:20261128T120000", "SEQUENCE:0": "SEQUENCE:-1", "VERSION:2.0": "VERSION:1.0", "SUMMARY:a": "SUMMARY:\x01a", "PRODID:-//x//EN\r\n": "", "DTEND:": "DTEND;VALUE=DATE;VALUE=DATE:"} {
		if _, faults := readFeed(strings.Replace(good, from, to, -1)); len(faults) == 0 {
			t.Errorf("%q for %q passes", to, from)
		}
	}
}

// address makes an address for a calendar and gives its path.
func newAddress(t *testing.T, s *Site, cookies ...string) string {
	t.Helper()
	headers := []string{}
	for _, c := range cookies {
		headers = append(headers, "Cookie", c)
	}
	w := post(s, "/settings/calendars", url.Values{"name": {"my phone"}}, headers...)
	if w.Code != http.StatusCreated {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	checkPage(t, "/settings/calendars", w.Body.String(), parse(t, w))
	return regexp.MustCompile(`/calendar/[a-z2-7]{32}\.ics`).FindString(w.Body.String())
}

// The feed tells what Coming up shows, in the units and the zone it was made in.
func TestCalendarOfShed(t *testing.T) {
	s := newShed(t)
	chosen := unitsCookie + "=psi%2Cf; " + zoneCookie + "=America%2FNew_York"
	at := newAddress(t, s, chosen)
	w := get(s, at)
	if w.Code != 200 || w.Header().Get("Content-Type") != "text/calendar; charset=utf-8" {
		t.Fatalf("%s: %d %v\n%s", at, w.Code, w.Header(), w.Body)
	}
	events := soundFeed(t, w.Body.String())
	shown := text(parse(t, get(s, "/coming-up", chosen)).all(atom.Main)[0])
	steps, awaited, conflicts := 0, 0, 0
	for uid, e := range events {
		vessel, what, _ := strings.Cut(unescapeICS.Replace(e["SUMMARY"]), ": ")
		said := strings.ReplaceAll(unescapeICS.Replace(e["DESCRIPTION"]), "\u00a0", " ")
		switch {
		case vessel == "In each other's way":
			conflicts++
			what, _, _ = strings.Cut(said, ".")
		case strings.Contains(uid, ".step-"):
			steps++
			if !strings.Contains(said, "The maker's plate and local rules come first.") {
				t.Errorf("%s comes without care: %s", what, said)
			}
		case e["STATUS"] == "TENTATIVE":
			awaited++
		}
		if strings.ContainsAny(said, "°") && (!strings.Contains(said, "°F") || strings.Contains(said, "°C")) {
			t.Errorf("%s in other units: %s", what, said)
		}
		if !strings.Contains(strings.ReplaceAll(shown, "\u00a0", " "), what) {
			t.Errorf("%q is in the feed and not on the page:\n%s", what, shown)
		}
		for _, near := range []string{"today", "tomorrow", "yesterday", "tonight"} {
			if strings.Contains(strings.ToLower(said), near) {
				t.Errorf("%q is read at any time: %s", near, said)
			}
		}
	}
	if steps+conflicts == 0 || awaited < 3 {
		t.Errorf("%d steps, %d awaited, %d conflicts of %d\n%s", steps, awaited, conflicts, len(events), w.Body)
	}
	if again := get(s, at); !bytes.Equal(again.Body.Bytes(), w.Body.Bytes()) {
		t.Error("nothing changed, and the feed did")
	}
}

// A key is shown once, is its maker's, opens the feed without a login, and nothing once it is withdrawn.
func TestCalendarKeys(t *testing.T) {
	s := openedBeyond(t)
	ask := func(who, method, path string, form url.Values) (int, string) {
		w := from(s.Site, "192.168.1.20", method, path, form, "Cookie", s.session(who))
		s.clients.each = map[string]*client{}
		if strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			checkPage(t, path, w.Body.String(), parse(t, w))
		}
		return w.Code, w.Body.String()
	}
	if code, body := ask("Vita", "POST", "/settings/calendars", url.Values{"name": {""}}); code != 422 || !strings.Contains(body, "There is a problem") {
		t.Errorf("without a name: %d", code)
	}
	code, body := ask("Vita", "POST", "/settings/calendars", url.Values{"name": {"Vita's phone"}})
	path := regexp.MustCompile(`http://192\.168\.1\.7:8417(/calendar/[a-z2-7]{32}\.ics)`).FindStringSubmatch(body)
	if code != 201 || path == nil || !strings.Contains(body, `class="qr"`) || !strings.Contains(body, `href="webcal://192.168.1.7:8417/calendar/`) {
		t.Fatalf("%d %s", code, body)
	}
	plain := func(path string) int { return from(s.Site, "192.168.1.44", "GET", path, nil).Code }
	if got := plain(path[1]); got != 200 {
		t.Errorf("the feed: %d", got)
	}
	for _, other := range []string{strings.TrimSuffix(path[1], ".ics"), strings.Replace(path[1], ".ics", ".ICS", 1), "/calendar/x.ics", "/calendar/.ics"} {
		if got := plain(other); got != 404 {
			t.Errorf("%s: %d", other, got)
		}
	}
	all, err := s.watch.Store().Calendars(t.Context())
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	gone := url.Values{"remove": {all[0].ID.String()}}
	for _, c := range []struct {
		who        string
		sees       bool
		mayNotDoIt int
	}{{"Bram", false, 422}, {"Vita", true, 0}, {"Olga", true, 0}} {
		if _, page := ask(c.who, "GET", "/coming-up", nil); strings.Contains(page, "Vita&#39;s phone") != c.sees || strings.Contains(page, path[1]) {
			t.Errorf("%s sees it: %t", c.who, !c.sees)
		}
		if c.mayNotDoIt > 0 {
			if code, _ := ask(c.who, "POST", "/settings/calendars", gone); code != c.mayNotDoIt || plain(path[1]) != 200 {
				t.Errorf("%s withdraws it: %d", c.who, code)
			}
		}
	}
	if code, _ := ask("Vita", "POST", "/settings/calendars", gone); code != 303 || plain(path[1]) != 404 {
		t.Errorf("withdrawn: %d, and it answers %d", code, plain(path[1]))
	}
}

// A calendar program that reads the feed again and again has at every moment what comes, each under
// one uid, whatever moved, came and went: no ghosts after 100 changes.
func TestNoGhosts(t *testing.T) {
	const changes = 100
	s := newFilled(t)
	chance := rand.New(rand.NewPCG(26, 7))
	psi := unit.Gauge(10 * unit.PSI)
	v := inFridge("Dunlin", 12, psi, psi, batch.ID{7})
	v.Seen.ID = batch.ID{5}
	m, rec := &v.Seen.Told.Forecast.Milestones, v.Seen.State.Record
	v.Seen.Told.Forecast.At = v.Now
	things := &batch.Cellar{}
	wall, _, err := s.watch.Store().AddCalendar(t.Context(), store.Calendar{Name: "wall"})
	if err != nil {
		t.Fatal(err)
	}
	program := map[string]map[string]string{}
	for i := range changes {
		v.Now = shedNow.Add(time.Duration(i) * time.Hour)
		v.Seen.Told.Forecast.At = v.Now
		spread := time.Duration(1+chance.IntN(90)) * time.Hour
		middle := v.Now.Add(time.Duration(30+chance.IntN(500)) * time.Hour)
		m.Finished = estimate.Milestone{P05: middle.Add(-spread / 2), P50: middle, P95: middle.Add(spread / 2)}
		if m.Ready = m.Finished; chance.IntN(3) == 0 {
			m.Ready = estimate.Milestone{Never: 1}
		}
		hold := unit.Celsius(float64(chance.IntN(4)))
		rec.Programme[0].At = unit.Duration(v.Now.Sub(rec.Pitched).Seconds() + float64(3600*(10+chance.IntN(300))))
		rec.Programme[0].Set.Hold = &hold
		list := occasions([]*stood{v}, things)
		sums := map[string][]byte{}
		for _, o := range list {
			sums[o.UID] = o.sum()
		}
		revised, err := s.watch.Store().Revise(t.Context(), wall.ID, v.Now, sums)
		if err != nil {
			t.Fatal(err)
		}
		feed, err := inCalendar(list, revised, nil)
		if err != nil {
			t.Fatal(err)
		}
		events := soundFeed(t, string(feed))
		mergeFeed(t, i, program, events)
		if len(program) != len(list) || len(list) < 2 {
			t.Fatalf("change %d: the program shows %v, and %d come", i, slices.Sorted(maps.Keys(program)), len(list))
		}
	}
	for _, key := range []string{"finished", "step-1"} {
		if e := program[(batch.ID{5}).String()+"."+key]; e == nil || e["SEQUENCE"] == "0" {
			t.Errorf("%s after %d changes: %v", key, changes, e)
		}
	}
}

// mergeFeed does what a calendar program does (RFC 5546, section 2.1.5): of one uid the higher sequence
// counts, and of the same the later stamp; what the feed has no more is gone.
func mergeFeed(t *testing.T, change int, program, feed map[string]map[string]string) {
	t.Helper()
	for uid, e := range feed {
		before := program[uid]
		var was, is int
		fmt.Sscan(e["SEQUENCE"], &is)
		if before != nil {
			fmt.Sscan(before["SEQUENCE"], &was)
		}
		same := before != nil && maps.Equal(before, e)
		if before != nil && !same && (is <= was || e["DTSTAMP"] <= before["DTSTAMP"]) {
			t.Errorf("change %d: %s changed and does not replace: %v by %v", change, uid, before, e)
		}
		program[uid] = e
	}
	maps.DeleteFunc(program, func(uid string, _ map[string]string) bool { return feed[uid] == nil })
}

// An event stands on its day: what is planned at its minute, what is awaited no finer than its band, in the zone of whoever made the address.
func TestOccasionsStandOnTheirDay(t *testing.T) {
	v := inFridge("Dunlin", 12, 0, 0, batch.ID{7})
	v.Style.Zone = time.FixedZone("two hours east", 2*3600)
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 12, day, hour, minute, 0, 0, time.UTC) }
	for _, c := range []struct {
		due      due
		from, to time.Time
		days     bool
	}{
		{due{At: at(3, 17, 40), Plan: true}, at(3, 17, 40), at(3, 18, 10), false},
		{due{At: at(3, 17, 40), Wide: 5 * time.Hour}, at(3, 18, 0), at(3, 19, 0), false},
		{due{At: at(3, 17, 40), Wide: 24 * time.Hour}, at(3, 0, 0), at(4, 0, 0), true},
		{due{At: at(3, 23, 0), Wide: 24 * time.Hour}, at(3, 0, 0), at(4, 0, 0), true}, // one at night: of the evening before
		{due{At: at(3, 23, 0), Wide: 100 * time.Hour}, at(4, 0, 0), at(5, 0, 0), true},
	} {
		if o := v.occasion(&c.due); !o.From.Equal(c.from) || !o.To.Equal(c.to) || o.Days != c.days {
			t.Errorf("%v, in doubt by %v: from %v to %v, whole days %t", c.due.At, c.due.Wide, o.From, o.To, o.Days)
		}
	}
	v.Style.Zone = time.FixedZone("half an hour off", 5*3600+1800)
	if o := v.occasion(&due{At: at(3, 17, 40), Wide: 5 * time.Hour}); !o.From.Equal(at(3, 17, 30)) || !o.To.Equal(at(3, 18, 30)) {
		t.Errorf("23:10 in a zone of half an hour stands from %v to %v, want 23:00 to 24:00", o.From, o.To)
	}
}

// A feed is in the language of the browser that made its address, whoever reads it; where the program
// no longer has that language, it is in English.
func TestCalendarInItsLanguage(t *testing.T) {
	s := newShed(t)
	s.learn(unreal(t))
	at := newAddress(t, s, tongueCookie+"=en-XA")
	own := ownWords(t, s)
	feed := get(s, at).Body.String()
	for uid, e := range soundFeed(t, feed) {
		for _, name := range []string{"SUMMARY", "DESCRIPTION"} {
			said := unescapeICS.Replace(e[name])
			for _, word := range plainWord.FindAllString(said, -1) {
				if !own[word] {
					t.Errorf("%s of %s: %q is in no catalogue, in %s", name, uid, word, said)
				}
			}
		}
	}
	if !strings.Contains(feed, "PRODID:-//Spile//Coming up//EN-XA") || strings.Contains(feed, "NAME:Coming up") {
		t.Error("the feed is named in English")
	}
	s.tongues = s.tongues[:1]
	if feed = get(s, at).Body.String(); !strings.Contains(feed, "NAME:Coming up") {
		t.Errorf("without its language: %s", feed)
	}
}
