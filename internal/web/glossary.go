package web

import (
	"net/http"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/text/collate"
	"golang.org/x/text/language"

	"spile/wording"
)

// term is a word of the trade, or several that mean one thing, and what it means.
type term struct {
	ID      string
	Words   []wording.Text // the first is the heading's
	Meaning wording.Text
}

// terms is the glossary.
var terms = []term{
	{"attenuation", []wording.Text{"attenuation"}, "The share of sugar that yeast has used."},
	{"bar", []wording.Text{"bar", "psi", "kPa"}, "Units of pressure: 1 bar = 14.5 psi = 100 kPa."},
	{"butter-test", []wording.Text{"butter test", "diacetyl"}, "Tells whether a rest in the warm is needed: a covered glass, warmed, is smelled beside a cool one."},
	{"carbonation", []wording.Text{"carbonation", "volumes"}, "Gas in the beer. One volume is one litre of gas (0 °C, 1 atm) in a litre of beer, 1.96 g/L."},
	{"check-valve", []wording.Text{"check valve"}, "Lets gas through one way."},
	{"cylinder", []wording.Text{"cylinder"}, "The gas bottle."},
	{"dry-hops", []wording.Text{"dry hops"}, "Hops added cold or late."},
	{"ferment", []wording.Text{"ferment", "work"}, "Yeast eating sugar, giving alcohol and gas."},
	{"final-gravity", []wording.Text{"final gravity"}, "The gravity when the ferment ends."},
	{"gauge", []wording.Text{"gauge", "dial"}, "Shows pressure above the air outside."},
	{"gravity", []wording.Text{"gravity"}, "How heavy the liquid is beside water. It falls as sugar goes."},
	{"headspace", []wording.Text{"headspace", "gas space"}, "The room above the beer."},
	{"hydrometer", []wording.Text{"hydrometer"}, "A glass float that reads gravity."},
	{"ibu", []wording.Text{"IBU"}, "A measure of bitterness."},
	{"keg", []wording.Text{"keg"}, "A vessel for serving."},
	{"line", []wording.Text{"line", "tap"}, "The tube and the valve you pour through."},
	{"original-gravity", []wording.Text{"original gravity"}, "The gravity before yeast."},
	{"pitch", []wording.Text{"pitch"}, "Add yeast."},
	{"point", []wording.Text{"point", "points"}, "One thousandth of gravity."},
	{"purge", []wording.Text{"purge"}, "Flush air out with gas."},
	{"rating", []wording.Text{"rating"}, "The most pressure the maker allows. The weakest part counts."},
	{"regulator", []wording.Text{"regulator"}, "Brings the gas of the cylinder down to a set pressure."},
	{"relief-valve", []wording.Text{"relief valve"}, "Lets gas out above its setting."},
	{"safety-valve", []wording.Text{"safety valve"}, "The relief valve fitted by the maker. Pull its ring to let gas out. Never adjust, plug or remove it."},
	{"sanitise", []wording.Text{"sanitise", "sanitiser"}, "Kill what cleaning left."},
	{"spile", []wording.Text{"spile"}, "The peg in a cask that governs its gas."},
	{"standard-drink", []wording.Text{"standard drink", "standard drinks"}, "Your country's measure of alcohol."},
	{"strip-thermometer", []wording.Text{"strip thermometer"}, "A thermometer stuck on the vessel."},
	{"stuck", []wording.Text{"stuck"}, "Stopped too soon."},
	{"tare", []wording.Text{"tare"}, "The empty weight of a cylinder."},
	{"trub", []wording.Text{"trub", "sediment"}, "What settles at the bottom."},
	{"working-valve", []wording.Text{"working valve"}, "The relief valve you set while it ferments. The trade also says spunding valve."},
	{"wort", []wording.Text{"wort"}, "The sweet liquid that yeast turns into beer."},
}

// title is the heading of a term, without the plural of its first word.
func (t term) title(tongue *wording.Tongue) string {
	title := tongue.Word(t.Words[0])
	for _, w := range t.Words[1:] {
		if string(w) != string(t.Words[0])+"s" {
			title += ", " + tongue.Word(w)
		}
	}
	return wording.Capital(title)
}

// everyday are words of the glossary that are too common to be underlined wherever they stand.
var everyday = []wording.Text{"work", "line", "tap", "bar", "psi", "kPa", "stuck", "dial", "spile"}

// tradeWords tells where a word of the trade is explained, and finds the longest that fits, as its first group.
func tradeWords(tongue *wording.Tongue) (anchors map[string]string, find *regexp.Regexp) {
	at := map[string]string{}
	var words []string
	for _, t := range terms {
		for _, w := range t.Words {
			if !slices.Contains(everyday, w) {
				said := tongue.Word(w)
				at[strings.ToLower(said)] = t.ID
				words = append(words, regexp.QuoteMeta(said))
			}
		}
	}
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) })
	const edge = `[^\pL\pM\pN_]` // \b knows no letter with an accent
	return at, regexp.MustCompile(`(?i)(?:^|` + edge + `)(` + strings.Join(words, "|") + `)(?:` + edge + `|$)`)
}

// explained is a term with its heading in the language of a page.
type explained struct {
	term
	Heading string
}

// glossaryIn is the glossary in a language, in the order of its alphabet.
func glossaryIn(tongue *wording.Tongue) (out []explained) {
	for _, t := range terms {
		out = append(out, explained{t, t.title(tongue)})
	}
	order := collate.New(language.Make(tongue.Lang()))
	slices.SortStableFunc(out, func(a, b explained) int { return order.CompareString(a.Heading, b.Heading) })
	return out
}

func (s *Site) glossary(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "glossary", page{Title: "Glossary", Here: "/glossary", Content: s.spokenTo(r).glossary})
}
