package report

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/calc"
	"spile/limit"
	"spile/unit"
)

func card(paper Paper) *Card {
	v := viewed(unit.Style{Dated: true})
	return &Card{View: v, Of: "0193a5e0", Vessel: "Dunlin", Paper: paper, Now: v.Forecast.At, Made: v.Forecast.At}
}

func printed(t *testing.T, c *Card, of func(*Card) ([]byte, error)) string {
	t.Helper()
	page, err := of(c)
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// work is the job sheet of a card, with a stage as there are.
func work(c *Card) ([]byte, error) {
	stage := &Stage{Title: "Working days", Cautions: []string{limit.Say(c.Style, "c.room")}, Asks: []Ask{{Question: "What do I do?", Answer: []string{"One glance a day: dial and thermometer. Write them down."}}}}
	return JobSheet(c, advice.Jobs(c.Batch, c.Log, batch.Upkeep{}, c.Forecast, c.Now, c.Style), stage)
}

func label(c *Card) ([]byte, error) { return Label(c, `<svg class="qr"></svg>`) }

func TestCards(t *testing.T) {
	for name, of := range map[string]func(*Card) ([]byte, error){"door-card.html": DoorCard, "batch-card.html": BatchCard, "job-sheet.html": work, "label.html": label} {
		page := printed(t, card(A4), of)
		golden(t, name, page)
		if again := printed(t, card(A4), of); again != page {
			t.Errorf("%s: expected the same input to give the same bytes", name)
		}
		letter := printed(t, card(Letter), of)
		if strings.ReplaceAll(letter, `class="letter"`, `class="a4"`) != page {
			t.Errorf("%s: expected the sheet to be all that differs between the papers", name)
		}
		served := card(A4)
		served.Href = "/paper.css"
		if text := printed(t, served, of); strings.Contains(text, "<style") || strings.Contains(text, "style=") {
			t.Errorf("%s: expected no style in a page that is served", name)
		}
		for _, relative := range regexp.MustCompile(`\b(today|tomorrow|tonight|yesterday|this (?:morning|afternoon|evening))\b[^.;<]{0,24}`).FindAllString(page, -1) {
			if !regexp.MustCompile(`, (Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)|asks for you`).MatchString(relative) && !strings.Contains(relative, "yeast") {
				t.Errorf("%s: expected a date behind %q", name, relative)
			}
		}
	}
}

// What devices and files gave is counted on a batch card, one as one; what a person read with a probe has its row.
func TestWhatNobodyReadIsCounted(t *testing.T) {
	for n, want := range map[int]string{0: "", 1: "Devices and files gave 1 reading more.", 3: "Devices and files gave 3 readings more."} {
		c := card(A4)
		c.Log.Readings = nil
		c.Log.Readings = append(c.Log.Readings, batch.Reading{Time: c.Forecast.At, Quantity: batch.Temperature, Value: 292, Instrument: "probe"})
		for range n {
			c.Log.Readings = append(c.Log.Readings, batch.Reading{Time: c.Forecast.At, Quantity: batch.Temperature, Value: 292, Unattended: true})
		}
		if rows, rest := c.readingRows(); len(rows) != 1 || !strings.HasPrefix(rest, want) || want == "" && rest != "" {
			t.Errorf("%d: got %v, %q, want %q", n, rows, rest, want)
		}
	}
}

// Black alone: no colour but black and white, in print and in the page.
func TestPaperIsBlack(t *testing.T) {
	for _, colour := range regexp.MustCompile(`#[0-9A-Fa-f]{3,6}\b`).FindAllString(PaperStyle(), -1) {
		if colour != "#000" && colour != "#fff" {
			t.Errorf("expected black and white, got %s", colour)
		}
	}
	for name, of := range map[string]func(*Card) ([]byte, error){"door": DoorCard, "batch": BatchCard, "job": work, "label": label} {
		if page := printed(t, card(A4), of); strings.Contains(page, `class="band"`) {
			t.Errorf("%s: expected hatch in place of every tint", name)
		}
	}
}

func TestDoorCardSaysUntilWhen(t *testing.T) {
	c := card(A4)
	page := printed(t, c, DoorCard)
	for _, want := range []string{"Good until ", "After that, read the gauge first.", c.Number(), "Never set the working valve above 29", "Worst case", "Something is wrong"} {
		if !strings.Contains(page, want) {
			t.Errorf("expected %q on the card", want)
		}
	}
	for _, line := range limit.ToCall {
		if !slices.Contains(limit.Blanks, line) || strings.Count(page, string(line)) != 1 {
			t.Errorf("expected a line for %q on the sheet, as on the page", line)
		}
	}
	for _, trouble := range limit.Troubles {
		if !strings.Contains(page, string(trouble.Title)) {
			t.Errorf("expected %q on the sheet", string(trouble.Title))
		}
		if _, ok := calc.Find(trouble.Ask); trouble.Ask != "" && !ok {
			t.Errorf("no calculation %s", trouble.Ask)
		}
	}
	c.Said.Until = c.Now.Add(60 * 24 * time.Hour)
	if want := c.Now.Add(longestGood).Format("Monday 2 January 2006"); !strings.Contains(c.good(), want) {
		t.Errorf("expected no card to be good for longer than a week, got %s", c.good())
	}
	c.Said.Until = c.Now.Add(4 * time.Hour)
	c.Style.Zone = time.FixedZone("half an hour off", 5*3600+1800)
	if got, want := c.good(), c.Said.Until.In(c.Style.Zone).Format("2006, 15")+":00."; !strings.Contains(got, want) {
		t.Errorf("expected the full hour of a zone of half an hour, %s, got %s", want, got)
	}
	c.Said.Until = c.Now
	if got := c.good(); strings.Contains(got, "Good until") {
		t.Errorf("expected nothing to lean on where something asks for today, got %s", got)
	}
	later, other := card(A4), card(A4)
	later.Now, other.Of = later.Now.Add(time.Hour), "0193a5e1"
	if n := card(A4).Number(); later.Number() != n || other.Number() == n || !regexp.MustCompile(`^\d{3}-\d{3}$`).MatchString(n) {
		t.Errorf("expected one number of a batch, and another of another, got %s, %s and %s", n, later.Number(), other.Number())
	}
	c.Batch.Vessel.Rating = nil
	if page := printed(t, c, DoorCard); !strings.Contains(page, "not known: counts as exceeded") {
		t.Error("expected a rating that is not known to be said")
	}
}

// plain is a page with blanks where its lines may not break.
func plain(page string) string { return strings.ReplaceAll(page, "\u00a0", " ") }

// A job sheet lists what is to be done in its order, each with a box, what to take care of and when it is awaited; what the
// vessel does not allow is not set.
func TestJobSheetIsTickedOff(t *testing.T) {
	c := card(A4)
	page := plain(printed(t, c, work))
	if boxes, jobs := strings.Count(page, `<td class="tick"><span></span></td>`), len(advice.Jobs(c.Batch, c.Log, batch.Upkeep{}, c.Forecast, c.Now, c.Style)); boxes != jobs || jobs < 4 {
		t.Errorf("%d boxes for %d jobs", boxes, jobs)
	}
	at := 0
	for _, next := range []string{"Next, in this order", "a sample for gravity", "Set the working valve to 13 psi or more", "Turn the gas on at 10 psi. Set the temperature to 1", "Finished fermenting: ", "nine times in ten",
		"Knob backed off first", "Pour the first 100", "clean it the same day", "Before you open", "card " + c.Number(), "Working days: what people ask", "Carbon dioxide has no smell"} {
		i := strings.Index(page[at:], next)
		if i < 0 {
			t.Fatalf("expected %q after %q", next, page[max(0, at-200):at])
		}
		at += i
	}
	if !strings.Contains(page, "Forecast made 24 November 2026, 12:30.") {
		t.Error("expected when the forecast was made")
	}
	c.Batch.Vessel.Rating = nil
	if page := plain(printed(t, c, work)); strings.Contains(page, "Turn the gas on at") || !strings.Contains(page, "No rating known, so no pressure advice.") {
		t.Error("expected no pressure to be set without a rating")
	}
}

// A label says what is in it, how strong it is and how much gas it holds, each with its band, and the cautions of drink and
// of pressure; while it works it belongs nowhere else.
func TestLabelSaysWhatIsInIt(t *testing.T) {
	c := card(Letter)
	page := plain(printed(t, c, label))
	if n := strings.Count(page, "<li>"); n != labelsASheet || strings.Count(page, "For adults. Do not drive.") != n || strings.Count(page, `<svg class="qr">`) != n {
		t.Errorf("expected %d whole labels, got %d", labelsASheet, n)
	}
	const works = "It still works and makes more gas."
	for _, want := range []string{"Sluice Gate Pale, third", "Dunlin. Card " + c.Number(), "wort of 1.046 with ale yeast", "It will hold 4.8", "of alcohol, between 4.4", "nine times in ten", "volumes (2.7", "at 20", "Yeast added 20 November 2026.",
		"Ready to pour between 30 November and 5 December.", "Forecast made", "Under pressure.", works, "At 40", "this reaches 30.5", "Weakest part 31.5"} {
		if !strings.Contains(page, want) {
			t.Errorf("expected %q on the label", want)
		}
	}
	c.Said.State = advice.Ready
	if page := plain(printed(t, c, label)); strings.Contains(page, works) || strings.Contains(page, "It will hold") || !strings.Contains(page, "3.8") { // of now
		t.Error("expected what has finished to say what it holds")
	}
	if page := plain(printed(t, c, label)); !strings.Contains(page, "psi keep that.") {
		t.Error("expected the pressure that keeps the gas")
	}
	weak := unit.Gauge(2 * unit.PSI)
	c.Batch.Vessel.SafetyRelief = &weak
	if page := plain(printed(t, c, label)); strings.Contains(page, "keep that") {
		t.Error("expected no pressure beyond the weakest part")
	}
	c.Batch.Vessel.Rating = nil
	if page := plain(printed(t, c, label)); strings.Contains(page, "keep that") || !strings.Contains(page, "No rating known") {
		t.Error("expected no pressure without a rating")
	}
}

func TestPaperIsNamed(t *testing.T) {
	if p, err := ParsePaper("Letter"); p != Letter || err != nil {
		t.Errorf("got %v, %v", p, err)
	}
	if _, err := ParsePaper("a5"); err == nil || !strings.Contains(err.Error(), "a4, letter") {
		t.Errorf("expected what is accepted, got %v", err)
	}
}

// A vessel is handed over in one paragraph: state, next thing with its caution, and until when; where something asks at once, to the
// gauge first, and never to a time.
func TestHandOver(t *testing.T) {
	c := card(A4)
	c.NotReal = false
	c.Said.State, c.Said.Also = advice.Slowing, []string{"Hard to tell"}
	c.Said.Next = []advice.Action{{Do: "Take a sample.", When: "Today.", Why: "It is old.", Caution: "Samples are for adults to taste."}, {Do: "Not this.", When: "Later."}}
	c.Said.Until = c.Now.Add(30 * time.Hour)
	begins := c.Vessel + ", " + c.in(c.Now).Format("Monday 2 January 2006, 15:04") + ": "
	want := begins + "Slowing, Hard to tell. Take a sample. Today. Samples are for adults to taste. Good until " + advice.HourOf(c.in(c.Said.Until)).Format("Monday 2 January 2006, 15:04") + ". After that, read the gauge first."
	if got := c.HandOver(); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	c.Said.Until, c.Said.Also, c.NotReal = c.Now, nil, true
	if got, want := c.HandOver(), "Not real. "+begins+"Slowing. Take a sample. Today. Samples are for adults to taste. Read the gauge first."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
