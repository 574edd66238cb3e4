package monitor

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/yeast"
)

const (
	// mostLessons of one yeast, one vessel, or of the instruments are taken, the latest: more change next to nothing.
	mostLessons = 40
	// taughtDraws of a batch are kept: enough for a mean and a spread.
	taughtDraws = 100
)

// lessonMark says from what a lesson was learnt.
type lessonMark struct {
	evidence []byte
	engine   string
}

// recallLessons reads once of which batches lessons are kept; known is locked.
func (w *Watch) recallLessons(ctx context.Context) {
	lessons, err := w.store.Lessons(ctx)
	if err != nil {
		w.log.Error("what was learnt", "err", err)
	}
	for _, l := range lessons {
		w.known.lessons[l.Batch] = lessonMark{l.Evidence, l.Engine}
	}
}

// past are the batches that a batch learns from: those that taught something and had ended when it was pitched. So what
// is expected of it does not change while it is followed, unless the records of the past do.
type past struct{ yeast, vessel, tools []store.Brief }

// ended are the batches that taught something, the last to end first.
func (w *Watch) ended() (out []store.Brief) {
	locked(&w.known.mu, func() {
		for id := range w.known.lessons {
			if b := w.known.briefs[id]; !b.Ended.IsZero() {
				out = append(out, b)
			}
		}
	})
	slices.SortFunc(out, func(a, b store.Brief) int {
		return cmp.Or(b.Ended.Compare(a.Ended), bytes.Compare(a.Batch[:], b.Batch[:]))
	})
	return out
}

// pastOf is what of the batches that ended speaks of one, the latest first.
func (c *cellar) pastOf(of store.Brief, ended []store.Brief) (p past) {
	name := c.yeastName(of)
	for _, b := range ended {
		if b.Batch == of.Batch || b.Ended.After(of.Pitched) {
			continue
		}
		if c.yeastName(b) == name && len(p.yeast) < mostLessons {
			p.yeast = append(p.yeast, b)
		}
		if b.Vessel == of.Vessel && !of.Vessel.IsZero() && len(p.vessel) < mostLessons {
			p.vessel = append(p.vessel, b)
		}
		if len(p.tools) < mostLessons {
			p.tools = append(p.tools, b)
		}
	}
	return p
}

// yeastName is the name under which the yeast of a batch is learnt: that of its pack, else its kind.
func (c *cellar) yeastName(b store.Brief) string {
	if name, packed := c.packs[b.Yeast]; packed {
		return name
	}
	return b.Yeast
}

// priorSum is the checksum of what is expected of a batch.
func (w *Watch) priorSum(c *cellar, p past) []byte {
	h := sha256.New()
	locked(&w.known.mu, func() {
		for _, group := range [][]store.Brief{p.yeast, p.vessel, p.tools} {
			fmt.Fprintln(h, len(group))
			for _, b := range group {
				h.Write(b.Batch[:])
				h.Write(w.known.lessons[b.Batch].evidence)
			}
		}
	})
	for _, t := range c.Instruments {
		fmt.Fprintf(h, "%q %d %x %x\n", t.Name, t.Facts.Reads, t.Facts.Offset, t.Facts.Noise)
	}
	return h.Sum(nil)
}

// taught reads what batches taught; one that taught nothing does not count. One whose lesson does not read is left out, and made again.
func (w *Watch) taught(ctx context.Context, of []store.Brief) (out []estimate.Experience, err error) {
	for _, b := range of {
		row, err := w.store.Lesson(ctx, b.Batch)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		var e estimate.Experience
		if err != nil || row == nil || unpack(row.Taught, &e) != nil {
			w.log.Warn("a lesson does not read; it is made again", "batch", b.Name, "err", err)
			locked(&w.known.mu, func() { delete(w.known.lessons, b.Batch) })
			w.rouse()
			return nil, errAgain
		}
		if len(e.Draws) > 0 {
			out = append(out, e)
		}
	}
	return out, nil
}

