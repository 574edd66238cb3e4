// Package advice turns what is recorded and believed about one vessel into words:
// its state, what comes, and one next action with its time, its reason and its
// caution.
//
// Rules are a table of small pure functions over (records, belief, programme,
// clock). Safety limits come first, from package limit, and nothing silences
// them: they read the last measurement and the rating as well as the belief. All
// sentences stand in one catalogue and can be read aloud.
package advice

import (
	"slices"
	"sort"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// Urgency is how soon to look.
type Urgency int

// The urgencies, by the mark at the edge of a page.
const (
	NothingToDo Urgency = iota
	WhenYouCan
	Today
	Now
)

var urgencyWords = [...]wording.Text{"Nothing to do", "When you can", "Today", "Now"}

// String is the word that is printed.
func (u Urgency) String() string { return string(urgencyWords[u]) }

// Wording is the word, to be said.
func (u Urgency) Wording() wording.Text { return urgencyWords[u] }

// Action is one thing to do.
type Action struct {
	Key     string // of the rule, for machines
	Do      string
	When    string
	Why     string
	Caution string // empty where the action has no hazard of its own
	Urgency Urgency
	Waits   bool // it may be put off: nothing is unsafe meanwhile
}

// Limit is a safety limit that is or would be passed, with its words.
type Limit struct {
	limit.Finding
	Sentence string
	Seen     *batch.Note // who has seen it, and when; nil: nobody, or nobody was asked
}

// Finding is something that may be amiss, with its words and what would settle it.
type Finding struct {
	Kind        estimate.FindingKind
	Probability float64
	Since       time.Time     // about; zero: not told
	Size        estimate.Band // SI, in what its kind is measured
	Sentence    string
	Settles     string
}

// Ahead is one thing people wait for.
type Ahead struct {
	Key   string // attenuated_90, finished, cold, carbonated, ready
	Label string // "Finished fermenting"
	When  string // "Thursday evening"
	Band  string // "between Wednesday night and Friday morning, nine times in ten"
	Odds  string // "likely, 72 %, by Friday 18:00"; empty where no date is wished
}

// Said is all that is said of one vessel at one time.
type Said struct {
	State    State
	Also     []string // Stuck, Losing gas, Hard to tell, Pressure high
	Urgency  Urgency  // of the first action
	Now      []string // sentences, most wanted first
	Sure     []string // on what that rests
	Next     []Action // never empty; the first is the one next action
	Ahead    []Ahead
	Worst    string // worst case against the rating
	Limits   []Limit
	Passed   bool // a limit asks for something today or now
	Findings []Finding
	Flags    []string  // a sentence about each reading that does not fit
	Doubts   []string  // the same with times, those alike together
	Reading  string    // the one reading worth taking
	Asked    []Asked   // what people ask beside the forecast
	Until    time.Time // up to which all this may be leant on without another look
	Plate    string    // who comes first
}

// view is what every rule looks at.
type view struct {
	batch  *batch.Batch
	log    batch.Log // up to now
	upkeep batch.Upkeep
	f      *estimate.Forecast
	now    time.Time
	style  unit.Style
	set    settings
	state  State
	also   []string
	limits []Limit
	clock  clock
}

// viewOf is b as it is seen at now, given the log up to then, written in style.
func viewOf(b *batch.Batch, log batch.Log, f *estimate.Forecast, now time.Time, style unit.Style) *view {
	return &view{batch: b, log: until(log, now), f: f, now: now, style: style, clock: clock{tongue: style.Tongue, now: style.In(now, b.Pitched.Location()), dated: style.Dated}}
}

// standing is viewOf with what is set, what is exceeded and the state.
func standing(b *batch.Batch, log batch.Log, vessel batch.Upkeep, f *estimate.Forecast, now time.Time, style unit.Style) *view {
	v := viewOf(b, log, f, now, style)
	v.upkeep, v.set = vessel, settingsOf(b, v.log, f, now)
	v.limits = v.checkLimits()
	v.state = v.stateOf()
	return v
}

// Say puts into words what f believes of b at now, given the log up to then and what is known of the vessel itself,
// written in style.
func Say(b *batch.Batch, log batch.Log, vessel batch.Upkeep, f *estimate.Forecast, now time.Time, style unit.Style) Said {
	v := standing(b, log, vessel, f, now, style)
	v.also = v.besides()
	said := Said{
		State: v.state, Also: v.also, Now: v.nowSentences(), Sure: v.sure(), Next: v.actions(), Ahead: v.ahead(),
		Worst: v.worst(), Limits: v.limits, Passed: limit.Passed(findingsOf(v.limits)),
		Findings: v.findings(), Flags: v.flags(), Doubts: v.doubts(), Reading: v.bestReading(), Asked: v.asked(), Until: v.nextLook(), Plate: v.caution("c.plate"),
	}
	if said.Urgency = said.Next[0].Urgency; said.Urgency >= Today || said.Passed {
		said.Until = now
	}
	isBest := func(a Action) bool { return a.Key == "best" } // Reading says the same
	if isBest(said.Next[0]) {
		said.Reading = ""
	} else {
		said.Next = slices.DeleteFunc(said.Next, isBest)
	}
	return said
}

// until is the part of a log, which is in order of time, that was known at now.
func until(log batch.Log, now time.Time) batch.Log {
	readings := sort.Search(len(log.Readings), func(i int) bool { return log.Readings[i].Time.After(now) })
	events := sort.Search(len(log.Events), func(i int) bool { return log.Events[i].Time.After(now) })
	return batch.Log{Readings: log.Readings[:readings:readings], Events: log.Events[:events:events]}
}

// hours since pitching.
func (v *view) hours() float64 { return v.now.Sub(v.batch.Pitched).Hours() }

// last is the latest reading of q, or nil.
func (v *view) last(q batch.Quantity) *batch.Reading {
	for i := len(v.log.Readings) - 1; i >= 0; i-- {
		if v.log.Readings[i].Quantity == q {
			return &v.log.Readings[i]
		}
	}
	return nil
}

// lastEvent is the latest event of the kind, or nil.
func (v *view) lastEvent(k batch.EventKind) *batch.Event {
	for i := len(v.log.Events) - 1; i >= 0; i-- {
		if v.log.Events[i].Kind == k {
			return &v.log.Events[i]
		}
	}
	return nil
}
