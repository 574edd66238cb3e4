package ingest

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"spile/internal/batchfile"
	"spile/unit"
	"spile/wording"
)

// Column is one column as it was understood.
type Column struct {
	Name    string
	Samples []string         // three cells of it at most, unlike each other
	Meaning string           // its code, empty: it must be told
	Why     wording.Sentence // by what that was guessed; empty: somebody chose it
	Ask     wording.Sentence // what must be told first; empty: nothing
}

// Guessed tells that nobody told what the column is.
func (c *Column) Guessed() bool { return c.Why.English != "" }

// words are those of a header, in small letters, by what they speak of.
var words = map[string][]string{
	"unix":        {"unix", "epoch", "timestamp", "unixtime", "posix"},
	"hours":       {"hours", "hour", "hrs", "h", "elapsed", "stunden", "std"},
	"days":        {"days", "day", "tage", "tag"},
	"gravity":     {"gravity", "sg", "plato", "°p", "extract", "density", "dichte", "extrakt", "stammwürze", "og", "fg"},
	"pressure":    {"pressure", "press", "gauge", "druck", "psi", "psig", "bar", "kpa"},
	"outside":     {"abs", "absolute", "hpa", "mbar", "baro", "barometer", "barometric", "atmospheric", "psia"},
	"temperature": {"temperature", "temp", "temperatur", "°c", "°f", "celsius", "fahrenheit", "thermometer"},
	"weight":      {"weight", "mass", "gewicht", "masse", "kg", "lb", "lbs"},
	"vented":      {"vented", "released", "entwichen"},
	"beer":        {"beer", "wort", "probe", "liquid", "inside", "bier", "würze"},
	"vessel":      {"vessel", "strip", "surface", "wall", "outer", "keg", "fermenter", "fermentor", "tank", "gefäß", "behälter"},
	"air":         {"air", "fridge", "chamber", "cabinet", "luft", "kühlschrank"},
	"room":        {"room", "ambient", "outside", "shed", "cellar", "raum"},
	"cylinder":    {"cylinder", "bottle", "flasche", "gas", "co2"},
	"event":       {"event", "events", "action", "done", "ereignis"},
	"note":        {"note", "notes", "comment", "comments", "remark", "remarks", "notiz", "bemerkung", "kommentar"},
}

// readingsColumns are those of READINGS.csv, whose names leave nothing to be guessed.
var readingsColumns = map[string]string{
	"time": "time", "hours": "hours", "gravity_sg": "gravity SG", "gravity_plato": "gravity Plato", "pressure_psi": "pressure psi", "pressure_bar": "pressure bar",
	"pressure_kpa": "pressure kPa", "temperature_c": "vessel temperature C", "temperature_f": "vessel temperature F", "mass_kg": "vessel weight kg",
	"cylinder_kg": "cylinder weight kg", "vented_l": "vented L", "vented_g": "vented g", "air_c": "air temperature C", "air_f": "air temperature F", "instrument": "instrument", "event": "event",
}

// spelt are the words of a header: those between marks, and where a capital begins within one.
func spelt(header string) (out []string) {
	for _, word := range strings.FieldsFunc(header, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '°' }) {
		out = append(out, strings.ToLower(word))
		from := 0
		letters := []rune(word)
		for i := 1; i <= len(letters); i++ {
			if i == len(letters) || unicode.IsUpper(letters[i]) && unicode.IsLower(letters[i-1]) {
				out = append(out, strings.ToLower(string(letters[from:i])))
				from = i
			}
		}
	}
	return out
}

// header is a name with the words in it.
type header []string

func (h header) says(of string) bool {
	return slices.ContainsFunc(words[of], func(w string) bool { return slices.Contains(h, w) })
}

// unit is the one of several that the name holds, empty where it is none or more.
func (h header) unit(of map[string]string) (found string) {
	for _, word := range h {
		if u := of[word]; u != "" && found != "" && found != u {
			return ""
		} else if u != "" {
			found = u
		}
	}
	return found
}

