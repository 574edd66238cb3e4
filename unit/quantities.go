package unit

import (
	"strings"

	"spile/wording"
)

// VolumeRate is in cubic metres per second.
type VolumeRate float64

// Frequency is how often a second something happens, as changes of air in a room.
type Frequency float64

// Bitterness is in IBU.
type Bitterness float64

// The lengths of time that are no multiple of a day by themselves: the mean
// month and year of the Julian calendar (365.25 days).
const (
	Week  = 7 * Day
	Year  = 365.25 * Day
	Month = Year / 12
)

// table makes the symbols of a quantity; one row is a unit and its spellings.
func table(rows ...row) map[string]symbol {
	m := map[string]symbol{}
	for _, r := range rows {
		for _, s := range strings.Split(r.spellings, "|") {
			m[s] = r.symbol
		}
	}
	return m
}

type row struct {
	spellings string // separated by |
	symbol
}

// ten is a unit of 10^exp10 SI units.
func ten(exp10 int, spellings string) row { return row{spellings, symbol{factor: 1, exp10: exp10}} }

// times is a unit of factor SI units.
func times(factor float64, spellings string) row {
	return row{spellings, symbol{factor: factor}}
}

// kgfPerCM2 is the technical atmosphere in pascals, exact.
const kgfPerCM2 = 98066.5

// mmHg is the conventional millimetre of mercury in pascals.
const mmHg = 133.322387415

const pressureWords wording.Text = "10 psi, 0.7 bar or 70 kPa"

var gauges = table(
	ten(0, "pa|pag|pagauge"), ten(3, "kpa|kpag|kpagauge"), ten(6, "MPa|MPag"), ten(2, "mbar|mbarg"),
	ten(5, "bar|bars|barg|bargauge"), times(PSI, "psi|psig|psigauge|lb/in2|lbs/in2|lbf/in2"),
	times(kgfPerCM2, "kg/cm2|kgf/cm2"),
)

const absoluteRefusal wording.Text = "a dial shows pressure above the air outside; leave out abs"

var gaugesRefused = map[string]wording.Text{
	"psia": absoluteRefusal, "psiabs": absoluteRefusal, "psiabsolute": absoluteRefusal,
	"bara": absoluteRefusal, "barabs": absoluteRefusal, "barabsolute": absoluteRefusal,
	"kpaa": absoluteRefusal, "kpaabs": absoluteRefusal, "kpaabsolute": absoluteRefusal,
	"paabs": absoluteRefusal, "mbarabs": absoluteRefusal,
	"atm": "an atmosphere could be counted from zero or from the air outside",
	"lb":  "write psi for pounds per square inch", "lbs": "write psi for pounds per square inch",
	"mpa": "write kPa, or MPa with a capital M",
}

var gaugeKind = kind{
	name: "pressure", accepted: pressureWords, symbols: gauges, refused: gaugesRefused,
	usual: []string{"psi", "kPa", "bar"}, low: -103e3, high: 10 * Bar, limits: "-1 to 10 bar, above any limit here",
}

var supplyKind = kind{
	name: "cylinder pressure", accepted: "57 bar or 830 psi", symbols: gauges, refused: gaugesRefused,
	usual: []string{"psi", "kPa", "bar"}, low: 0, high: 300 * Bar, limits: "0 to 300 bar",
}

const bareRefusal wording.Text = "say abs, since a bare unit is read as on a dial"

var absoluteKind = kind{
	name: "absolute pressure", accepted: "1013 hPa, 101.3 kPa abs, 14.7 psia or 1 bar abs",
	symbols: table(
		ten(0, "paabs|paa|paabsolute"), ten(2, "hpa|hpaabs|mbarabs"), ten(3, "kpaabs|kpaa|kpaabsolute"),
		ten(5, "barabs|bara|barabsolute"), times(PSI, "psia|psiabs|psiabsolute"), times(Atmosphere, "atm"),
		times(mmHg, "mmhg|torr"), times(25.4*mmHg, "inhg"),
	),
	refused: map[string]wording.Text{"kpa": bareRefusal, "bar": bareRefusal, "psi": bareRefusal, "pa": bareRefusal, "mbar": bareRefusal},
	usual:   []string{"hPa", "kPa abs"}, low: 0, high: 301 * Bar, limits: "0 to 301 bar",
}

var temperatureKind = kind{
	name: "temperature", accepted: "18 °C, 64 °F or 291 K",
	symbols: table(
		ten(0, "k|kelvin"),
		row{"c|celsius|centigrade", symbol{factor: 1, offset: zeroCelsius}},
		row{"f|fahrenheit", symbol{factor: 1 / 1.8, offset: zeroCelsius - 32/1.8}},
	),
	usual: []string{"°F", "°C", "K"}, low: 233.15, high: 393.15, limits: "-40 to 120 °C",
}

