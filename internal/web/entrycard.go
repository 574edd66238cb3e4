package web

import (
	"context"
	"regexp"
	"strings"

	"spile/internal/report"
	"spile/unit"
	"spile/wording"
)

// What was written on a door card is typed back with its number, so that it gets to the beer it was read at: "card 123-456,
// 12 psi".

// offCard takes the number of a card from the line, and says in its place where that is of another beer.
func (f *lookForm) offCard() (line string, err error) {
	line, number := parted(f.Style.Tongue, f.Line.Typed)
	if number != "" && number != report.CardNumber(f.Vessel.Seen.ID.String()) {
		f.Line.Error, err = f.card(number)
	}
	return line, err
}

// parted is a line without the number of a card that stands at its beginning or end, and that number, empty where there is none.
func parted(t *wording.Tongue, line string) (rest, number string) {
	card := `\b(?:card|` + regexp.QuoteMeta(t.Word("card")) + `)\s+(\d{3})[\s-]?(\d{3})`
	for _, end := range []string{`(?i)^\s*` + card + `\b[\s,;:.]*`, `(?i)[\s,;:.]*` + card + `[\s.]*$`} {
		of := regexp.MustCompile(end)
		if m := of.FindStringSubmatch(line); m != nil {
			return strings.TrimSpace(of.ReplaceAllString(line, "")), m[1] + "-" + m[2]
		}
	}
	return line, ""
}

// cardOf says which beer a card is of, where it is not the one that was asked for.
func (s *Site) cardOf(ctx context.Context, number string, style unit.Style) (string, error) {
	round, err := s.watch.Round(ctx)
	if err != nil {
		return "", err
	}
	for _, in := range round {
		if in.Seen != nil && report.CardNumber(in.Seen.ID.String()) == number {
			return style.Say("Card %s is of %s. Type it in there, or leave the number out.", number, in.Name()), nil
		}
	}
	past, err := s.watch.Batches(ctx)
	if err != nil {
		return "", err
	}
	for _, b := range past {
		if report.CardNumber(b.ID.String()) == number {
			return style.Say("Card %s is of %s, which has ended. Leave the number out if you read this one.", number, b.Name), nil
		}
	}
	return style.Say("No card here has the number %s. Look once more, or leave the number out.", number), nil
}
