package batch

import "time"

// Grown is s with one more entry of its log, and true where that was as easy as adding it at the end: a reading, action, note
// or judgement with a sure clock, later than all before it, that nothing waits for. Else the log must be derived anew. s
// stays as it is; of several states grown from s only the first may grow on.
func (s *State) Grown(e *Entry) (State, bool) {
	switch e.Kind {
	case KindReading, KindAction, KindNote, KindJudgement:
	default:
		return State{}, false
	}
	if s.waits || e.Clock != "" || !e.With.IsZero() || !e.At.After(s.last) {
		return State{}, false
	}
	out := *s
	out.hear(&Held{Entry: *e})
	return out, true
}

// hear takes in an entry that comes after all others.
func (s *State) hear(h *Held) {
	var err error
	switch h.Kind {
	case KindReading, KindAction, KindNote:
		err = s.said(h)
	case KindJudgement:
		err = s.judged(h)
	}
	if err != nil {
		s.Trouble = append(s.Trouble, Trouble{h.ID, err})
	}
	s.last = h.At
}

// wait tells whether an entry supersedes one that is not there yet, and would change it on coming.
func (l *links) wait() bool {
	for i := range l.entries {
		if _, there := l.target(i); !there && l.entries[i].Kind.supersedes() {
			return true
		}
	}
	return false
}

// Last is when the last entry that holds was so; zero where none does.
func (s *State) Last() time.Time { return s.last }
