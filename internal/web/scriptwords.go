package web

import "spile/wording"

// scriptWords are what script/words.ts says, by the names that it has there. They go with every page, in its language.
var scriptWords = map[string]wording.Text{
	"renewed":  "Brought up to date: {names}.",
	"away":     "No word from Spile since {since}. What stands here may be old.",
	"back":     "Spile answers again.",
	"expected": "expected",
	"less":     "Less: {what}",
	"more":     "More: {what}",
	"kept":     "Kept on this phone. Not sent yet.",
	"full":     "This phone keeps nothing more. Write it on paper, and try again later.",
	"sent":     "Sent.",
	"refused":  "Spile did not take this:",
	"tryAgain": "Send it again",
	"discard":  "Throw it away",
	"looked":   "Time looked at, on all strips. The arrow keys move it.",
	"between":  "between {low} and {high}",
	"read":     "read {value}",
	"readMany": "{n} readings, {low} to {high}",
	"now":      "now",
	"plan":     "plan",
}

// scriptWords in the language of v.
func (v *speaker) scriptWords() map[string]string {
	said := map[string]string{}
	for name, text := range scriptWords {
		said[name] = v.tongue.Word(text)
	}
	return said
}