// errAgain says that what was to be used has gone and is made again first.
var errAgain = errors.New("something that was put away does not read; it is made again")

// expect is what is expected of a batch, and its checksum.
func (w *Watch) expect(ctx context.Context, c *cellar, s *Seen) (o estimate.Options, sum []byte, err error) {
	p := c.pastOf(briefOf(s), w.ended())
	sum = w.priorSum(c, p)
	prior, err := w.learnt(ctx, s.State.Record.Yeast.Kind, p)
	if err != nil {
		return o, nil, err
	}
	o.Prior = &prior
	tools, err := w.taught(ctx, p.tools)
	if err != nil {
		return o, nil, err
	}
	o.Tools = map[estimate.Tool]estimate.Instrument{}
	for _, r := range s.State.Log.Readings {
		tool := estimate.Tool{Quantity: r.Quantity, Name: r.Instrument}
		if _, done := o.Tools[tool]; !done {
			o.Tools[tool] = c.instrument(tool, tools)
		}
	}
	return o, sum, nil
}

// learnt is the prior of a kind of yeast, sharpened by what is known of this one and of the vessel.
func (w *Watch) learnt(ctx context.Context, kind yeast.Kind, p past) (estimate.Prior, error) {
	prior := estimate.GenericPrior(kind)
	of, err := w.taught(ctx, p.yeast)
	if err != nil {
		return prior, err
	}
	prior = estimate.Learn(prior, of, estimate.OfYeast)
	if of, err = w.taught(ctx, p.vessel); err != nil {
		return prior, err
	}
	return estimate.Learn(prior, of, estimate.OfVessel), nil
}

// instrument is what is known of an instrument: what batches taught, and what somebody wrote down of it.
func (c *cellar) instrument(t estimate.Tool, past []estimate.Experience) estimate.Instrument {
	ins, batches := estimate.LearnTool(t, past)
	for i := range c.Instruments {
		f := &c.Instruments[i].Facts
		if f.Reads != t.Quantity || !strings.EqualFold(c.Instruments[i].Name, t.Name) {
			continue
		}
		if f.Noise > 0 {
			ins.Scatter = f.Noise
		}
		if batches == 0 {
			ins.Mean += f.Offset
		}
	}
	return ins
}

// teach puts away what a finished batch taught: nothing, where nothing was read of it.
func (w *Watch) teach(ctx context.Context, s *subject, bl *estimate.Belief) error {
	var e estimate.Experience
	if len(s.log.Readings) > 0 {
		e = bl.Experience()
		e.Draws = thinned(e.Draws)
		for t, x := range e.Offsets {
			e.Offsets[t] = thinned(x)
		}
	}
	taught, err := pack(&e)
	if err != nil {
		return err
	}
	l := store.Lesson{Batch: s.id, Evidence: s.lessonOf(), Engine: w.engine, Taught: taught}
	if err := w.store.KeepLesson(ctx, l); err != nil {
		return err
	}
	locked(&w.known.mu, func() { w.known.lessons[s.id] = lessonMark{l.Evidence, l.Engine} })
	return nil
}

// lessonOf is the checksum of all that a lesson follows from.
func (s *subject) lessonOf() []byte {
	h := sha256.New()
	h.Write(s.evidence(s.at))
	h.Write(s.prior)
	return h.Sum(nil)
}

func thinned[T any](x []T) []T {
	n := min(len(x), taughtDraws)
	out := make([]T, n)
	for i := range out {
		out[i] = x[i*len(x)/n]
	}
	return out
}

