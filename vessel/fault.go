package vessel

import "spile/unit"

// FaultKind is what can break in a lesson or a test.
type FaultKind int

// The faults that can be planted.
const (
	Leaking           FaultKind = iota // Fault.Leak
	ReliefStuckShut                    // or foamed shut: the working valve passes nothing, whatever it is set to
	ReliefStuckOpen                    // the working valve stands open both ways
	RegulatorFailed                    // the cylinder feeds at its own pressure
	RegulatorCreeping                  // the regulator holds Fault.Creep more than it is set to
)

// Fault is one thing that breaks, from when it is planted.
type Fault struct {
	Kind  FaultKind
	Leak  unit.MassRate // of CO2 at one bar above the air
	Creep unit.Gauge
}

// broken is what is broken.
type broken struct {
	shut, open, runaway bool
	creep               unit.Gauge
}

// CylinderPressure of CO2 with liquid left, at 20 C, absolute. References: [SpanWagner1996]
const CylinderPressure unit.Pressure = 57.29 * unit.Bar

// plant breaks what f says.
func (a *core) plant(f Fault) {
	switch f.Kind {
	case Leaking:
		a.p.Leak += float64(f.Leak) / molarCO2 / unit.Bar
	case ReliefStuckShut:
		a.b.shut = true
	case ReliefStuckOpen:
		a.b.open = true
	case RegulatorFailed:
		a.b.runaway = true
	case RegulatorCreeping:
		a.b.creep = f.Creep
	}
}

// Break plants a fault from now on; it stays whatever is set.
func (a *Averaged) Break(f Fault) {
	a.plant(f)
	a.refit()
}

// Break plants a fault from now on; it stays whatever is set.
func (f *Full) Break(fault Fault) {
	f.plant(fault)
	f.Set(f.c)
}

// relief and gas are the settings as the fittings obey them.
func (a *core) relief() unit.Gauge {
	switch {
	case a.b.shut:
		return unit.Gauge(inf)
	case a.b.open:
		return 0
	}
	return a.c.Relief
}

func (a *core) feeds() unit.Gauge {
	switch {
	case a.c.Gas < 0:
		return GasOff
	case a.b.runaway:
		return CylinderPressure.Gauge(a.p.Atmosphere)
	}
	return a.c.Gas + a.b.creep
}

// SetLeak opens a leak to the outside of so many mol/(s Pa) from now on, or closes it with 0.
func (f *Full) SetLeak(conductance float64) {
	f.p.Leak = conductance
	f.fit = f.fitted()
}
