package batch

import (
	"bytes"
	"cmp"
	"math"
	"slices"
	"time"

	"spile/unit"
)

// Held is an entry as it stands now: with the time and body of its last correction,
// and the time put right where its clock was wrong.
type Held struct {
	Entry
	Corrected   ID     // the correction that counts, zero where there is none
	CorrectedBy string // who wrote that correction
	Shifted     bool   // At was put right by a clock shift; the Clock is cleared then
}

// Hold gives the entries of one log that hold, in order of their times (then of when
// they were made, then of their ids). It depends on the set of entries alone, not on
// their order: phones send late, twice and out of order.
//
// A taking-back ends what it supersedes, and can itself be taken back. A correction
// puts its time and body in place of those of what it supersedes; of several the one
// made last counts. A correction or taking-back whose target is not there yet waits.
// Entries that supersede one another in a circle have no effect.
func Hold(entries []Entry) []Held { return link(entries).held() }

// held are the entries that hold, as [Hold] gives them.
func (l *links) held() []Held {
	shifts := map[string]ClockShift{}
	for _, i := range l.sorted(KindClockShift) {
		if c, err := bodyOf[ClockShift](l.version(i).Body); err == nil {
			shifts[c.Clock] = c
		}
	}
	out := make([]Held, 0, len(l.entries))
	for i := range l.entries {
		e := &l.entries[i]
		if e.Kind.supersedes() || e.Kind == KindClockShift || !l.holds(i) {
			continue
		}
		h := Held{Entry: *e}
		if v := l.version(i); v != e {
			h.At, h.Uncertain, h.Clock, h.Body, h.Corrected, h.CorrectedBy = v.At, v.Uncertain, v.Clock, v.Body, v.ID, v.By
		}
		if c, found := shifts[h.Clock]; found && h.Clock != "" {
			h.shift(c)
		}
		out = append(out, h)
	}
	slices.SortFunc(out, func(a, b Held) int {
		return cmp.Or(a.At.Compare(b.At), a.Made.Compare(b.Made), bytes.Compare(a.ID[:], b.ID[:]))
	})
	return out
}

// unattended tells whether nobody vouches for what stands there: a device or a file gave it, and no person put it right.
func (h *Held) unattended() bool {
	if !h.Corrected.IsZero() {
		return ByDevice(h.CorrectedBy)
	}
	return ByDevice(h.By) || !h.With.IsZero()
}

// Holding tells of each entry of one log whether it holds, corrections and takings-back
// included, as [Hold] follows them.
func Holding(entries []Entry) map[ID]bool {
	l := link(entries)
	out := make(map[ID]bool, len(l.entries))
	for i := range l.entries {
		out[l.entries[i].ID] = l.holds(i)
	}
	return out
}

func (h *Held) shift(c ClockShift) {
	h.At = h.At.Add(time.Duration(math.Round(c.Shift * float64(time.Second))))
	h.Uncertain = unit.Duration(math.Hypot(float64(h.Uncertain), float64(c.Uncertain)))
	h.Clock, h.Shifted = "", true
}

// links is a log with its threads followed.
type links struct {
	entries     []Entry
	at          map[ID]int
	takers      map[int][]int // the takings-back of an entry
	corrections map[int][]int
	known       []verdict
}

type verdict int8

const (
	notAsked verdict = iota
	stands
	fell
)

// link finds what points at what. A repeated entry counts once.
func link(entries []Entry) *links {
	l := &links{entries: make([]Entry, 0, len(entries)), at: make(map[ID]int, len(entries)), takers: map[int][]int{}, corrections: map[int][]int{}}
	for _, e := range entries {
		if _, again := l.at[e.ID]; !again {
			l.at[e.ID] = len(l.entries)
			l.entries = append(l.entries, e)
		}
	}
	l.known = make([]verdict, len(l.entries))
	circle := l.circles()
	for i, e := range l.entries {
		target, there := l.target(i)
		switch {
		case !there || circle[i]:
		case e.Kind == KindTakenBack:
			l.takers[target] = append(l.takers[target], i)
		case e.Kind == KindCorrection:
			l.corrections[target] = append(l.corrections[target], i)
		}
	}
	return l
}

// target is the entry that i supersedes.
func (l *links) target(i int) (target int, there bool) {
	e := &l.entries[i]
	if !e.Kind.supersedes() {
		return 0, false
	}
	target, there = l.at[e.Supersedes]
	return target, there
}

// circles marks the entries from which superseding leads back to themselves. Each entry
// supersedes at most one, so that following is a walk along one thread.
func (l *links) circles() []bool {
	circle := make([]bool, len(l.entries))
	walk := make([]int, len(l.entries)) // the walk that has been here, from 1
	for start := range l.entries {
		i, there := start, true
		for there && walk[i] == 0 {
			walk[i] = start + 1
			i, there = l.target(i)
		}
		for there && walk[i] == start+1 && !circle[i] {
			circle[i] = true
			i, _ = l.target(i)
		}
	}
	return circle
}

// holds tells whether entry i holds: its import does, and no taking-back of it does.
func (l *links) holds(i int) bool {
	if l.known[i] == notAsked {
		l.known[i] = stands
		if !l.importHolds(i) || slices.ContainsFunc(l.takers[i], l.holds) {
			l.known[i] = fell
		}
	}
	return l.known[i] == stands
}

// importHolds tells whether the import that i came with holds. Only an entry that
// supersedes nothing comes with an import, so that no circle can arise.
func (l *links) importHolds(i int) bool {
	e := &l.entries[i]
	if e.With.IsZero() || e.Kind.supersedes() || e.Kind == KindImport {
		return true
	}
	g, there := l.at[e.With]
	return !there || l.entries[g].Kind != KindImport || l.holds(g)
}

// version is entry i as corrected last.
func (l *links) version(i int) *Entry {
	last := -1
	for _, c := range l.corrections[i] {
		if l.holds(c) && (last < 0 || l.madeAfter(c, last)) {
			last = c
		}
	}
	if last < 0 {
		return &l.entries[i]
	}
	return l.version(last)
}

func (l *links) madeAfter(a, b int) bool {
	x, y := &l.entries[a], &l.entries[b]
	return cmp.Or(x.Made.Compare(y.Made), bytes.Compare(x.ID[:], y.ID[:])) > 0
}

// sorted are the entries of a kind that hold, in the order in which they were made.
func (l *links) sorted(k Kind) []int {
	var out []int
	for i := range l.entries {
		if l.entries[i].Kind == k && l.holds(i) {
			out = append(out, i)
		}
	}
	slices.SortFunc(out, func(a, b int) int {
		if l.madeAfter(a, b) {
			return 1
		}
		return -1
	})
	return out
}
