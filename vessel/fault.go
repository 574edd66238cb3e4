package vessel

// SetLeak opens a leak to the outside of so many mol/(s Pa) from now on, or
// closes it with 0: a fault planted for a lesson or a test.
func (f *Full) SetLeak(conductance float64) {
	f.p.Leak = conductance
	f.fit = f.fitted()
}
