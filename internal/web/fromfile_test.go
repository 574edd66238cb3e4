package web

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/ingest"
	"spile/unit"
	"spile/wording"
)

// choose sends a file as a browser does.
func (s *filled) choose(name, file, text string) *httptest.ResponseRecorder {
	s.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	to, err := form.CreateFormFile("file", file)
	if err == nil {
		_, err = to.Write([]byte(text))
	}
	if err == nil {
		err = form.WriteField("batch", s.batches[name].String())
	}
	if err == nil {
		err = form.Close()
	}
	if err != nil {
		s.t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, fromFile, &body)
	r.Host = "localhost"
	r.Header.Set("Content-Type", form.FormDataContentType())
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// next sends the form of a page, with some of it chosen otherwise.
func (s *filled) next(w *httptest.ResponseRecorder, choices ...string) *httptest.ResponseRecorder {
	s.t.Helper()
	return post(s.Site, fromFile, filledIn(s.t, w, choices...))
}

// whole is all that the log of a batch says now.
func (s *filled) whole(name string) string {
	d := s.log(name)
	return fmt.Sprintf("%+v %+v %+v %+v", *d.Record, d.Log, d.Notes, d.Trouble)
}

const someFile = "Date;Zeit;Pressure;Beer Temp;SG;what\n3.3.2026;18:30;10,5;19,5;1,040;x\n3.3.2026;19:30;11;19,6;1,039;x\n3.3.2026;20:30;lost;19,6;1,038;x\n"

// A file is looked at, its questions answered, kept, taken back and put back, without script.
func TestFromFile(t *testing.T) {
	s := newFilled(t, "Dunlin")
	before := s.whole("Dunlin")
	lines := s.entries("Dunlin")
	first := get(s.Site, fromFile+"?batch="+s.batches["Dunlin"].String())
	checkPage(t, fromFile, first.Body.String(), parse(t, first))
	w := s.choose("Dunlin", `C:\stuff\march.csv`, someFile)
	checkPage(t, fromFile, w.Body.String(), parse(t, w))
	want(t, "first look", main(t, w), "march.csv", "To be told first", "In which unit was the pressure read?", "Guessed: from its name and its numbers", "In a date there comes first")
	if w.Code != http.StatusOK {
		t.Errorf("looked at: %d", w.Code)
	}
	if w = s.next(w, "do", "keep"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("kept with questions: %d", w.Code)
	}
	want(t, "unanswered", main(t, w), "There is a problem", "In which unit was the pressure read?")
	w = s.next(w, "column-3", "pressure psi", "order", "day", "zone", "Europe/Berlin", "do", "look")
	checkPage(t, fromFile, w.Body.String(), parse(t, w))
	want(t, "second look", main(t, w), "3 rows with something", "Tuesday 3 March 2026 at 18:30", "Line 4", "A number was expected; accepted: 10 psi, 0.7 bar or 70 kPa", "Keep 6 readings", "10.5 psi", "in the beer")
	if again := s.next(w, "column-6", "note", "do", "keep"); again.Code != http.StatusUnprocessableEntity || !strings.Contains(main(t, again), "was changed since this was shown") {
		t.Errorf("kept unseen: %d\n%s", again.Code, main(t, again))
	}
	if again := s.next(w, "do", "keep"); again.Code != http.StatusUnprocessableEntity || !strings.Contains(main(t, again), "Some rows cannot be read") {
		t.Errorf("kept without those that cannot be read: %d", again.Code)
	}
	if n := s.entries("Dunlin"); n != lines {
		t.Fatalf("%d lines were kept by looking", n-lines)
	}
	at := ""
	for range 2 { // the same form twice is kept once
		kept := s.next(w, "without", "yes", "do", "keep")
		if at = kept.Header().Get("Location"); kept.Code != http.StatusSeeOther || s.entries("Dunlin") != lines+5 {
			t.Fatalf("kept: %d %d lines", kept.Code, s.entries("Dunlin")-lines)
		}
	}
	log := s.log("Dunlin").Log
	if r := log.Readings; len(r) != 6 || !r[0].Time.Equal(time.Date(2026, 3, 3, 17, 30, 0, 0, time.UTC)) || !r[0].Unattended {
		t.Errorf("kept %+v", r)
	}
	s.takenBack(at, before)
}

// takenBack takes an import back and puts it back, twice each as by a double click.
func (s *filled) takenBack(at, before string) {
	s.t.Helper()
	with := s.whole("Dunlin")
	page := get(s.Site, at)
	checkPage(s.t, at, page.Body.String(), parse(s.t, page))
	want(s.t, "kept", main(s.t, page), "Kept: 4 lines", "Take all of that back", "march.csv")
	for _, x := range []struct {
		held, state, says string
	}{{"yes", before, "Put all of it back"}, {"", with, "Take all of that back"}} {
		for range 2 {
			if w := post(s.Site, at, url.Values{"held": {x.held}}); w.Code != http.StatusSeeOther {
				s.t.Fatalf("%d", w.Code)
			}
		}
		if got := s.whole("Dunlin"); got != x.state {
			s.t.Errorf("got\n%s\nwant\n%s", got, x.state)
		}
		want(s.t, "turned", main(s.t, get(s.Site, at)), x.says)
	}
	want(s.t, "What is kept", mainText(s.t, s.Site, "/settings/records"), "march.csv", "4 lines")
	want(s.t, "the log", mainText(s.t, s.Site, s.at("Dunlin", "")), "Readings from a file")
	if w := post(s.Site, at, url.Values{"held": {"yes"}}); w.Code != http.StatusSeeOther {
		s.t.Fatal(w.Code)
	}
	want(s.t, "everything", mainText(s.t, s.Site, s.at("Dunlin", "/everything")), "march.csv brought 4 lines", "taken back")
}

// The same file a second time brings nothing.
func TestFileAgain(t *testing.T) {
	s := newFilled(t, "Dunlin")
	const text = "time,SG\n2026-03-03 18:30,1.040\n2026-03-03 19:30,1.039\n"
	if w := s.next(s.choose("Dunlin", "a.csv", text), "do", "keep"); w.Code != http.StatusSeeOther {
		t.Fatalf("%d %s", w.Code, main(t, w))
	}
	w := s.choose("Dunlin", "a.csv", text)
	want(t, "again", main(t, w), "2 lines, left out", "all of it is there already")
	want(t, "more", main(t, s.choose("Dunlin", "a.csv", text+"2026-03-03 20:30,1.038\n")), "Keep 1 reading\n")
}

// What cannot be taken has one line beside its field, and keeps nothing.
func TestFileMistakes(t *testing.T) {
	s := newFilled(t, "Dunlin")
	good := s.choose("Dunlin", "a.csv", "time,SG\n2026-03-03 18:30,1.040\n")
	for name, c := range map[string]struct {
		w    *httptest.ResponseRecorder
		code int
		says string
	}{
		"no file":         {post(s.Site, fromFile, url.Values{"batch": {s.batches["Dunlin"].String()}}), 422, "Choose a file."},
		"no batch":        {s.choose("Godwit", "a.csv", "a,b\n1,2\n"), 422, "Choose one of these."},
		"empty":           {s.choose("Dunlin", "a.csv", " "), 422, "The file: Line 1: an empty file"},
		"one column":      {s.choose("Dunlin", "a.csv", "x\ny\n"), 422, "Error: Line 1: one column alone; accepted: a column with the time, and another with what was read."},
		"too large":       {s.choose("Dunlin", "a.csv", strings.Repeat("a,b\n", ingest.MostBytes/4+1)), 413, "larger than 4 MB"},
		"much too large":  {s.choose("Dunlin", "a.csv", strings.Repeat("a,b\n", 3*ingest.MostBytes/4)), 413, "larger than 4 MB"},
		"damaged":         {s.next(good, "packed", "H4sIAAAA"), 422, "did not come whole"},
		"blown up":        {s.next(good, "packed", pack(make([]byte, 30<<20))), 413, "larger than 4 MB"},
		"a zone":          {s.next(good, "zone", "Narnia"), 422, "Europe/London"},
		"nothing but bad": {s.next(s.choose("Dunlin", "a.csv", "time,SG\n2026-03-03 18:30,lost\n2026-03-03 18:31,1.5\n"), "column-2", "gravity SG"), 200, "nothing to keep"},
		"nobody's":        {get(s.Site, fromFile+"/"+s.batches["Dunlin"].String()), 404, "no such page"},
	} {
		if c.w.Code != c.code || !strings.Contains(main(t, c.w), c.says) {
			t.Errorf("%s: %d, want %d %q\n%s", name, c.w.Code, c.code, c.says, main(t, c.w))
		}
	}
	if n := len(s.log("Dunlin").Log.Readings); n != 0 {
		t.Errorf("%d readings were kept", n)
	}
}

// What a file changed is said, by the forecast that knows it.
func TestFileMovesTheForecast(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	s.patience = time.Minute
	w := s.next(s.choose("Dunlin", "a.csv", "time,SG\n2026-03-03 18:30,1.020\n2026-03-04 8:30,1.011\n"), "do", "keep")
	page := main(t, get(s.Site, w.Header().Get("Location")))
	if !strings.Contains(page, "moved") && !strings.Contains(page, "moves") {
		t.Errorf("nothing of what it changed:\n%s", page)
	}
	if by, err := s.watch.See(t.Context(), s.batches["Dunlin"]); err != nil || by.Told.Changed == nil || by.Told.Changed.By == (batch.ID{}) {
		t.Errorf("%+v %v", by, err)
	}
}

// The door for programs understands, asks, refuses and keeps the same.
func TestAPIReadings(t *testing.T) {
	s := newFilled(t, "Dunlin")
	at := apiBatches + "/" + s.batches["Dunlin"].String() + "/readings"
	const text = "time,beer °C,SG,event\n2026-03-03 18:30,19.5,1.040,gas off\n2026-03-03 19:30,lost,1.039,\n"
	dry := reply[fileReport](t, call(s.Site, "POST", at+"?dry-run=true&zone=Europe/Berlin", "text/csv", text), 200)
	if dry.Kept != 0 || dry.Rows != 2 || dry.Zone != "Europe/Berlin" || len(dry.Refused) != 1 || dry.Refused[0].Line != 3 || dry.Columns[1].Is != "beer temperature C" || dry.Columns[1].Guessed == "" || len(dry.Asks) != 0 {
		t.Errorf("dry run: %+v", dry)
	}
	all := url.QueryEscape("1=time,2=beer temperature C,3=gravity SG,4=event")
	told := "zone=UTC&columns=" + all
	for query, c := range map[string]struct{ text, says string }{
		"":                 {text, "Nobody told what “beer °C” is; accepted: all columns told, such as 1=time,2=beer temperature C,3=gravity SG,4=event."},
		"columns=" + all:   {text, "Nobody told the zone"},
		told + "&a=":       {text, "1 rows cannot be read, the first in line 3"},
		"order=year":       {text, `Read order "year"; accepted: day, month`},
		"dry-run=perhaps":  {text, "accepted: true or false"},
		"columns=1=wine":   {text, "accepted: the number of a column"},
		"zone=Narnia":      {text, "accepted: a continent and city"},
		"decimal=comma":    {"time,pressure\n2026-03-03 18:30,10\n", "In which unit was the pressure read?"},
		"skip-bad=true&a=": {"x\n", "one column alone"},
	} {
		w := call(s.Site, "POST", at+"?"+query, "text/csv", c.text)
		if p := reply[problem](t, w, 422); !strings.Contains(p.Detail, c.says) {
			t.Errorf("%s: %s, want %s", query, p.Detail, c.says)
		}
	}
	if w := call(s.Site, "POST", at, "application/json", text); w.Code != http.StatusUnsupportedMediaType {
		t.Errorf("JSON: %d", w.Code)
	}
	if p := reply[problem](t, call(s.Site, "POST", at, "text/csv", strings.Repeat("a,b\n", ingest.MostBytes/4+1)), 413); !strings.Contains(p.Detail, "4096 kB") {
		t.Errorf("too large: %s", p.Detail)
	}
	if n := len(s.log("Dunlin").Log.Readings); n != 0 {
		t.Fatalf("%d readings were kept", n)
	}
	w := call(s.Site, "POST", at+"?skip-bad=true&name=march.csv&"+told, "text/csv", text)
	if kept := reply[fileReport](t, w, 201); kept.Kept != 3 || kept.Import == nil || len(s.log("Dunlin").Log.Readings) != 2 {
		t.Errorf("kept: %+v", kept)
	}
	want(t, "its page", main(t, get(s.Site, w.Header().Get("Location"))), "march.csv", "Take all of that back")
	if again := reply[fileReport](t, call(s.Site, "POST", at+"?skip-bad=true&"+told, "text/csv", text), 200); again.Kept != 0 || again.Known != 3 {
		t.Errorf("again: %+v", again)
	}
}

// A server that starts anew between two steps has lost nothing: the file travels in the form.
func TestFileOutlivesTheServer(t *testing.T) {
	s := newFilled(t, "Dunlin")
	w := s.choose("Dunlin", "a.csv", "time,SG\n2026-03-03 18:30,1.040\n")
	s.Site = New("test", quiet, s.watch)
	s.patience = 0
	if w = s.next(w, "do", "keep"); w.Code != http.StatusSeeOther || len(s.log("Dunlin").Log.Readings) != 1 {
		t.Errorf("%d, %d readings", w.Code, len(s.log("Dunlin").Log.Readings))
	}
}

// Each quantity has its row, by the instrument where the file names one, and its value alone in
// whatever language.
func TestFileQuantities(t *testing.T) {
	read := func(q batch.Quantity, v float64, by string) batch.Reading {
		return batch.Reading{Quantity: q, Value: v, Instrument: by}
	}
	found := []batch.Reading{read(batch.Temperature, 292.65, "probe"), read(batch.Gravity, 1.03, "tall jar"), read(batch.Gravity, 1.04, ""), read(batch.Gravity, 1.02, "tall jar"), read(batch.VesselMass, 24, "")}
	german := wording.New("de", "Deutsch", map[wording.Text][]string{"gravity %s": {"Dichte %s"}, "Gravity": {"Dichte"}, "vessel %s": {"Gefäß %s"}}, func(int) int { return 0 })
	for tongue, want := range map[*wording.Tongue][]fileRow{
		nil:    {{"Gravity", "1 reading", "1.040 (9.99 °P)", "1.040 (9.99 °P)"}, {"Gravity: tall jar", "2 readings", "1.020 (5.08 °P)", "1.030 (7.56 °P)"}, {"Temperature in the beer", "1 reading", "19.5 °C (67.1 °F)", "19.5 °C (67.1 °F)"}, {"Weight of the vessel", "1 reading", "24 kg", "24 kg"}},
		german: {{"Dichte", "1 reading", "1.040 (9.99 °P)", "1.040 (9.99 °P)"}, {"Dichte: tall jar", "2 readings", "1.020 (5.08 °P)", "1.030 (7.56 °P)"}, {"Temperature in the beer", "1 reading", "19.5 °C (67.1 °F)", "19.5 °C (67.1 °F)"}, {"Weight of the vessel", "1 reading", "24 kg", "24 kg"}},
	} {
		f := fileForm{Style: unit.Style{Tongue: tongue}, Read: &ingest.Understood{Found: ingest.Found{Log: batch.Log{Readings: found}}}}
		if got := f.Quantities(); !slices.Equal(got, want) {
			t.Errorf("got %+v\nwant %+v", got, want)
		}
	}
}

// Who goes back and chooses otherwise, or another batch, keeps that too: it is not the same form sent twice.
func TestBackAndOtherwise(t *testing.T) {
	s := newFilled(t, "Dunlin", "Godwit")
	w := s.choose("Dunlin", "a.csv", "time,SG,beer °C\n2026-03-03 18:30,1.040,19.5\n")
	for _, x := range []struct {
		name    string
		choices []string
		want    int
	}{{"Dunlin", []string{"column-3", ingest.LeaveOut}, 1}, {"Godwit", []string{"batch", s.batches["Godwit"].String(), "column-3", ingest.LeaveOut}, 1}, {"Dunlin", nil, 2}} {
		look := s.next(w, append([]string{"do", "look"}, x.choices...)...)
		if kept := s.next(look, "do", "keep"); kept.Code != http.StatusSeeOther || len(s.log(x.name).Log.Readings) != x.want {
			t.Errorf("%s, %v: %d, %d readings, want %d", x.name, x.choices, kept.Code, len(s.log(x.name).Log.Readings), x.want)
		}
	}
}