var differenceKind = kind{
	name: "temperature difference", accepted: "2 °C, 3 K or 4 °F",
	symbols: table(ten(0, "k|kelvin|c|celsius"), times(1/1.8, "f|fahrenheit")),
	low:     -200, high: 200, limits: "-200 to 200 °C",
}

const (
	gallonRefusal wording.Text = "a gallon is 3.79 L in the US and 4.55 L in the UK; write gal (US) or gal (UK)"
	pintRefusal   wording.Text = "it differs between the US and the UK; write (US) or (UK) after it"
)

var volumeKind = kind{
	name: "volume", accepted: "23 L, 500 mL or 6 gal (US)",
	symbols: table(
		ten(0, "m3|cubicmetre|cubicmetres|cubicmeters"), ten(-3, "l|ltr|litre|litres|liter|liters|dm3"),
		ten(-4, "dl"), ten(-5, "cl"), ten(-1, "hl"), ten(-6, "ml|cc|cm3|millilitre|millilitres|milliliter|milliliters"),
		times(GallonUS, "galus|usgal|gallonus|gallonsus|usgallon|usgallons|u.s.gal"),
		times(GallonImperial, "galuk|ukgal|galimp|impgal|galimperial|imperialgal|gallonsuk|ukgallons|imperialgallon|imperialgallons"),
		times(GallonUS/4, "qtus|usqt|quartsus|usquarts"), times(GallonUS/8, "ptus|uspt|pintsus|uspint|uspints"),
		times(GallonImperial/8, "ptuk|ukpt|pintsuk|ukpint|ukpints|imperialpint|imperialpints"),
		times(GallonUS/128, "flozus|usfloz"), times(GallonImperial/160, "flozuk|ukfloz|impfloz"),
		times(Foot*Foot*Foot, "ft3|cuft|cubicfeet"),
	),
	refused: map[string]wording.Text{
		"gal": gallonRefusal, "gallon": gallonRefusal, "gallons": gallonRefusal, "g": "g is a mass; write L or mL",
		"pt": pintRefusal, "pint": pintRefusal, "pints": pintRefusal, "qt": pintRefusal, "quart": pintRefusal,
		"quarts": pintRefusal, "floz": pintRefusal, "oz": pintRefusal,
	},
	usual: []string{"L", "mL"}, low: 0, high: 10000, limits: "0 to 10 000 m3",
}

var massKind = kind{
	name: "mass", accepted: "11.5 g, 2.6 kg, 1 lb or 4 oz",
	symbols: table(
		ten(0, "kg|kgs|kilo|kilos|kilogram|kilograms"), ten(-3, "g|gm|gms|gram|grams|gramme|grammes"), ten(-6, "mg"),
		times(Pound, "lb|lbs|pound|pounds"), times(Ounce, "oz|ounce|ounces"),
	),
	refused: map[string]wording.Text{"gr": "gr could be gram or grain; write g"},
	usual:   []string{"g", "kg"}, low: 0, high: 10000, limits: "0 to 10 000 kg",
}

var lengthKind = kind{
	name: "length", accepted: "0.30 m, 10 cm, 5 mm or 3/16 in",
	symbols: table(
		ten(0, "m|metre|metres|meter|meters"), ten(-2, "cm"), ten(-3, "mm"), ten(3, "km"),
		times(Inch, `in|inch|inches|"|''`), times(Foot, "ft|foot|feet|'"),
	),
	usual: []string{"mm", "cm", "m"}, low: -500, high: 9000, limits: "-500 to 9000 m",
}

var powerKind = kind{
	name: "power", accepted: "30 W or 0.5 kW",
	symbols: table(ten(0, "w|watt|watts"), ten(3, "kw")),
	usual:   []string{"W"}, low: 0, high: 1e5, limits: "0 to 100 kW",
}

var conductanceKind = kind{
	name: "heat loss", accepted: "4 W/K", symbols: table(ten(0, "w/k|w/c|wperk|wperc|wattsperkelvin")),
	low: 0, high: 1e4, limits: "0 to 10 000 W/K",
}

var massRateKind = kind{
	name: "rate", accepted: "10 g/day, 0.5 g/h or 20 mg/min",
	symbols: table(
		ten(0, "kg/s"), ten(-3, "g/s"), times(Gram/Day, "g/day|g/d|gperday|g/24h|gram/day|grams/day|gramsperday"),
		times(Gram/Hour, "g/h|g/hr|gperhour|gperh|grams/hour"), times(1/Hour, "kg/h"), times(1/Day, "kg/day|kg/d"),
		times(1e-6/Minute, "mg/min"), times(Gram/Minute, "g/min"), times(Gram/Week, "g/week"),
	),
	low: 0, high: 1, limits: "0 to 1 kg/s",
}

