package batch

// Weighings are what a cylinder weighed, by the entries of the cellar's own log, in order of time.
func Weighings(entries []Entry, cylinder ID) []Reading {
	var out []Reading
	for _, h := range Hold(entries) {
		if r, weighed := h.weighing(); weighed && h.Thing == cylinder {
			out = append(out, r)
		}
	}
	return out
}

// weighing is what the cylinder weighed that the entry is about, where it says so.
func (h *Held) weighing() (r Reading, weighed bool) {
	if h.Kind != KindReading || h.Thing.IsZero() {
		return r, false
	}
	s, err := saidOf(h.Body)
	if err != nil || s.CylinderMass == nil {
		return r, false
	}
	return Reading{Time: h.At, Uncertain: h.Uncertain, Quantity: CylinderMass, Value: *s.CylinderMass, Instrument: s.Instrument, Entry: h.ID}, true
}
