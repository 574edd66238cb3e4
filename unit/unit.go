// Package unit holds the quantities of the trade as distinct float64 types in
// SI units, and parses and prints them as people write them.
//
// Pressure is always absolute pascals. What a dial shows is a Gauge pressure,
// a type of its own, and needs the local air pressure to become absolute.
// A difference of temperature is not a temperature.
package unit

// Pressure is an absolute pressure in pascals.
type Pressure float64

// Gauge is a pressure above the local air, in pascals, as every dial shows it.
type Gauge float64

// Temperature is a thermodynamic temperature in kelvin.
type Temperature float64

// TemperatureDifference is a difference of temperatures in kelvin.
type TemperatureDifference float64

// Volume is in cubic metres.
type Volume float64

// Mass is in kilograms.
type Mass float64

// Length is in metres.
type Length float64

// Area is in square metres.
type Area float64

// Power is in watts.
type Power float64

// Duration is in seconds; unlike time.Duration it may be fractional and days are 24 h.
type Duration float64

// Gravity is specific gravity 20/20: the density at 20 C over that of water at 20 C.
type Gravity float64

// Extract is a mass fraction of dissolved extract; degrees Plato are its percent.
type Extract float64

// Volumes is dissolved carbon dioxide: litres of ideal gas at 0 C and 101.325 kPa
// per litre of beer. One volume is 1.9635 g/L.
type Volumes float64

// ABV is alcohol by volume at 20 C, as a fraction.
type ABV float64

// MassRate is in kilograms per second.
type MassRate float64

// Conductance is heat flow per difference of temperature, in W/K.
type Conductance float64

// Ratio is a plain fraction; percent are its hundredths.
type Ratio float64

// Exact or conventional units, so that 2*unit.Bar and 5*unit.Litre read as written.
// Pressure units may be used for Pressure and for Gauge: a unit has no zero point.
const (
	Pascal     = 1.0
	Kilopascal = 1e3
	Bar        = 1e5
	// PSI is the pound-force per square inch: 0.45359237 kg * 9.80665 m/s2 / (0.0254 m)^2. Exact by definition, shown to 13 digits.
	PSI        = 6894.757293168361
	Atmosphere = 101325.0

	CubicMetre = 1.0
	Litre      = 1e-3
	Millilitre = 1e-6
	// GallonUS is 231 cubic inches, exact.
	GallonUS = 3.785411784e-3
	// GallonImperial is exact by the UK Units of Measurement Regulations 1995.
	GallonImperial = 4.54609e-3

	Kilogram = 1.0
	Gram     = 1e-3
	// Pound is the international avoirdupois pound, exact.
	Pound = 0.45359237
	Ounce = Pound / 16

	// StandardGravity in m/s2, by which a weight is a force. Exact by convention.
	StandardGravity = 9.80665

	Metre      = 1.0
	Centimetre = 1e-2
	Millimetre = 1e-3
	Inch       = 0.0254
	Foot       = 0.3048

	Second = 1.0
	Minute = 60.0
	Hour   = 3600.0
	Day    = 86400.0
)

// zeroCelsius is 0 C in kelvin, exact.
const zeroCelsius = 273.15

// Celsius makes a temperature from degrees Celsius.
func Celsius(c float64) Temperature { return Temperature(c + zeroCelsius) }

// Fahrenheit makes a temperature from degrees Fahrenheit.
func Fahrenheit(f float64) Temperature { return Temperature((f-32)/1.8 + zeroCelsius) }

// Celsius gives t in degrees Celsius.
func (t Temperature) Celsius() float64 { return float64(t) - zeroCelsius }

// Fahrenheit gives t in degrees Fahrenheit.
func (t Temperature) Fahrenheit() float64 { return t.Celsius()*1.8 + 32 }

// Absolute is the pressure of g under local air of pressure atm.
func (g Gauge) Absolute(atm Pressure) Pressure { return Pressure(g) + atm }

// Gauge is what a dial shows of p under local air of pressure atm.
func (p Pressure) Gauge(atm Pressure) Gauge { return Gauge(p - atm) }

// Plato makes an extract from degrees Plato (percent by mass).
func Plato(p float64) Extract { return Extract(p / 100) }

// Plato gives e in degrees Plato.
func (e Extract) Plato() float64 { return float64(e) * 100 }

// Points gives g in points above water: 1.046 is 46.
func (g Gravity) Points() float64 { return (float64(g) - 1) * 1000 }

// FromPoints makes a gravity from points above water.
func FromPoints(p float64) Gravity { return Gravity(1 + p/1000) }

// Percent gives a in percent by volume.
func (a ABV) Percent() float64 { return float64(a) * 100 }
