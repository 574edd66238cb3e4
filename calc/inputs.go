package calc

import (
	"slices"
	"strings"

	"spile/co2"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
	"spile/working"
)

// Inputs are the values of the flags of one call, in SI, and how whoever reads what comes of them wants it written.
type Inputs struct {
	given map[string]Given
	style unit.Style
}

// Has tells whether a flag was given or has a default.
func (in Inputs) Has(name string) bool { _, ok := in.given[name]; return ok }

func (in Inputs) number(name string) float64 { return in.given[name].Value }

func (in Inputs) volume(name string) unit.Volume { return unit.Volume(in.number(name)) }

func (in Inputs) temperature(name string) unit.Temperature { return unit.Temperature(in.number(name)) }

func (in Inputs) gauge(name string) unit.Gauge { return unit.Gauge(in.number(name)) }

func (in Inputs) gravity(name string) unit.Gravity { return unit.Gravity(in.number(name)) }

func (in Inputs) volumes(name string) unit.Volumes { return unit.Volumes(in.number(name)) }

// atmosphere is the air outside at the altitude, and a line of working for it.
func (in Inputs) atmosphere(w *working.Sheet) unit.Pressure {
	altitude := unit.Length(in.number("altitude"))
	p := unit.StandardAtmosphere(altitude)
	w.Input("z", "altitude", float64(altitude), "m", in.origin("altitude"))
	w.Step("pa", "air outside", "pa = 101.325 kPa (1 - 0.0065 z/288.15)^5.2559", float64(p)/unit.Kilopascal, "kPa", "USSA1976")
	return p
}

// from marks inputs of a relation, by symbol, with the origin of the flag each came from.
func (in Inputs) from(w *working.Sheet, flags map[string]string) {
	if w == nil {
		return
	}
	for i := range w.Steps {
		if s := &w.Steps[i]; s.IsInput() && flags[s.Symbol] != "" {
			s.Origin = in.origin(flags[s.Symbol])
		}
	}
}

// rating of the weakest part, and setting of the safety valve; nil where nobody told.
func (in Inputs) rating() *unit.Gauge { return in.told("rating") }
func (in Inputs) safety() *unit.Gauge { return in.told("safety-relief", "set") }

// told is the pressure under the first of the names that was given, nil if none was.
func (in Inputs) told(names ...string) *unit.Gauge {
	for _, name := range names {
		if in.Has(name) {
			p := in.gauge(name)
			return &p
		}
	}
	return nil
}

// origin says whether somebody gave the flag.
func (in Inputs) origin(name string) working.Origin {
	switch given, ok := in.given[name]; {
	case !ok:
		return working.Computed
	case given.Default:
		return working.Default
	}
	return working.Given
}

// exactly tells whether so many of the flags were given.
func (in Inputs) exactly(n int, names ...string) bool {
	for _, name := range names {
		if in.Has(name) {
			n--
		}
	}
	return n == 0
}

// oneLeftOut is the one of the flags that was not given, for which to solve.
func (in Inputs) oneLeftOut(names ...string) (string, error) {
	missing := slices.DeleteFunc(slices.Clone(names), in.Has)
	if len(missing) != 1 {
		last := len(names) - 1
		return "", wording.Unsaid("give all but one of --%s and --%s", strings.Join(names[:last], ", --"), names[last])
	}
	return missing[0], nil
}

// atRest is the beer with its gas, their temperature, the pressure of --pressure, and the air outside, absolute.
func (in Inputs) atRest(w *working.Sheet) (gas vessel.Gas, t unit.Temperature, p, air unit.Pressure, err error) {
	if gas, err = in.gas(); err != nil {
		return gas, 0, 0, 0, err
	}
	t, air = in.temperature("temperature"), in.atmosphere(w)
	if p = in.gauge("pressure").Absolute(air); p <= co2.VapourPressure(t) {
		err = in.onlyVapour(in.gauge("pressure"))
	}
	return gas, t, p, air, err
}

// gas is the beer and the gas above it.
func (in Inputs) gas() (vessel.Gas, error) {
	return in.gasOver("beer", in.volume("volume"), in.volume("capacity"))
}

// gasOver is so much liquid and the gas above it in a vessel of that size; it must leave room for gas.
func (in Inputs) gasOver(liquid wording.Text, volume, capacity unit.Volume) (vessel.Gas, error) {
	if volume >= capacity {
		return vessel.Gas{}, wording.Unsaid("%s of %s does not fit into %s with any gas above it", in.style.Volume(volume, 0), liquid, in.style.Volume(capacity, 0))
	}
	return vessel.Gas{Beer: volume, Head: capacity - volume}, nil
}

// onlyVapour refuses a pressure at which no carbon dioxide is left.
func (in Inputs) onlyVapour(p unit.Gauge) error {
	return wording.Unsaid("at %s there is only water vapour left above the beer; accepted is a dial reading such as 10 psi", in.style.Dials(p, 0))
}
