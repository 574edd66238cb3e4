package advice

import (
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/unit"
)

// every gives readings of a source, the latest one so long before a moment.
func every(apart time.Duration, n int, latest time.Time, like batch.Reading) (out []batch.Reading) {
	for i := range n {
		like.Time = latest.Add(-time.Duration(n-1-i) * apart)
		out = append(out, like)
	}
	return out
}

// What reads by itself is missed after three of its own intervals, whatever those are; what is old is not said as of now.
func TestSilentSources(t *testing.T) {
	gauge := batch.Reading{Quantity: batch.Pressure, Value: 70e3, Instrument: "transducer", Unattended: true}
	float := batch.Reading{Quantity: batch.Gravity, Value: 1.030, Instrument: "floating", Unattended: true}
	byHand := batch.Reading{Quantity: batch.Gravity, Value: 1.030}
	f := someForecast(160, 20, 12)
	ago := func(d time.Duration) time.Time { return f.At.Add(-d) }
	for _, c := range []struct {
		what     string
		readings []batch.Reading
		now      bool // the first sentence is one of now
		missed   string
	}{
		{"every five minutes, a quarter of an hour ago", every(5*time.Minute, 40, ago(15*time.Minute), gauge), true, ""},
		{"every five minutes, sixteen minutes ago", every(5*time.Minute, 40, ago(16*time.Minute), gauge), false, "No word of the pressure since"},
		{"every day, two days ago", every(24*time.Hour, 5, ago(50*time.Hour), float), true, ""},
		{"every day, more than three days ago", every(24*time.Hour, 4, ago(73*time.Hour), float), false, "No word of the gravity since"},
		{"three readings tell no interval", every(5*time.Minute, 3, ago(2*time.Hour), gauge), true, ""},
		{"by hand, every hour, a day ago", every(time.Hour, 8, ago(24*time.Hour), byHand), true, ""},
		{"by hand, more than three days ago", every(time.Hour, 2, ago(80*time.Hour), byHand), false, ""},
		{"silent, and a person read another quantity since", append(every(5*time.Minute, 9, ago(5*time.Hour), gauge), every(time.Hour, 1, ago(time.Hour), byHand)...), true, "Until then one came every 5 min."},
		{"silent, and a person took its place", append(every(5*time.Minute, 9, ago(5*time.Hour), float), every(time.Hour, 1, ago(time.Hour), byHand)...), true, ""},
		{"silent, and another like it took its place", append(every(5*time.Minute, 9, ago(5*time.Hour), float), every(time.Hour, 4, ago(time.Hour), batch.Reading{Quantity: batch.Gravity, Value: 1.03, Instrument: "probe", Unattended: true})...), true, ""},
	} {
		f.LastReading = c.readings[len(c.readings)-1].Time
		said := Say(someBatch(), batch.Log{Readings: c.readings}, batch.Upkeep{}, f, f.At, unit.Style{}).Now
		if got := strings.HasPrefix(said[0], "Now "); got != c.now {
			t.Errorf("%s: it begins with now: %v; %s", c.what, got, said[0])
		}
		all := strings.Join(said, " ")
		if c.missed == "" && strings.Contains(all, "No word") || !strings.Contains(all, c.missed) {
			t.Errorf("%s: expected %q in\n%s", c.what, c.missed, all)
		}
		for _, sentence := range said {
			checkWords(t, c.what, sentence, 18)
		}
	}
}