// The units by how a header writes them.
var (
	gravityUnits     = map[string]string{"sg": "SG", "plato": "Plato", "°p": "Plato", "p": "Plato"}
	pressureUnits    = map[string]string{"psi": "psi", "psig": "psi", "bar": "bar", "kpa": "kPa"}
	temperatureUnits = map[string]string{"c": "C", "°c": "C", "celsius": "C", "degc": "C", "f": "F", "°f": "F", "fahrenheit": "F", "degf": "F"}
	weightUnits      = map[string]string{"kg": "kg", "g": "g", "gram": "g", "grams": "g", "lb": "lb", "lbs": "lb"}
	ventedUnits      = map[string]string{"g": "g", "gram": "g", "grams": "g", "l": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L"}
)

// guess says what the columns of a table are. Those of choices are as they were chosen; an
// empty one is guessed.
func (t *table) guess(choices []string) []Column {
	out := make([]Column, t.width)
	ours := t.separator == ',' && batchfile.IsReadings(strings.Join(t.header, ","))
	for i := range out {
		c := &out[i]
		*c = Column{Name: t.name(i), Samples: firstOf(t.cells(i), 3)}
		if i < len(choices) && meant(choices[i]) != nil {
			c.Meaning = choices[i]
			continue
		}
		if code := readingsColumns[strings.ToLower(c.Name)]; ours && code != "" { // that is told, too
			c.Meaning = code
			continue
		}
		code, why, ask := t.column(i)
		c.Meaning, c.Why, c.Ask = code, wording.Unsaid(why), wording.Unsaid(ask)
	}
	t.pairTimes(out)
	for i := range out {
		first := slices.IndexFunc(out[:i], func(c Column) bool {
			return c.Meaning != "" && out[i].Meaning != "" && meant(c.Meaning).same(meant(out[i].Meaning))
		})
		switch c := &out[i]; {
		case first < 0:
		case !c.Guessed():
			c.Ask = wording.Unsaid("“%s” tells the same. Leave one of them out.", out[first].Name)
		default:
			c.Meaning, c.Why = LeaveOut, wording.Unsaid("“%s” tells the same", out[first].Name)
		}
	}
	return out
}

// firstOf are the first n cells that are unlike each other.
func firstOf(cells []string, n int) (out []string) {
	for _, cell := range cells {
		if cell = clipped(cell); len(out) < n && !slices.Contains(out, cell) {
			out = append(out, cell)
		}
	}
	return out
}

// pairTimes leaves a time of day out that stands beside a column which says when by itself, and
// asks for the date of one that stands alone.
func (t *table) pairTimes(columns []Column) {
	has := func(codes ...string) int {
		return slices.IndexFunc(columns, func(c Column) bool { return slices.Contains(codes, c.Meaning) })
	}
	leave := func(i int) { columns[i].Meaning, columns[i].Why = LeaveOut, wording.Unsaid("another column says when") }
	if i := has("spreadsheet time", "spreadsheet date"); i >= 0 && columns[i].Guessed() && has("time", "date", "unix", "hours", "days") >= 0 {
		leave(i)
	}
	if i := has("clock"); i >= 0 && has("date", "spreadsheet date") < 0 && columns[i].Guessed() {
		if has("time", "spreadsheet time", "unix", "hours") >= 0 {
			leave(i)
			return
		}
		columns[i].Ask = wording.Unsaid("A time of day needs its date. Which column is that?")
	}
}

// column guesses one column from its name and its cells.
func (t *table) column(i int) (code string, why, ask wording.Text) {
	cells, h := t.cells(i), header{}
	if t.header != nil {
		h = spelt(t.name(i))
	}
	if len(cells) == 0 {
		return LeaveOut, "nothing stands in it", ""
	}
	if code := stamped(cells); code != "" {
		return code, "its cells are written so", ""
	}
	numbers := numbersOf(cells)
	if len(numbers)*2 < len(cells) {
		return wordy(cells, h)
	}
	if code := t.serial(i, h); code != "" {
		return code, "all its numbers are days as a spreadsheet counts them", ""
	}
	if code, why, ask := t.named(h, cells, numbers); code != "" || ask != "" {
		return code, why, ask
	}
	low, high := slices.Min(numbers), slices.Max(numbers)
	switch {
	case low > 1.2e9 && high < 2.2e9, low > 1.2e12 && high < 2.2e12:
		return "unix", "from its numbers", ""
	case low >= 0.98 && high <= 1.2 && low < high && decimals(cells) >= 3:
		return "gravity SG", "from its numbers", ""
	case t.header != nil:
		return LeaveOut, "its name says nothing that Spile keeps", ""
	}
	return "", "", "What is this number?"
}

// stamped is the code of cells that are moments, dates or times of day, most of them.
func stamped(cells []string) string {
	var both, dates, clocks int
	for _, cell := range cells {
		switch s, ok := readStamp(cell); {
		case !ok:
		case s.dated && s.timed:
			both++
		case s.dated:
			dates++
		case strings.Contains(cell, ":"): // 18.30 is a number first
			clocks++
		}
	}
	switch most := len(cells)/2 + 1; {
	case both >= most:
		return "time"
	case dates >= most:
		return "date"
	case clocks >= most:
		return "clock"
	case both+dates >= most:
		return "time"
	}
	return ""
}

// wordy guesses cells of words.
func wordy(cells []string, h header) (code string, why, ask wording.Text) {
	events := 0
	for _, cell := range cells {
		if _, err := batchfile.ParseEvent(cell); err == nil {
			events++
		}
	}
	switch {
	case events*2 > len(cells), h.says("event") && events > 0:
		return "event", "its cells name what was done", ""
	case slices.Contains(h, "instrument"):
		return "instrument", "from its name", ""
	case h.says("note"), h.says("event"):
		return "note", "from its name", ""
	}
	return LeaveOut, "words, and nothing says what they are", ""
}

// named guesses from the name of a column and units behind its numbers. Where both say what
// it is and not all that must be known, it asks.
func (t *table) named(h header, cells []string, numbers []float64) (code string, why, ask wording.Text) {
	in := unitsIn(cells)
	of := func(what string) bool { return h.says(what) || in[what] != "" }
	unitOf := func(units map[string]string, what string) string {
		return either(in[what] != "", in[what], h.unit(units))
	}
	why = either[wording.Text](len(in) > 0 && len(h) == 0, "from the units in it", "from its name")
	switch {
	case h.says("unix") && !of("temperature") && slices.Min(numbers) > 1e8:
		return "unix", why, ""
	case of("temperature"):
		return t.temperature(h, unitOf(temperatureUnits, "temperature"), numbers)
	case h.says("outside"):
		return LeaveOut, "pressure counted from zero, or of the air", ""
	case h.says("vented"):
		return told("vented ", unitOf(ventedUnits, "weight"), why, "In which unit was the gas measured?")
	case of("gravity"):
		return gravity(unitOf(gravityUnits, "gravity"), why, numbers)
	case of("pressure"):
		return told("pressure ", unitOf(pressureUnits, "pressure"), why, "In which unit was the pressure read?")
	case of("weight"):
		return weight(h, unitOf(weightUnits, "weight"))
	case h.says("hours"):
		return "hours", why, ""
	case h.says("days"):
		return "days", why, ""
	}
	return "", "", ""
}

// told is a code made of what is read and its unit; without one it asks.
func told(what, unit string, why, ask wording.Text) (code string, reason, asked wording.Text) {
	if unit == "" || meant(what+unit) == nil {
		return "", "", ask
	}
	return what + unit, why, ""
}

func gravity(unit string, why wording.Text, numbers []float64) (code string, reason, ask wording.Text) {
	switch {
	case mostly(numbers, 900, 1200):
		return "gravity 1046", "from its name and its numbers", ""
	case unit != "":
		return told("gravity ", unit, why, "")
	case mostly(numbers, 0.97, 1.2):
		return "gravity SG", "from its name and its numbers", ""
	}
	return "", "", "In which unit was the gravity read?"
}

// mostly tells whether numbers lie in a range, but for one in ten that may be a slip.
func mostly(numbers []float64, low, high float64) bool {
	outside := 0
	for _, v := range numbers {
		if v < low || v > high {
			outside++
		}
	}
	return outside <= len(numbers)/10 || outside == 1 && len(numbers) > 2
}

// temperature tells beer, vessel and air apart by the name alone; of a vessel in a fridge the room is not the air around it. The unit may follow from
// the numbers: beer is neither ice nor hot.
func (t *table) temperature(h header, unit string, numbers []float64) (code string, why, ask wording.Text) {
	const warmest, coolest = 31, 46 // in °C beer is not above the first; in °F read above the second
	why = "from its name"
	if unit == "" {
		switch low, high := slices.Min(numbers), slices.Max(numbers); {
		case high <= warmest:
			unit, why = "C", "from its name and its numbers"
		case low >= coolest:
			unit, why = "F", "from its name and its numbers"
		}
	}
	room := either(t.fridge, "room", "air")
	where := either(h.says("beer"), "beer", either(h.says("air"), "air", either(h.says("room"), room, either(h.says("vessel"), "vessel", ""))))
	switch {
	case where == "" && unit == "":
		return "", "", "In which unit was it, and was it in the beer, on the vessel or of the air?"
	case where == "":
		return "", "", either[wording.Text](unit == "C", "It looks like °C. Was it in the beer, on the vessel or of the air?", "It looks like °F. Was it in the beer, on the vessel or of the air?")
	}
	return told(where+" temperature ", unit, why, "In which unit was the temperature read?")
}

func weight(h header, unit string) (code string, why, ask wording.Text) {
	where := either(h.says("cylinder"), "cylinder", either(h.says("vessel"), "vessel", ""))
	if where == "" {
		return "", "", "Was this the weight of the vessel or of the cylinder?"
	}
	return told(where+" weight ", unit, "from its name", "In which unit was the weight read?")
}

// leading is the number with which a cell begins.
var leading = regexp.MustCompile(`^[+\-−–]?(?:\d+(?:[.,]\d+)?|[.,]\d+)`)

// numbersOf are the numbers with which cells begin.
func numbersOf(cells []string) (out []float64) {
	for _, cell := range cells {
		text := strings.NewReplacer(",", ".", "−", "-", "–", "-").Replace(leading.FindString(cell))
		if v, err := strconv.ParseFloat(text, 64); err == nil && !math.IsInf(v, 0) {
			out = append(out, v)
		}
	}
	return out
}

// decimals is how many most cells have.
func decimals(cells []string) int {
	var all []int
	for _, cell := range cells {
		_, after, _ := strings.Cut(strings.Replace(cell, ",", ".", 1), ".")
		all = append(all, len(after))
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// unitsIn are the units behind the numbers of the cells, by what they measure, where all have one.
func unitsIn(cells []string) map[string]string {
	var text string
	for _, cell := range cells {
		if bare(cell) {
			return nil
		}
		text = cell
	}
	if _, err := unit.ParseGauge(text); err == nil {
		return map[string]string{"pressure": either(endsWith(text, "bar"), "bar", either(endsWith(text, "kpa"), "kPa", "psi"))}
	}
	if _, err := unit.ParseTemperature(text); err == nil {
		return map[string]string{"temperature": either(endsWith(text, "f", "fahrenheit", "℉"), "F", "C")}
	}
	if _, err := gravityOf(text); err == nil {
		return map[string]string{"gravity": either(endsWith(text, "sg"), "SG", "Plato")}
	}
	if _, err := unit.ParseMass(text); err == nil {
		return map[string]string{"weight": either(endsWith(text, "kg"), "kg", either(endsWith(text, "g"), "g", "lb"))}
	}
	return nil
}

func endsWith(text string, ends ...string) bool {
	return slices.ContainsFunc(ends, func(end string) bool { return strings.HasSuffix(strings.ToLower(text), end) })
}
