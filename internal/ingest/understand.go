package ingest

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/unit"
	"spile/wording"
)

// Choices are what somebody told of a file. What is empty is guessed.
type Choices struct {
	Separator string         // comma, semicolon or tab
	Header    string         // yes or no: the first line names the columns
	Decimal   string         // comma or point
	Order     string         // of dates, day or month first
	Zone      *time.Location // of times that are written without one
	Columns   []string       // codes of Meanings
}

// Ask is what somebody must tell before anything can be kept.
type Ask struct {
	Of   string // decimal, order or columns; or the place of a column, as 2
	Says wording.Sentence
}

// Understood is what was understood of a file. Nothing is kept by it.
type Understood struct {
	Choices        // as they were taken
	Named          []Column
	Asks           []Ask
	Found          Found // all that can be taken
	Rows           int   // that hold something
	Bad            []Bad // that cannot be taken
	Assumed        bool  // nobody told the zone: it is that of the batch
	Local          bool  // some times are written without a zone
	Dates          bool  // some dates do not begin with their year
	Dotted         bool  // the order of the dates is that of dates with points, and nothing else tells it
	Notes          []wording.Sentence
	doubled        int // readings that stand twice,
	again          int // and acts and notes
	clashing       int // that stand twice with other values
	twice          int // times that the clock showed twice
	alone          int // dates without a time of day
	falling, later int // rows before, and after, the one above them
}

// Sure tells that nothing is left to be asked.
func (u *Understood) Sure() bool { return len(u.Asks) == 0 }

// dayAndTime is how a moment is written in a refusal.
const dayAndTime = "2006-01-02 15:04"

// Told tells that nothing was guessed which its numbers do not settle: what the columns are, and
// the zone. What nobody looked at before is kept only then. Else untold says what is missing.
func (u *Understood) Told() (untold error) {
	for i := range u.Named {
		if c := &u.Named[i]; c.Guessed() {
			return wording.Unsaid("nobody told what “%s” is; accepted: all columns told, such as %s", c.Name, WriteColumns(u.Choices.Columns))
		}
	}
	if u.Local && u.Assumed {
		return wording.Unsaid("nobody told the zone of its times; accepted: a zone, such as %s", ZoneName(u.Zone))
	}
	return nil
}

// slack is how much later than ours another clock may be.
const slack = 5 * time.Minute

// Understand reads a file of anybody's making as readings of the batch b, as far as they can
// be read; it says what it guessed, and asks where it must. now is the latest that anything can
// have been read. The error is a *batchfile.Refusal where the file as a whole cannot be taken.
func Understand(file string, data []byte, b *batch.Batch, c Choices, now time.Time) (*Understood, error) {
	t, err := cut(file, data, c.Separator, c.Header)
	if err != nil {
		return nil, err
	}
	zone := c.Zone
	if zone == nil {
		c.Zone = ZoneOf(b)
	}
	u := &Understood{Choices: c, Assumed: zone == nil, Bad: t.bad}
	u.Separator, u.Header = nameOf(t.separator), either(t.header != nil, "yes", "no")
	t.fridge = b.Place.Fridge != nil
	u.Named = t.guess(c.Columns)
	u.Choices.Columns = nil
	for _, column := range u.Named {
		u.Choices.Columns = append(u.Choices.Columns, column.Meaning)
	}
	u.settle(t)
	u.ask()
	r := newRows(u, t, b, now)
	for i := range t.rows {
		r.row(i)
	}
	u.order()
	u.notes(t)
	return u, nil
}

// ZoneOf is the zone in which the pitching of a batch is written, for times without one.
func ZoneOf(b *batch.Batch) *time.Location {
	_, offset := b.Pitched.Zone()
	return either(offset == 0, time.UTC, time.FixedZone("", offset))
}

