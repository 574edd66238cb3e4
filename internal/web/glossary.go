package web

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
)

// term is a word of the trade, or several that mean one thing, and what it means.
type term struct {
	ID      string
	Words   []string // the first is the heading's
	Meaning string
}

// terms is the glossary, in the order of the alphabet.
var terms = []term{
	{"attenuation", []string{"attenuation"}, "The share of sugar that yeast has used."},
	{"bar", []string{"bar", "psi", "kPa"}, "Units of pressure: 1 bar = 14.5 psi = 100 kPa."},
	{"butter-test", []string{"butter test", "diacetyl"}, "Tells whether a rest in the warm is needed: a covered glass, warmed, is smelled beside a cool one."},
	{"carbonation", []string{"carbonation", "volumes"}, "Gas in the beer. One volume is one litre of gas (0 °C, 1 atm) in a litre of beer, 1.96 g/L."},
	{"check-valve", []string{"check valve"}, "Lets gas through one way."},
	{"cylinder", []string{"cylinder"}, "The gas bottle."},
	{"dry-hops", []string{"dry hops"}, "Hops added cold or late."},
	{"ferment", []string{"ferment", "work"}, "Yeast eating sugar, giving alcohol and gas."},
	{"final-gravity", []string{"final gravity"}, "The gravity when the ferment ends."},
	{"gauge", []string{"gauge", "dial"}, "Shows pressure above the air outside."},
	{"gravity", []string{"gravity"}, "How heavy the liquid is beside water. It falls as sugar goes."},
	{"headspace", []string{"headspace", "gas space"}, "The room above the beer."},
	{"hydrometer", []string{"hydrometer"}, "A glass float that reads gravity."},
	{"ibu", []string{"IBU"}, "A measure of bitterness."},
	{"keg", []string{"keg"}, "A vessel for serving."},
	{"line", []string{"line", "tap"}, "The tube and the valve you pour through."},
	{"original-gravity", []string{"original gravity"}, "The gravity before yeast."},
	{"pitch", []string{"pitch"}, "Add yeast."},
	{"point", []string{"point", "points"}, "One thousandth of gravity."},
	{"purge", []string{"purge"}, "Flush air out with gas."},
	{"rating", []string{"rating"}, "The most pressure the maker allows. The weakest part counts."},
	{"regulator", []string{"regulator"}, "Brings the gas of the cylinder down to a set pressure."},
	{"relief-valve", []string{"relief valve"}, "Lets gas out above its setting."},
	{"safety-valve", []string{"safety valve"}, "The relief valve fitted by the maker. Pull its ring to let gas out. Never adjust, plug or remove it."},
	{"sanitise", []string{"sanitise", "sanitiser"}, "Kill what cleaning left."},
	{"standard-drink", []string{"standard drink", "standard drinks"}, "Your country's measure of alcohol."},
	{"strip-thermometer", []string{"strip thermometer"}, "A thermometer stuck on the vessel."},
	{"stuck", []string{"stuck"}, "Stopped too soon."},
	{"tare", []string{"tare"}, "The empty weight of a cylinder."},
	{"trub", []string{"trub", "sediment"}, "What settles at the bottom."},
	{"working-valve", []string{"working valve"}, "The relief valve you set while it ferments. The trade also says spunding valve."},
	{"wort", []string{"wort"}, "The sweet liquid that yeast turns into beer."},
}

// Title is the heading of a term, without the plural of its first word.
func (t term) Title() string {
	title := t.Words[0]
	for _, w := range t.Words[1:] {
		if w != t.Words[0]+"s" {
			title += ", " + w
		}
	}
	return capital(title)
}

// everyday are words of the glossary that are too common to be underlined wherever they stand.
var everyday = []string{"work", "line", "tap", "bar", "psi", "kPa", "stuck", "dial"}

// anchors tells where a word of the trade is explained; tradeWord finds the longest that fits.
var anchors, tradeWord = func() (map[string]string, *regexp.Regexp) {
	at := map[string]string{}
	var words []string
	for _, t := range terms {
		for _, w := range t.Words {
			if !slices.Contains(everyday, w) {
				at[strings.ToLower(w)] = t.ID
				words = append(words, regexp.QuoteMeta(w))
			}
		}
	}
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) })
	return at, regexp.MustCompile(`(?i)\b(?:` + strings.Join(words, "|") + `)\b`)
}()

func (s *Site) glossary(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "glossary", page{Title: "Glossary", Here: "/glossary", Content: terms})
}
