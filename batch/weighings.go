package batch

// Weighings are what a cylinder weighed, by the entries of the cellar's own log, in order of time.
func Weighings(entries []Entry, cylinder ID) []Reading {
	var out []Reading
	for _, h := range Hold(entries) {
		if h.Kind != KindReading || h.Thing != cylinder {
			continue
		}
		if s, err := bodyOf[Said](h.Body); err == nil && s.CylinderMass != nil {
			out = append(out, Reading{Time: h.At, Uncertain: h.Uncertain, Quantity: CylinderMass, Value: *s.CylinderMass, Instrument: s.Instrument, Entry: h.ID})
		}
	}
	return out
}
