package web

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"spile/batch"
	"spile/internal/ingest"
	"spile/internal/monitor"
	"spile/internal/store"
)

// fileReport is what was understood of a file that a program sends, and what became of it.
type fileReport struct {
	Import    *batch.ID      `json:"import,omitempty"` // what is taken back to take all of it back
	Kept      int            `json:"kept"`             // things read, done and noted
	Known     int            `json:"known"`
	Rows      int            `json:"rows"`
	First     *time.Time     `json:"first,omitempty"`
	Last      *time.Time     `json:"last,omitempty"`
	Columns   []reportColumn `json:"columns"`
	Separator string         `json:"separator"`
	Decimal   string         `json:"decimal,omitempty"`
	Order     string         `json:"order,omitempty"` // of dates that do not begin with the year
	Zone      string         `json:"zone,omitempty"`  // of times that are written without one
	Asks      []string       `json:"asks,omitempty"`  // what must be told first
	Refused   []reportRow    `json:"refused,omitempty"`
	Remarks   []string       `json:"remarks,omitempty"`
}

// reportColumn is one column.
type reportColumn struct {
	Name    string `json:"name"`
	Is      string `json:"is"` // as in the parameter columns; empty: it must be told
	Guessed string `json:"guessed,omitempty"`
}

// reportRow is a row that cannot be read.
type reportRow struct {
	Line   int    `json:"line"`
	Column string `json:"column,omitempty"`
	Cell   string `json:"cell,omitempty"`
	Reason string `json:"reason"`
}

// apiReadings takes a CSV file of anybody's making: says what it understood (?dry-run=true), or keeps it.
func (s *Site) apiReadings(w http.ResponseWriter, r *http.Request) {
	seen, ok := s.apiBatchOf(w, r)
	if !ok {
		return
	}
	if err := contentOf(r, "text/csv"); err != nil {
		refuse(w, r, http.StatusUnsupportedMediaType, err.Error())
		return
	}
	asked, err := readFileAsked(r.URL.Query())
	if err != nil {
		refuse(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
		return
	}
	data, err := io.ReadAll(r.Body)
	var u *ingest.Understood
	if err == nil {
		u, err = ingest.Understand("body", data, &seen.State.Record.Batch, asked.Choices, s.watch.Now())
	}
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	fresh := u.Found.Unknown(&seen.State)
	report := reportOf(u, u.Found.Count()-fresh.Count())
	switch {
	case asked.dry:
		s.answer(w, http.StatusOK, report)
	case !u.Sure():
		refuse(w, r, http.StatusUnprocessableEntity, u.Asks[0].Says.String()+" Accepted: the answer in columns, order or decimal; dry-run=true tells what was understood.")
	case u.Told() != nil:
		refuse(w, r, http.StatusUnprocessableEntity, sentence(u.Told().Error()))
	case len(u.Bad) > 0 && !asked.skip:
		b := u.Bad[0]
		refuse(w, r, http.StatusUnprocessableEntity, fmt.Sprintf("%d rows cannot be read, the first in line %d: %s %q, %v. Accepted: skip-bad=true, to keep the others.", len(u.Bad), b.Line, b.Column, b.Cell, b.Why))
	case fresh.Count() == 0:
		s.answer(w, http.StatusOK, report)
	default:
		s.apiKeepFile(w, r, seen, fresh, report)
	}
}

// apiKeepFile keeps what is fresh in a file, all or none.
func (s *Site) apiKeepFile(w http.ResponseWriter, r *http.Request, seen *monitor.Seen, fresh ingest.Found, report *fileReport) {
	id := store.NewID()
	name := r.URL.Query().Get("name")
	if name == "" {
		name = "readings.csv"
	}
	entries, err := ingest.Entries(fresh, batch.Entry{ID: id, Batch: seen.ID, Made: s.watch.Now()}, clipped(name), store.NewID)
	if err == nil {
		_, err = s.watch.Keep(r.Context(), signed(r.Context(), entries)...)
	}
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	report.Import, report.Kept = &id, fresh.Count()
	w.Header().Set("Location", fromFile+"/"+id.String())
	s.answer(w, http.StatusCreated, report)
}

// fileAsked is how a program wants its file read.
type fileAsked struct {
	ingest.Choices
	dry, skip bool
}

func readFileAsked(q url.Values) (f fileAsked, err error) {
	f.Order, f.Decimal = q.Get("order"), q.Get("decimal")
	if list := q.Get("columns"); list != "" {
		if f.Columns, err = ingest.ParseColumns(list); err != nil {
			return f, err
		}
	}
	if zone := q.Get("zone"); zone != "" {
		if f.Zone, err = ingest.ParseZone(zone); err != nil {
			return f, err
		}
	}
	for _, x := range []struct {
		name     string
		of       *string
		accepted []string
	}{{"order", &f.Order, []string{"", "day", "month"}}, {"decimal", &f.Decimal, []string{"", "comma", "point"}}} {
		if err := oneOf(x.name, *x.of, x.accepted...); err != nil {
			return f, err
		}
	}
	for name, to := range map[string]*bool{"dry-run": &f.dry, "skip-bad": &f.skip} {
		if text := q.Get(name); text != "" {
			if *to, err = strconv.ParseBool(text); err != nil {
				return f, fmt.Errorf("read %s %q; accepted: true or false", name, clipped(text))
			}
		}
	}
	return f, nil
}

// oneOf refuses a word that is not among those accepted, of which the first may be empty.
func oneOf(name, word string, accepted ...string) error {
	for _, a := range accepted {
		if word == a {
			return nil
		}
	}
	return fmt.Errorf("read %s %q; accepted: %s", name, clipped(word), strings.TrimPrefix(strings.Join(accepted, ", "), ", "))
}

func reportOf(u *ingest.Understood, known int) *fileReport {
	r := &fileReport{Known: known, Rows: u.Rows, Columns: []reportColumn{}, Separator: u.Separator, Decimal: u.Decimal, Order: u.Order}
	if u.Local {
		r.Zone = ingest.ZoneName(u.Zone)
	}
	if first, last := u.Found.Span(); !first.IsZero() {
		r.First, r.Last = &first, &last
	}
	for _, c := range u.Named {
		r.Columns = append(r.Columns, reportColumn{c.Name, c.Meaning, c.Why.String()})
	}
	for _, a := range u.Asks {
		r.Asks = append(r.Asks, a.Says.String())
	}
	for _, b := range u.Bad {
		r.Refused = append(r.Refused, reportRow{b.Line, b.Column, b.Cell, b.Why.Error()})
	}
	for _, n := range u.Notes {
		r.Remarks = append(r.Remarks, n.String())
	}
	return r
}