// settle finds decimal mark and order of the dates, where nobody told them.
func (u *Understood) settle(t *table) {
	var o ordered
	m := marks{gravities: true}
	for _, row := range t.rows {
		for i, cell := range row[:min(len(row), t.width)] {
			switch of := meant(u.Named[i].Meaning); {
			case of == nil && u.Named[i].Meaning == "" || of != nil && of.number():
				m.see(cell)
			case of.sort == serialTime || of.sort == serialDate:
				u.Local = true
			case of.sort == moment || of.sort == date:
				if s, ok := readStamp(cell); ok {
					o.see(&s)
					u.Local = u.Local || s.zone == nil
				}
			}
		}
	}
	u.Dates = o.asked || o.points
	if u.Order == "" && u.Dates {
		u.Order = o.settled()
		u.Dotted = u.Order == dayFirst && !o.day
		if u.Order == "" {
			u.Asks = append(u.Asks, Ask{"order", wording.Unsaid("Which comes first in the dates, the day or the month?")})
		}
	}
	if u.Decimal == "" {
		u.Decimal = m.settled()
		if u.Decimal == "" && m.doubtful > 0 {
			u.Asks = append(u.Asks, Ask{"decimal", wording.Unsaid("Is the comma in “%s” a decimal one, or does it mark thousands?", m.example)})
		}
	}
}

// marks counts how numbers are written.
type marks struct {
	commas, points, doubtful int
	gravities                bool // all that is doubtful looks like 1,046
	example                  string
}

var (
	thousands   = regexp.MustCompile(`^[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?\b`)
	asGravity   = regexp.MustCompile(`^[01],[019]\d\d$`)
	commaNumber = regexp.MustCompile(`^[+-]?\d*,\d+\b`)
)

func (m *marks) see(cell string) {
	comma := strings.IndexByte(cell, ',')
	switch {
	case comma < 0:
		if strings.Contains(cell, ".") {
			m.points++
		}
	case thousands.MatchString(cell):
		if m.doubtful++; m.example == "" {
			m.example = clipped(cell)
		}
		m.gravities = m.gravities && asGravity.MatchString(cell)
	case commaNumber.MatchString(cell):
		m.commas++
	}
}

func (m *marks) settled() string {
	switch {
	case m.points > 0 && m.commas > 0:
		return "" // each cell as it is written; what could be either is refused
	case m.commas > 0, m.doubtful > 0 && m.points == 0 && m.gravities:
		return "comma"
	case m.points > 0, m.doubtful == 0:
		return "point"
	}
	return ""
}

// ask gathers what must be told of the columns.
func (u *Understood) ask() {
	var when, what bool
	for i, c := range u.Named {
		m := meant(c.Meaning)
		if c.Ask.English != "" {
			u.Asks = append(u.Asks, Ask{fmt.Sprint(i + 1), c.Ask})
		}
		when = when || m != nil && m.when()
		what = what || m == nil || m.sort >= read && m.sort != instrument
	}
	if !when {
		u.Asks = append(u.Asks, Ask{"columns", wording.Unsaid("Which column says when? None looks like a time.")})
	}
	if !what {
		u.Asks = append(u.Asks, Ask{"columns", wording.Unsaid("Which column says what was read? Every one is left out but the time.")})
	}
}

// rows reads the rows of a table, one after the other.
type rows struct {
	*Understood
	*table
	batch   *batch.Batch
	now     time.Time
	columns []*Meaning
	when    []int     // the columns that say when
	before  time.Time // of the row above
	seen    map[batch.Reading]bool
	first   map[batch.Reading]bool // by moment and instrument, without the value
	acts    map[batch.Event]bool
	words   map[batch.Note]bool
}

func newRows(u *Understood, t *table, b *batch.Batch, now time.Time) *rows {
	r := &rows{Understood: u, table: t, batch: b, now: now.Add(slack), seen: map[batch.Reading]bool{}, first: map[batch.Reading]bool{},
		acts: map[batch.Event]bool{}, words: map[batch.Note]bool{}}
	u.Found.air = map[batch.Note]bool{}
	for i, c := range u.Named {
		m := meant(c.Meaning)
		if m == nil {
			m = Meanings[0] // it is asked; until then it is left out
		}
		r.columns = append(r.columns, m)
		if m.when() {
			r.when = append(r.when, i)
		}
	}
	return r
}

