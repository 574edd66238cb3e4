package batchfile

import (
	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// questionsJSON are the answers beside the forecast; null where a question has no meaning now.
type questionsJSON struct {
	Chill *chillJSON    `json:"chill"`
	Own   *ownJSON      `json:"own_gas"`
	Quiet *quietJSON    `json:"quiet_gauge"`
	Proof []proofJSON   `json:"quiet_gauge_runs"`
	Leak  leakJSON      `json:"leak"`
	Next  []settlesJSON `json:"next_readings"`
	Turns []turnedJSON  `json:"temperature_turns"`
	Words []askedJSON   `json:"words"`
}

type chillJSON struct {
	To       number   `json:"to_c"`
	Pressure bandJSON `json:"pressure_kpa"`
	Volumes  bandJSON `json:"co2_volumes"`
	PullsIn  number   `json:"pulls_in_probability"`
	ToStay   bandJSON `json:"gas_to_stay_above_air_g"`
	ToWish   bandJSON `json:"gas_to_target_g"`
	Hold     bandJSON `json:"hold_kpa"`
}

type ownJSON struct {
	Setting *number  `json:"relief_kpa"` // null without a rating
	Capped  bool     `json:"capped_by_plates"`
	Volumes bandJSON `json:"co2_volumes"`
	Enough  number   `json:"enough_probability"`
	Saves   bandJSON `json:"saves_g"`
}

type quietJSON struct {
	From     number   `json:"from_kpa"`
	To       number   `json:"to_kpa"`
	Times    int      `json:"times"`
	Rebound  bandJSON `json:"rebound_kpa"`
	Hours    number   `json:"hours"`
	Limit    number   `json:"detection_limit_points_per_day"`
	Expected bandJSON `json:"expected_points_per_day"`
}

type proofJSON struct {
	First     string `json:"first"`
	Second    string `json:"second"`
	Points    number `json:"points_per_day"`
	Low       number `json:"low_points_per_day"`
	High      number `json:"high_points_per_day"`
	Limit     number `json:"detection_limit_points_per_day"`
	Unsettled number `json:"unsettled_points_per_day"`
	Opened    bool   `json:"valve_may_have_opened"`
	// Leak is what the vessel is known to lose, counted in; null where that is not known and the points are net of it.
	Leak *number `json:"known_leak_g_per_day"`
}

// leakJSON answers whether the vessel loses gas; hides is what a leak would hide behind, where that cannot be told.
type leakJSON struct {
	Verdict     string   `json:"verdict"`
	Probability number   `json:"probability"`
	Size        bandJSON `json:"g_per_day_at_1_bar"`
	Hides       string   `json:"hides"`
}

// settlesJSON is the reading that narrows one question most; instrument is "none" where none is worth taking.
type settlesJSON struct {
	Question   string `json:"question"`
	Instrument string `json:"instrument"`
	At         string `json:"at"`
	Narrows    number `json:"narrows_share"`
}

// turnedJSON is a temperature that did not follow what was written down: it changed between the two readings, or was to change
// then and did not.
type turnedJSON struct {
	Since   string   `json:"since"`
	Seen    string   `json:"seen"`
	By      bandJSON `json:"warmer_by_c"`
	Written bool     `json:"change_was_written"`
}

type askedJSON struct {
	Key       string   `json:"key"`
	Label     string   `json:"label"`
	Sentences []string `json:"sentences"`
	Caution   string   `json:"caution"`
}

func questionsOf(q *estimate.Questions, a advice.Said, b *batch.Batch) questionsJSON {
	out := questionsJSON{Proof: []proofJSON{}, Next: []settlesJSON{}, Turns: []turnedJSON{}, Words: []askedJSON{}}
	kpa, grams := per(unit.Kilopascal), per(unit.Gram)
	if c := q.Chill; c != nil {
		out.Chill = &chillJSON{number(c.To.Celsius()), banded(c.Pressure, kpa), banded(c.Volumes, per(1)), number(c.PullsIn),
			banded(c.ToStay, grams), banded(c.ToWish, grams), banded(c.Hold, kpa)}
	}
	if k := q.Own; k != nil {
		out.Own = &ownJSON{nil, k.Capped, banded(k.Volumes, per(1)), number(k.Enough), banded(k.Saves, grams)}
		if k.Advised {
			setting := number(k.Setting.Kilopascals())
			out.Own.Setting = &setting
		}
	}
	if p := q.Quiet; p != nil {
		out.Quiet = &quietJSON{number(p.From.Kilopascals()), number(p.To.Kilopascals()), p.Times, banded(p.Rebound, kpa),
			number(p.Hours), number(p.Limit), banded(p.Expected, per(1))}
	}
	for _, p := range q.Proof {
		low, high := p.Between()
		run := proofJSON{stamp(p.First, b), stamp(p.Second, b), number(p.Points), number(low), number(high), number(p.Limit), number(p.Unsettled), p.Opened, nil}
		if p.Leak > 0 {
			run.Leak = pointer(number(float64(p.Leak) * unit.Day / unit.Gram))
		}
		out.Proof = append(out.Proof, run)
	}
	out.Leak = leakJSON{string(q.Leak.Verdict), number(q.Leak.Probability), banded(q.Leak.Size, per(unit.Gram/unit.Day)), string(q.Leak.Hides)}
	for _, s := range q.Next {
		out.Next = append(out.Next, settlesJSON{string(s.Question), readingName(s.Next), stamp(s.Next.At, b), number(s.Next.Narrows)})
	}
	for _, t := range q.Turns {
		out.Turns = append(out.Turns, turnedJSON{stamp(t.Since, b), stamp(t.Seen, b), banded(t.By, per(1)), t.Kept})
	}
	for _, x := range a.Asked {
		out.Words = append(out.Words, askedJSON{x.Key, x.Label, x.Sentences, x.Caution})
	}
	return out
}

// readingName is the column in which a reading would be written; a sample fermented out has a name of its own, and "none" where none is worth taking.
func readingName(n estimate.NextReading) string {
	switch {
	case n.None:
		return "none"
	case n.Forced:
		return "forced_sample"
	}
	return columnOf[n.Instrument].name
}
