package web

import (
	"net/http"
	"slices"

	"spile/advice"
	"spile/batch"
	"spile/internal/report"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// stageOf leads from the state of a vessel to the card of its stage.
var stageOf = map[advice.State]string{
	advice.Clean: "fill", advice.Filled: "yeast", advice.Waking: "first-night", advice.Working: "working-days", advice.Slowing: "finished", advice.Finished: "before-cooling",
	advice.Cooling: "cold", advice.TakingGas: "taking-gas", advice.Ready: "pour", advice.Pouring: "pour", advice.Empty: "empty",
}

// stageFor is the door to the card of the stage that a vessel is in, with the numbers of the
// batch in it; a zero id has none.
func stageFor(state advice.State, of batch.ID) door {
	card := stageNamed(stageOf[state])
	path := "/stages/" + card.Slug
	if !of.IsZero() {
		path += "?batch=" + of.String()
	}
	return door{card.Title, path}
}

// Stage leads to the card of the stage that the vessel is in; nil for a batch that has ended.
func (v *stood) Stage() *door {
	var d door
	switch {
	case v.Seen == nil:
		d = stageFor(v.State, batch.ID{})
	case v.Seen.Ended.IsZero():
		d = stageFor(v.State, v.Seen.ID)
	default:
		return nil
	}
	return &d
}

// Unproved says what is not done yet before the vessel may be filled; empty where it may, or is.
func (v *stood) Unproved() string {
	if v.Seen != nil || v.Filling() != "" {
		return ""
	}
	return turnMissing(v.Turn, v.Style.Tongue)
}

// Filling is where the yeast of waiting wort is told; empty where none waits.
func (v *stood) Filling() string {
	if v.Seen != nil || v.Vessel == nil || v.Vessel.Facts.Filled == nil {
		return ""
	}
	return "/fill/yeast/" + v.Vessel.ID.String()
}

// stageNamed is the card of that name, nil where there is none.
func stageNamed(slug string) *stageCard {
	i := slices.IndexFunc(stageCards, func(c stageCard) bool { return c.Slug == slug })
	if i < 0 {
		return nil
	}
	return &stageCards[i]
}

// stages lists the cards in the order of a vessel's life.
func (s *Site) stages(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "stages", page{Title: "From the shop to the sink", Here: "/stages", Content: stageCards})
}

// stageView is a card filled in.
type stageView struct {
	Title         wording.Text
	For           string // the batch whose numbers stand in it
	Asks          []askSaid
	Cautions      []string
	Links         []door
	Before, After *stageCard
	Query         string // to carry the batch along
}

func (s *Site) oneStage(w http.ResponseWriter, r *http.Request) {
	card := stageNamed(r.PathValue("name"))
	if card == nil {
		s.missing(w, r)
		return
	}
	b, query := (*batch.Batch)(nil), ""
	if of := r.URL.Query().Get("batch"); of != "" {
		id, err := batch.ParseID(of)
		if err != nil {
			s.missing(w, r)
			return
		}
		seen, err := s.watch.See(r.Context(), id)
		if err != nil {
			s.missing(w, r)
			return
		}
		b, query = &seen.State.Record.Batch, "?batch="+of
	}
	v := card.filled(b, readTastes(r).Style)
	v.Query = query
	i := slices.IndexFunc(stageCards, func(c stageCard) bool { return c.Slug == card.Slug })
	if i > 0 {
		v.Before = &stageCards[i-1]
	}
	if i+1 < len(stageCards) {
		v.After = &stageCards[i+1]
	}
	s.show(w, r, http.StatusOK, "stage", page{Title: card.Title, Here: "/stages", Cautious: len(v.Cautions) > 0, Content: &v})
}