// row takes one row, or says why it cannot be taken.
func (r *rows) row(i int) {
	row := r.table.rows[i]
	if r.blank(row) {
		return
	}
	r.Rows++
	if len(row) > r.width && strings.Join(row[r.width:], "") != "" {
		r.Bad = append(r.Bad, Bad{Line: r.lines[i], Cell: clipped(strings.Join(row, " "+string(r.separator)+" ")),
			Why: wording.Unsaid("%d cells; accepted: %d, and quotes around one that holds what stands between cells (%s)", len(row), r.width, r.Separator)})
		return
	}
	at, uncertain, bad := r.moment(row)
	if bad == nil {
		bad = r.take(row, r.lines[i], at, uncertain)
	}
	if bad != nil {
		bad.Line = r.lines[i]
		r.Bad = append(r.Bad, *bad)
	}
}

// blank tells that nothing stands in any column that is taken.
func (r *rows) blank(row []string) bool {
	for i, cell := range row {
		if (i >= r.width || r.columns[i].sort != left && !r.columns[i].when()) && !empty(cell) {
			return false
		}
	}
	return true
}

// refuse says what of a row cannot be taken.
func (r *rows) refuse(i int, cell string, why error) *Bad {
	return &Bad{Column: r.name(i), Cell: cell, Why: why}
}

// moment is when a row was.
func (r *rows) moment(row []string) (at time.Time, uncertain unit.Duration, bad *Bad) {
	if len(r.when) == 0 {
		return at, 0, &Bad{Why: wording.Unsaid("nothing says when it was; accepted: a column with the time")}
	}
	first := r.when[0]
	cell := ""
	if first < len(row) {
		cell = row[first]
	}
	from, to, problem := r.span(row)
	if problem != nil {
		return at, 0, r.refuse(first, cell, problem)
	}
	if pitched := r.batch.Pitched; to.Before(pitched) || to.After(from) && !to.After(pitched) {
		return at, 0, r.refuse(first, cell, wording.Unsaid("that is before the yeast went in; accepted: from then on, %s", pitched.In(r.Zone).Format(dayAndTime)))
	} else if from.After(r.now) {
		return at, 0, r.refuse(first, cell, wording.Unsaid("that is still to come; accepted: until now, %s", r.now.Add(-slack).In(r.Zone).Format(dayAndTime)))
	} else if to.After(from) { // a day: what of it is neither before pitching nor to come
		from, to = later(from, pitched), earlier(to, r.now)
		r.alone++
	}
	at = from.Add(to.Sub(from) / 2).UTC()
	if !r.before.IsZero() && at.Before(r.before) {
		r.falling++
	} else if at.After(r.before) {
		r.Understood.later++
	}
	r.before = at
	return at, unit.Duration(to.Sub(from).Seconds() / math.Sqrt(12)), nil
}

func later(a, b time.Time) time.Time   { return either(b.After(a), b, a) }
func earlier(a, b time.Time) time.Time { return either(b.Before(a), b, a) }

// span is from when to when a row may have been; one moment but for a date without a time of day.
func (r *rows) span(row []string) (from, to time.Time, problem error) {
	var day, hour stamp
	for _, i := range r.when {
		if i >= len(row) || empty(row[i]) {
			return from, to, wording.Unsaid("no time stands in this row; accepted: one in each")
		}
		cell, ok := row[i], false
		switch r.columns[i].sort {
		case clock:
			hour, ok = readStamp(cell)
			ok, problem = ok && hour.timed && !hour.dated, wording.Unsaid("accepted: a time of day, as 18:30 or 6:30 PM")
		case moment, date:
			day, ok = readStamp(cell)
			ok, problem = ok && day.dated, wording.Unsaid("accepted: a date and time, as 2026-11-25 18:30, 25.11.2026 18:30, 11/25/2026 6:30 PM or 25 Nov 2026 18:30")
		case serialTime, serialDate:
			day, ok = readSerial(cell, r.columns[i].sort == serialTime)
			problem = wording.Unsaid(either[wording.Text](r.columns[i].sort == serialTime, "accepted: a day of 2000 to 2099 as a spreadsheet counts it, as 46351.75", "accepted: a whole day of 2000 to 2099 as a spreadsheet counts it, as 46351"))
		default:
			from, ok, problem = r.number(r.columns[i].sort, cell)
		}
		if !ok {
			return from, to, problem
		}
	}
	switch {
	case !day.dated && hour.timed:
		return from, from, wording.Unsaid("a time of day without its date; accepted: both")
	case !day.dated:
		return from, from, nil
	case hour.timed:
		day.clock, day.timed, day.zone = hour.clock, true, either(hour.zone != nil, hour.zone, day.zone)
	case !day.timed:
		return day.whole(r.Order, r.Zone)
	}
	at, twice, problem := day.at(r.Order, r.Zone, r.before)
	if twice {
		r.twice++
	}
	return at, at, problem
}

