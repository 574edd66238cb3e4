package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"html/template"
	"strings"
	"time"

	"spile/advice"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// Paper is a size of sheet.
type Paper string

// The sheets there are. Both are printed upright.
const (
	A4     Paper = "a4"
	Letter Paper = "letter"
)

// ParsePaper reads the name of a sheet; empty is A4.
func ParsePaper(name string) (Paper, error) {
	switch p := Paper(strings.ToLower(name)); p {
	case "":
		return A4, nil
	case A4, Letter:
		return p, nil
	}
	return "", wording.Unsaid("I read “%s” as paper; accepted: a4, letter", name)
}

// Card is what is printed of one vessel. Its View is made for paper: its words come from a Style that is Dated.
type Card struct {
	*View
	Of     string // what the number is made from: the id of the batch
	Vessel string
	Paper  Paper
	Now    time.Time // when it is printed
	Made   time.Time // when it was foretold; zero: not told
	Href   string    // address of PaperStyle; empty: the style stands in the page
}

// longestGood is how long a card may be leant on (assumption: somebody passes once a week).
const longestGood = 7 * 24 * time.Hour

// Number is what is typed back to say which card was written on.
func (c *Card) Number() string { return CardNumber(c.Of) }

// CardNumber is that of every card of a batch, whenever it is printed: what was written on one is of that batch.
func CardNumber(of string) string {
	sum := sha256.Sum256([]byte(of))
	n := binary.BigEndian.Uint32(sum[:]) % 1000000
	return fmt.Sprintf("%03d-%03d", n/1000, n%1000)
}

// good is up to when the card may be leant on.
func (c *Card) good() string {
	if until, ok := c.until(); ok {
		return c.Style.Say("Good until %s. After that, read the gauge first.", until)
	}
	return c.Style.Word("Something asks for you today. Read the gauge first, then do what stands under Next.")
}

// until is the hour up to which what is said may be leant on; false where something asks for somebody at once.
func (c *Card) until() (hour string, ok bool) {
	until := c.Said.Until
	if last := c.Now.Add(longestGood); until.After(last) {
		until = last
	}
	return c.Style.Time(advice.HourOf(c.in(until)), "Monday 2 January 2006, 15:04"), until.After(c.Now)
}

// HandOver says how a vessel stands, to be read out or sent to whoever looks after it: its state and as of when, the next thing to do with its
// caution, and up to when that may be leant on.
func (c *Card) HandOver() string {
	next := &c.Said.Next[0]
	state := strings.Join(append([]string{c.Style.Word(c.Said.State.Wording())}, c.Said.Also...), ", ")
	parts := []string{c.Style.Say("%s, %s: %s.", c.Vessel, c.Style.Time(c.in(c.Now), "Monday 2 January 2006, 15:04"), state), next.Do, next.When}
	if c.NotReal {
		parts = append([]string{c.Style.Word("Not real.")}, parts...)
	}
	if next.Caution != "" {
		parts = append(parts, next.Caution)
	}
	if until, ok := c.until(); ok {
		parts = append(parts, c.Style.Say("Good until %s. After that, read the gauge first.", until))
	} else {
		parts = append(parts, c.Style.Word("Read the gauge first."))
	}
	return strings.Join(parts, " ")
}

// sheet is what the templates of print-outs show.
type sheet struct {
	*Card
	Title                  wording.Text
	Printed, Good, Until   string
	Foretold               string // when; empty: not told
	Danger                 []string
	Never                  []wording.Text
	Facts                  [][][2]any // two to a line
	Awaited                []advice.Ahead
	Drawing, Shape, Strips template.HTML
	Says                   []string
	Write                  []int // lines to write on
	Troubles               []limit.Trouble
	Blanks                 []wording.Text
	Put                    [][2]any
	Steps                  []advice.StepSaid
	Readings               [][3]any
	Sensors                string
	Gas                    []LedgerRow
	Learnt                 []string
	Calm                   string // nothing asks for anything now; empty: something does
	Jobs                   []advice.Job
	Stage                  *Stage
	Square                 template.HTML // leads to its page
	Labels                 []int         // one each
	Lines                  []string
	Sheet                  template.CSS
}

func (c *Card) sheet(title wording.Text) *sheet {
	s := &sheet{Card: c, Title: title, Printed: c.Style.Time(c.in(c.Now), "Monday 2 January 2006, 15:04")}
	if !c.Made.IsZero() {
		s.Foretold = c.Style.Say("Forecast made %s.", c.Style.Time(c.in(c.Made), "2 January 2006, 15:04"))
	}
	if c.Href == "" {
		s.Sheet = template.CSS(PaperStyle())
	}
	cut := c.Cut()
	cut.Name, cut.Paper = c.Vessel, true
	s.Drawing, s.Shape = template.HTML(cut.SVG()), template.HTML(StateShape(c.Said.State))
	return s
}

// DoorCard is the card that hangs on the door: what is inside, up to when that may be leant on, what is next, what
// never to do, lines to write readings on, and behind it the sheet Something is wrong.
func DoorCard(c *Card) ([]byte, error) {
	s := c.sheet("Door card")
	s.Good = c.good()
	s.Danger = c.danger()
	for _, key := range []limit.Key{"c.open", "c.fridge"} {
		s.Never = append(s.Never, limit.Caution(key))
	}
	plate := c.plate()
	s.Facts = [][][2]any{plate[:2], plate[2:]}
	for _, a := range c.Said.Ahead {
		if a.Key == "finished" || a.Key == "ready" {
			s.Awaited = append(s.Awaited, a)
		}
	}
	s.Write = make([]int, 4)
	s.Troubles = limit.Troubles
	s.Blanks = limit.ToCall
	return s.render("door")
}

