package web

import (
	"context"
	"slices"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// rest is what is left in a cylinder by its last weighing, with its working.
type rest struct {
	Says string
	How  []string
}

// restWorking is where the working of what is left stands on the page of a cylinder.
const restWorking = "working-of-the-rest"

// rest is what is left in a cylinder; nil where nothing tells it.
func (s *Site) rest(ctx context.Context, t *thing, c *batch.Cellar, style unit.Style) (*rest, error) {
	i := slices.IndexFunc(c.Cylinders, func(x batch.Thing[batch.CylinderFacts]) bool { return x.ID == t.ID })
	if i < 0 || c.Cylinders[i].Facts.Content == nil {
		return nil, nil
	}
	log, _, err := s.watch.Store().Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	facts, all := &c.Cylinders[i].Facts, batch.Weighings(log, t.ID)
	last := all[len(all)-1]
	err90 := estimate.ReadingScatter(last)
	low, high := style.Between(unit.OfMass, max(0, float64(*facts.Content)-err90), float64(*facts.Content)+err90)
	out := &rest{Says: t.left(c, style)[0]}
	out.How = append(out.How,
		style.Say("On %s it weighed %s.", dayWords(last.Time.In(s.zone(style)), style), gasMass.write(last.Value, style)),
		style.Say("Empty it weighs %s. That is its tare, and it counts as right.", gasMass.write(float64(facts.Tare), style)),
		style.Say("What it weighed more is gas: between %s and %s, nine times in ten, by the scatter of a scale.", low, high),
		style.Word("What went out since then is not in it. Weigh it again to know."))
	return out, nil
}