var volumeRateKind = kind{
	name: "flow", accepted: "2 L/min or 7 L/h",
	symbols: table(
		ten(0, "m3/s"), ten(-3, "l/s"), times(Litre/Minute, "l/min|lpm|lperminute|litres/min|liters/min"),
		times(Litre/Hour, "l/h|l/hr|lperhour"), times(Millilitre/Minute, "ml/min"), ten(-6, "ml/s"),
		times(1/Hour, "m3/h"), times(GallonUS/Minute, "usgal/min|galus/min"),
	),
	low: 0, high: 100, limits: "0 to 100 m3/s",
}

var frequencyKind = kind{
	name: "air changes", accepted: "0.3 per h", low: 0, high: 1, limits: "0 to 3600 per h",
	symbols: table(
		ten(0, "/s|pers"), times(1/Hour, "/h|/hr|perh|perhour|/hour|ach|1/h|h-1"), times(1/Day, "/day|perday|/d"),
		times(1/Minute, "/min|permin"),
	),
}

const minuteRefusal wording.Text = "m could be minutes or months; write min or months"

var durationKind = kind{
	name: "time", accepted: "5 min, 96 h, 3 days or 6 months",
	symbols: table(
		ten(0, "s|sec|secs|second|seconds"), times(Minute, "min|mins|minute|minutes"),
		times(Hour, "h|hr|hrs|hour|hours"), times(Day, "d|day|days"), times(Week, "wk|wks|week|weeks"),
		times(Month, "mo|month|months"), times(Year, "y|yr|yrs|year|years"),
	),
	refused: map[string]wording.Text{"m": minuteRefusal},
	low:     0, high: 100 * Year, limits: "0 to 100 years",
}

var extractKind = kind{
	name: "extract", accepted: "12 °P", low: 0, high: 0.6, limits: "0 to 60 °P",
	symbols: table(ten(-2, "p|plato"), ten(0, "kg/kg|g/g")),
	refused: map[string]wording.Text{"bx": "write °P", "brix": "write °P", "%": "write °P"},
}

var gravityKind = kind{
	name: "gravity", accepted: "1.048 or 12 °P", symbols: table(ten(0, "|sg")), low: 0.97, high: 1.2,
	limits: "0.970 to 1.200", small: true,
}

// gramsPerVolume is the mass in kg of a cubic metre of ideal CO2 at 0 C and
// 101.325 kPa, the meaning of one volume: 44.0095 g/mol over 22.41396954 L/mol.
const gramsPerVolume = 1.9634853

var volumesKind = kind{
	name: "carbonation", accepted: "2.5 volumes or 4.9 g/L", low: 0, high: 10, limits: "0 to 10 volumes", small: true,
	symbols: table(ten(0, "volumes|volume|vol|vols|vol.co2|volco2|volumesco2|volumesofco2|v/v"),
		times(1/gramsPerVolume, "g/l|gperl|gramsperlitre|grams/litre|gco2/l")),
	refused: map[string]wording.Text{"v": "write volumes", "%": "write volumes or g/L"},
}

var percentKind = kind{
	name: "share", accepted: "77 %", symbols: table(ten(-2, "%|percent|pct|percents")), low: -1, high: 10,
	limits: "-100 to 1000 %",
}

var abvKind = kind{
	name: "alcohol", accepted: "4.8 %", low: 0, high: 1, limits: "0 to 100 %",
	symbols: table(ten(-2, "%|percent|pct|%abv|%vol|vol%|%v/v|abv|%byvolume|percentbyvolume")),
	refused: map[string]wording.Text{"%abw": "write alcohol by volume", "%w/w": "write alcohol by volume"},
}

var bitternessKind = kind{
	name: "bitterness", accepted: "28 IBU", symbols: table(ten(0, "ibu|ibus|ebu")), low: 0, high: 1000,
	limits: "0 to 1000 IBU",
}

// ParseGauge reads a pressure as a dial shows it, above the local air: bare psi,
// bar and kPa mean gauge. From -1 to 10 bar, which no vessel here exceeds.
func ParseGauge(s string) (Gauge, error) { v, err := gaugeKind.parse(s); return Gauge(v), err }

// ParseSupply reads the gauge pressure of a cylinder or supply, 0 to 300 bar.
func ParseSupply(s string) (Gauge, error) { v, err := supplyKind.parse(s); return Gauge(v), err }

// ParseAbsolute reads a pressure counted from vacuum, as a barometer shows it.
func ParseAbsolute(s string) (Pressure, error) {
	v, err := absoluteKind.parse(s)
	return Pressure(v), err
}

// ParseTemperature reads a temperature, -40 to 120 C.
func ParseTemperature(s string) (Temperature, error) {
	v, err := temperatureKind.parse(s)
	return Temperature(v), err
}