// Passport is what finished batches taught of one yeast, vessel or instrument.
type Passport struct {
	Of      estimate.Group      // OfYeast or OfVessel; OfBatch: of the instrument Tool
	Name    string              // of the yeast's pack or kind, or of the vessel
	Vessel  batch.ID            // zero: not of a vessel
	Batches int                 // that taught it
	Lines   []estimate.Passport // by unknown; none of an instrument
	Tool    estimate.Tool
	Learnt  estimate.Instrument // of an instrument, SI: Mean and Offset are its fixed error and what is not known of it
	Usual   estimate.Instrument // before the first batch
}

// Unlearnt is how many batches have ended and were not learnt from yet.
func (w *Watch) Unlearnt(ctx context.Context) (n int, err error) {
	_, briefs, err := w.inShort(ctx)
	if err != nil {
		return 0, err
	}
	locked(&w.known.mu, func() {
		for _, b := range briefs {
			if _, taught := w.known.lessons[b.Batch]; !taught && !b.Ended.IsZero() {
				n++
			}
		}
	})
	return n, nil
}

// Passports are what was learnt of every yeast, then every vessel, then every instrument, each by name.
func (w *Watch) Passports(ctx context.Context) ([]Passport, error) {
	for {
		all, err := w.passports(ctx)
		if !errors.Is(err, errAgain) { // else a lesson that does not read was left out, and the rest is told
			return all, err
		}
	}
}

func (w *Watch) passports(ctx context.Context) ([]Passport, error) {
	heads, _, err := w.inShort(ctx)
	if err != nil {
		return nil, err
	}
	c, err := w.cellarAt(ctx, heads[batch.ID{}])
	if err != nil {
		return nil, err
	}
	all := w.ended()
	yeasts, vessels := map[string][]store.Brief{}, map[batch.ID][]store.Brief{}
	for _, b := range all {
		yeasts[c.yeastName(b)] = append(yeasts[c.yeastName(b)], b)
		vessels[b.Vessel] = append(vessels[b.Vessel], b)
	}
	var out []Passport
	for _, name := range slices.Sorted(maps.Keys(yeasts)) {
		if out, err = w.passport(ctx, out, Passport{Of: estimate.OfYeast, Name: name}, yeasts[name]); err != nil {
			return nil, err
		}
	}
	for _, v := range c.Vessels { // by name
		if out, err = w.passport(ctx, out, Passport{Of: estimate.OfVessel, Name: v.Name, Vessel: v.ID}, vessels[v.ID]); err != nil {
			return nil, err
		}
	}
	tools, err := w.toolPassports(ctx, all)
	return append(out, tools...), err
}

// passport adds to out what batches of one yeast or in one vessel taught, where they taught something.
func (w *Watch) passport(ctx context.Context, out []Passport, p Passport, of []store.Brief) ([]Passport, error) {
	past, err := w.taught(ctx, of[:min(len(of), mostLessons)])
	if err != nil || len(past) == 0 {
		return out, err
	}
	seen, err := w.see(ctx, of[0].Batch, of[0].Position)
	if err != nil {
		return nil, err
	}
	generic := estimate.GenericPrior(seen.State.Record.Yeast.Kind)
	p.Batches = len(past)
	p.Lines = estimate.Passports(generic, estimate.Learn(generic, past, p.Of), p.Of, len(past))
	return append(out, p), nil
}

// toolPassports are what batches taught of their instruments.
func (w *Watch) toolPassports(ctx context.Context, of []store.Brief) (out []Passport, err error) {
	past, err := w.taught(ctx, of[:min(len(of), mostLessons)])
	if err != nil {
		return nil, err
	}
	seen := map[estimate.Tool]bool{}
	for i := range past {
		for t := range past[i].Offsets {
			if seen[t] {
				continue
			}
			seen[t] = true
			p := Passport{Of: estimate.OfBatch, Name: t.Name, Tool: t}
			p.Learnt, p.Batches = estimate.LearnTool(t, past)
			p.Usual, _ = estimate.LearnTool(t, nil)
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b Passport) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), cmp.Compare(a.Tool.Quantity, b.Tool.Quantity))
	})
	return out, nil
}