// number reads a moment that is written as a number.
func (r *rows) number(as sort, cell string) (at time.Time, ok bool, accepted error) {
	if as == unixTime {
		at, ok = counted(cell)
		return at, ok, wording.Unsaid("accepted: seconds since 1970, as 1795627800")
	}
	d, ok := since(cell, either(as == hours, time.Hour, 24*time.Hour))
	return r.batch.Pitched.Add(d), ok, wording.Unsaid("accepted: a number since the yeast went in, as 13.5")
}

// take reads what a row holds beside its time: all of it, or nothing.
func (r *rows) take(row []string, line int, at time.Time, uncertain unit.Duration) *Bad {
	var found Found
	by := ""
	for i, cell := range row[:min(len(row), r.width)] {
		m := r.columns[i]
		if m.sort < read || empty(cell) {
			continue
		}
		switch m.sort {
		case event:
			e, err := batchfile.ParseEvent(cell)
			if err != nil {
				return r.refuse(i, cell, err)
			}
			e.Time, e.Uncertain, e.Line = at, uncertain, line
			found.Events = append(found.Events, e)
		case note:
			if len([]rune(cell)) > 2000 {
				return r.refuse(i, cell, wording.Unsaid("a note of more than 2000 letters; accepted: a shorter one"))
			}
			found.Notes = append(found.Notes, batch.Note{Time: at, Words: cell})
		case instrument:
			if by = cell; len([]rune(cell)) > 80 {
				return r.refuse(i, cell, wording.Unsaid("an instrument of more than 80 letters; accepted: a short name"))
			}
		case read, room:
			v, why := r.value(m, cell)
			if why != nil {
				return r.refuse(i, cell, why)
			}
			if m.sort == room {
				found.Notes = append(found.Notes, r.airNote(at, cell, m.unit))
				continue
			}
			found.Readings = append(found.Readings, batch.Reading{Time: at, Uncertain: uncertain, Quantity: m.value.Quantity, Value: v, Instrument: m.of, Line: line})
		}
	}
	readBy(found.Readings, by)
	r.add(found)
	return nil
}

// ofAir matches what airNote writes, but for cells with words of their own.
var ofAir = regexp.MustCompile(`^Air [-−+]?[\d.,]+ ?°?[CF]$`)

// OfAir tells whether a note holds nothing but how warm the room was, as a column of it is kept.
func OfAir(note string) bool { return ofAir.MatchString(note) }

// airNote is how warm the room was, as a note.
func (r *rows) airNote(at time.Time, cell, unit string) batch.Note {
	n := batch.Note{Time: at, Words: "Air " + cell + either(bare(cell), " °"+unit, "")}
	r.Found.air[bareNote(n)] = true
	return n
}

// readBy gives the readings of a row the instrument that the row names, and puts those of one
// instrument side by side: they are one line of the log.
func readBy(readings []batch.Reading, instrument string) {
	if instrument != "" {
		for i := range readings {
			readings[i].Instrument = instrument
		}
	}
	slices.SortStableFunc(readings, func(a, b batch.Reading) int { return strings.Compare(a.Instrument, b.Instrument) })
}