// ParseTemperatureDifference reads a difference of temperatures.
func ParseTemperatureDifference(s string) (TemperatureDifference, error) {
	v, err := differenceKind.parse(s)
	return TemperatureDifference(v), err
}

// ParseVolume reads a volume; gallons, quarts, pints and fluid ounces must say whose.
func ParseVolume(s string) (Volume, error) { v, err := volumeKind.parse(s); return Volume(v), err }

// ParseMass reads a mass.
func ParseMass(s string) (Mass, error) { v, err := massKind.parse(s); return Mass(v), err }

// ParseLength reads a length, an altitude included; fractions of an inch as 3/16 in.
func ParseLength(s string) (Length, error) { v, err := lengthKind.parse(s); return Length(v), err }

// ParsePower reads a power.
func ParsePower(s string) (Power, error) { v, err := powerKind.parse(s); return Power(v), err }

// ParseConductance reads a heat loss per degree.
func ParseConductance(s string) (Conductance, error) {
	v, err := conductanceKind.parse(s)
	return Conductance(v), err
}

// ParseMassRate reads a mass per time, as of a leak.
func ParseMassRate(s string) (MassRate, error) {
	v, err := massRateKind.parse(s)
	return MassRate(v), err
}

// ParseVolumeRate reads a volume per time, as of a pour.
func ParseVolumeRate(s string) (VolumeRate, error) {
	v, err := volumeRateKind.parse(s)
	return VolumeRate(v), err
}

// ParseFrequency reads a rate such as changes of air per hour.
func ParseFrequency(s string) (Frequency, error) {
	v, err := frequencyKind.parse(s)
	return Frequency(v), err
}

// ParseDuration reads a length of time. A month is a twelfth of 365.25 days.
func ParseDuration(s string) (Duration, error) {
	v, err := durationKind.parse(s)
	return Duration(v), err
}

// ParseExtract reads an extract in degrees Plato.
func ParseExtract(s string) (Extract, error) { v, err := extractKind.parse(s); return Extract(v), err }

// ParseVolumes reads dissolved carbon dioxide in volumes or g/L.
func ParseVolumes(s string) (Volumes, error) { v, err := volumesKind.parse(s); return Volumes(v), err }

// ParsePercent reads a share in percent.
func ParsePercent(s string) (Ratio, error) { v, err := percentKind.parse(s); return Ratio(v), err }

// ParseABV reads alcohol by volume in percent.
func ParseABV(s string) (ABV, error) { v, err := abvKind.parse(s); return ABV(v), err }

// ParseBitterness reads a bitterness in IBU.
func ParseBitterness(s string) (Bitterness, error) {
	v, err := bitternessKind.parse(s)
	return Bitterness(v), err
}

// ParseGravity reads a specific gravity, 1.048, or degrees Plato if fromPlato
// is given to convert them. 46 and 1048 are refused and 1.046, 1.048 suggested,
// since only the written meaning counts.
func ParseGravity(s string, fromPlato func(Extract) Gravity) (Gravity, error) {
	n, rest, problem := scan(tidy.Replace(s))
	if problem == "" && fromPlato != nil && len(s) <= longest {
		if _, plato := extractKind.find(canonical(rest)); plato {
			e, err := extractKind.parse(s)
			if err != nil {
				return 0, err
			}
			return fromPlato(Extract(e)), nil
		}
	}
	g, err := gravityKind.parse(s)
	if bad, ok := err.(*ParseError); ok && problem == "" && canonical(rest) == "" {
		bad.Suggestion = gravityMeant(n.value(0))
	}
	return Gravity(g), err
}

// gravityMeant suggests what points (46) or thousandths (1046) may have meant.
func gravityMeant(v float64) string {
	switch {
	case v > 1.2 && v < 150:
		return FormatGravity(FromPoints(v), 0)
	case v >= 970 && v <= 1200:
		return FormatGravity(Gravity(v/1000), 0)
	}
	return ""
}

// ParseDilution reads a dilution by volume, 1:400, as the share 1/400.
func ParseDilution(s string) (Ratio, error) {
	first, second, ok := strings.Cut(strings.TrimSpace(s), ":")
	a, restA, p1 := scan(first)
	b, restB, p2 := scan(second)
	if !ok || len(s) > longest || string(p1+p2)+strings.TrimSpace(restA)+restB != "" {
		return 0, &ParseError{"dilution", short(s), wording.Unsaid("two numbers with a colon were expected"), "1:400", ""}
	}
	share := a.value(0) / b.value(0)
	if !(share > 0 && share <= 1) {
		return 0, &ParseError{"dilution", short(s), wording.Unsaid("that is outside 1:1 to 1:anything"), "1:400", ""}
	}
	return Ratio(share), nil
}