// danger is the line in the box: the limit, the worst case and the weakest part, and what is amiss with the vessel itself.
func (c *Card) danger() []string {
	said := []string{advice.ValveCaution(&c.Batch.Vessel, c.Style), c.Said.Worst}
	for _, l := range c.Said.Limits {
		if l.Kind == limit.WasFrozen || l.Kind == limit.CheckDue {
			said = append(said, l.Sentence)
		}
	}
	return said
}

// plate is what the sheet Something is wrong refers to.
func (c *Card) plate() [][2]any {
	style := c.Style
	written := func(g *unit.Gauge, none wording.Text) any {
		if g == nil {
			return none
		}
		return style.LimitDials(*g)
	}
	return [][2]any{
		{wording.Text("Vessel"), c.Vessel}, {wording.Text("Rating of the weakest part"), written(c.Batch.Vessel.Rating, "not known: counts as exceeded")},
		{wording.Text("Safety valve opens at"), written(c.Batch.Vessel.SafetyRelief, "none known")}, {wording.Text("Working valve set to"), written(c.valve(), "not told")},
	}
}

// BatchCard is what is kept of a batch: what was put together, what was read, where the gas went, what came of it.
func BatchCard(c *Card) ([]byte, error) {
	s := c.sheet("Batch card")
	chart := ForecastChart(c.View)
	chart.Paper = true
	s.Strips = template.HTML(chart.Inline(680, "strips"))
	for i := range chart.Strips {
		s.Says = append(s.Says, chart.Strips[i].Sentence)
	}
	s.Put, s.Steps = c.putTogether(), advice.SaySteps(c.Batch, c.Style)
	s.Readings, s.Sensors = c.readingRows()
	s.Gas, s.Learnt = c.Ledger(), c.learnt()
	return s.render("batch")
}

// putTogether is what went in.
func (c *Card) putTogether() [][2]any {
	b, style := c.Batch, c.Style
	wort := wording.Text("%s of %s")
	if b.Wort.Assumed {
		wort = "%s of %s, assumed"
	}
	yeast := strings.TrimSpace(style.Word(wording.Text(b.Yeast.Form)) + " " + style.Word(wording.Text(b.Yeast.Kind)))
	if b.Yeast.Mass > 0 {
		yeast += ", " + style.Mass(b.Yeast.Mass, 0)
	}
	rows := [][2]any{
		{wording.Text("Yeast added"), style.Time(c.in(b.Pitched), "Monday 2 January 2006, 15:04")},
		{wording.Text("Wort"), style.Say(wort, style.Volume(b.Wort.Volume, 0), style.Gravity(b.Wort.Gravity, 0))},
		{wording.Text("Yeast"), yeast},
	}
	if b.Wort.Bitterness > 0 {
		rows = append(rows, [2]any{wording.Text("Bitterness"), fmt.Sprintf("%.0f IBU", b.Wort.Bitterness)})
	}
	rows = append(rows, [2]any{wording.Text("Vessel"), c.Vessel + ", " + style.Volume(b.Vessel.Capacity, 0)})
	rows = append(rows, c.plate()[1:3]...)
	if t := b.Target; t != nil && t.CO2 > 0 {
		rows = append(rows, [2]any{wording.Text("Wished"), style.Gas(t.CO2, 0)})
	}
	return rows
}

// readingRows are what people read, in their order; what devices and files gave is counted, and stands in the strips.
func (c *Card) readingRows() (rows [][3]any, rest string) {
	count := 0
	for _, r := range c.Log.Readings {
		switch {
		case r.Time.After(c.Forecast.At):
		case r.Unattended:
			count++
		default:
			read := wording.Text("%s")
			if flagged(r, c.Forecast) {
				read = "%s, in doubt"
			}
			rows = append(rows, [3]any{c.Style.Time(c.in(r.Time), "Mon 2 Jan 2006, 15:04"), wording.Capital(c.Style.Word(ReadNames[r.Quantity])), c.Style.Say(read, advice.Shown(r.Quantity, r.Value, 0, c.Style))})
		}
	}
	if count > 0 {
		rest = c.Style.Tongue.Many(count, "Devices and files gave %d reading more. The strips show it.", "Devices and files gave %d readings more. The strips show them from lowest to highest.", count)
	}
	return rows, rest
}

// learnt is what the batch has taught so far.
func (c *Card) learnt() []string {
	style := c.Style
	end, holds := wording.Text("It ends between %s and %s, nine times in ten."), wording.Text("It will hold between %s and %s of alcohol.")
	gravity, alcohol := c.Forecast.TerminalGravity, c.Forecast.TerminalABV
	if c.Ended {
		end, holds = "It ended between %s and %s, nine times in ten.", "It held between %s and %s of alcohol."
		gravity, alcohol = c.Forecast.Now.Gravity, c.Forecast.Now.ABV
	}
	lo, hi := style.Between(unit.OfGravity, gravity.P05, gravity.P95)
	alcoholLow, alcoholHigh := style.Between(unit.OfAlcohol, max(alcohol.P05, 0), max(alcohol.P95, 0))
	out := []string{style.Say(end, lo, hi), style.Say(holds, alcoholLow, alcoholHigh)}
	for _, x := range c.Said.Findings {
		out = append(out, x.Sentence+" "+wording.Capital(advice.Odds(x.Probability, style))+".")
	}
	return out
}

func (s *sheet) render(name string) ([]byte, error) {
	var out bytes.Buffer
	if err := paperIn(s.Style.Tongue).ExecuteTemplate(&out, name, s); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