// filled is the card with the numbers of a batch, or with words where it is nil.
func (c *stageCard) filled(b *batch.Batch, style unit.Style) stageView {
	v := stageView{Title: c.Title, Links: c.Links}
	if b != nil {
		v.For = b.Name
	}
	slots := pairs(stageNumbers(b, style))
	for _, a := range c.Asks {
		said := askSaid{Question: a.Question, Caution: a.Caution}
		for _, line := range a.Answer {
			said.Answer = append(said.Answer, style.Tongue.Fill(line, slots...))
		}
		v.Asks = append(v.Asks, said)
	}
	for _, key := range c.Cautions {
		v.Cautions = append(v.Cautions, stageCaution(key, b, style))
	}
	return v
}

// printed is the card for paper, where the setting of the valve stands in the box above it.
func (c *stageCard) printed(b *batch.Batch, style unit.Style) *report.Stage {
	v := c.filled(b, style)
	out := &report.Stage{Title: v.Title}
	for i, key := range c.Cautions {
		if key != "c.valve" {
			out.Cautions = append(out.Cautions, v.Cautions[i])
		}
	}
	for _, a := range v.Asks {
		out.Asks = append(out.Asks, report.Ask(a))
	}
	return out
}

// askSaid is a question with its answer filled in.
type askSaid struct {
	Question, Caution wording.Text
	Answer            []string
}

// stageNumbers fill the names in braces: with the numbers of a batch where one is looked at.
func stageNumbers(b *batch.Batch, style unit.Style) map[string]string {
	slots := map[string]string{}
	for name, words := range stageSlots {
		slots[name] = style.Word(words)
	}
	if b != nil {
		numbersOf(b, style, slots)
	}
	return slots
}

// pairs are the slots as a text is filled with them.
func pairs(slots map[string]string) (out []string) {
	for name, words := range slots {
		out = append(out, name, words)
	}
	return out
}

// numbersOf puts in what the batch tells. Settings are those of its plan; without a rating
// there are none.
func numbersOf(b *batch.Batch, style unit.Style, slots map[string]string) {
	low, high := b.Yeast.Kind.Range()
	slots["range"] = style.Say("%s to %s", style.Temperature(low, 0), style.Temperature(high, 0))
	most, rated := advice.Most(&b.Vessel)
	if rated {
		slots["most"] = style.Limit(most)
	}
	if t := b.Target; t != nil {
		if t.CO2 > 0 {
			slots["target"] = style.BareGas(t.CO2, 0)
		}
		if t.Temperature > 0 {
			slots["served"] = style.Temperature(t.Temperature, 0)
		}
	}
	valved := false
	for i := range b.Programme {
		set := &b.Programme[i].Set
		if set.Relief != nil && rated && set.Gas == nil { // first while it works, then for the last points
			slots["keep"] = style.Pressure(*set.Relief, 0)
			if !valved {
				slots["relief"], valved = slots["keep"], true
			}
		}
		if set.Gas != nil && rated {
			slots["gas"] = style.Pressure(*set.Gas, 0)
		}
		if set.Hold != nil && i > 0 {
			slots["cold"] = style.Temperature(*set.Hold, 0)
		}
	}
}

// stageCaution is a caution with its numbers, or with the words that hold without any.
func stageCaution(key limit.Key, b *batch.Batch, style unit.Style) string {
	slots := stageNumbers(b, style)
	switch key {
	case "c.valve":
		return limit.Say(style, key, "limit", slots["most"])
	case "c.hot":
		return limit.Say(style, key, "limit", slots["limit"])
	case "c.lift":
		if b == nil {
			return limit.Lift(style, usualFilling, usualWeight)
		}
		fl := filling{Record: batch.Record{Batch: *b}}
		return limit.Lift(style, b.Wort.Volume, fl.kilograms())
	case "c.car":
		return limit.Say(style, key, "p", style.Pressure(carPressure, 0))
	}
	return limit.Say(style, key)
}

// A filling as there are many, and what it weighs with its vessel (assumption), to say what lifting means before a batch is known.
const (
	usualFilling = 20 * unit.Litre
	usualWeight  = 26 * unit.Kilogram
)

// carPressure is what beer is let down to before a journey (common practice, no source).
const carPressure = 5 * unit.PSI