// value reads a number with its unit, or says why that cannot be.
func (r *rows) value(m *Meaning, cell string) (si float64, why error) {
	text := cell
	switch {
	case r.Decimal == "comma" && !strings.Contains(cell, "."):
		text = strings.Replace(cell, ",", ".", 1)
	case r.Decimal == "point" && thousands.MatchString(cell):
		text = strings.ReplaceAll(cell, ",", "")
	}
	si, err := m.value.parse(text, m.unit, r.batch)
	if err != nil {
		var parse *unit.ParseError
		if errors.As(err, &parse) {
			return 0, wording.Unsaid("%s; accepted: %s", parse.Problem, m.value.accepted)
		}
		return 0, err
	}
	if low, high, says := batchfile.ReadingBounds(m.value.Quantity); !(si >= low && si <= high) {
		return 0, wording.Unsaid("no instrument shows that; accepted: %s", says)
	}
	return si, nil
}

// add takes what one row told, what stands twice once.
func (r *rows) add(found Found) {
	for _, x := range found.Readings {
		key := bareReading(x)
		if repeated(r.seen, key) {
			r.doubled++
			continue
		}
		key.Value = 0
		if repeated(r.first, key) {
			r.clashing++
		}
		r.Found.Readings = append(r.Found.Readings, x)
	}
	for _, x := range found.Events {
		if repeated(r.acts, bareEvent(x)) {
			r.again++
			continue
		}
		r.Found.Events = append(r.Found.Events, x)
	}
	for _, x := range found.Notes {
		if repeated(r.words, bareNote(x)) {
			r.again++
			continue
		}
		r.Found.Notes = append(r.Found.Notes, x)
	}
}

// repeated tells whether a key was there before, and puts it there.
func repeated[K comparable](seen map[K]bool, key K) bool {
	before := seen[key]
	seen[key] = true
	return before
}

// order puts what was found in order of time.
func (u *Understood) order() {
	slices.SortStableFunc(u.Found.Readings, func(a, b batch.Reading) int { return a.Time.Compare(b.Time) })
	slices.SortStableFunc(u.Found.Events, func(a, b batch.Event) int { return a.Time.Compare(b.Time) })
	slices.SortStableFunc(u.Found.Notes, func(a, b batch.Note) int { return a.Time.Compare(b.Time) })
	slices.SortStableFunc(u.Bad, func(a, b Bad) int { return a.Line - b.Line })
}

// Span is from when to when it goes, zero where nothing was found.
func (f *Found) Span() (first, last time.Time) {
	first, last = batchfile.Span(f.Log)
	for _, n := range f.Notes {
		if first.IsZero() || n.Time.Before(first) {
			first = n.Time
		}
		last = later(last, n.Time)
	}
	return first, last
}

// notes say what is odd about a file and was taken all the same.
func (u *Understood) notes(t *table) {
	say := func(n int, one, many wording.Text) {
		switch {
		case n == 1:
			u.Notes = append(u.Notes, wording.Unsaid(one))
		case n > 1:
			u.Notes = append(u.Notes, wording.Unsaid(many, n))
		}
	}
	say(t.before, "One line before the table is left out.", "%d lines before the table are left out.")
	if t.encoding != "UTF-8" {
		u.Notes = append(u.Notes, wording.Unsaid("The letters are read as %s.", t.encoding))
	}
	if u.falling > 0 && u.later <= 1 {
		u.Notes = append(u.Notes, wording.Unsaid("The newest row stands first. They are put in order of time."))
	} else {
		say(u.falling, "One row is earlier than the row above it. All are put in order of time.", "%d rows are earlier than the row above them. All are put in order of time.")
	}
	say(u.alone, "One date has no time of day. Any time of that day is possible.", "%d dates have no time of day. Any time of those days is possible.")
	say(u.doubled, "One reading stands there twice. It is taken once.", "%d readings stand there twice. They are taken once.")
	say(u.again, "One thing done or noted stands there twice. It is taken once.", "%d things done or noted stand there twice. They are taken once.")
	say(u.clashing, "One reading has the time of another, and another value. Both are taken.", "%d readings have the time of another, and another value. All are taken.")
	say(u.twice, "One time was on the clock twice, as summer time ended. The order of the rows tells which it was.", "%d times were on the clock twice, as summer time ended. The order of the rows tells which they were.")
}
