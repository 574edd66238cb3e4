package catalogue

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"

	"golang.org/x/text/language"

	"spile/wording"
)

// What of a template is a text, and what of it stays as it is.
func TestPage(t *testing.T) {
	for _, c := range []struct{ source, want string }{
		{"<p>Leave it.</p>\n", "<p>LEAVE IT.</p>\n"},
		{`<a href="/x">I read</a> <a href="/y">I did</a>`, `<a href="/x">I READ</a> <a href="/y">I DID</a>`},
		{`<p>Look <a href="/{{.ID}}">here &amp; there</a>, {{nb .Name}}.</p>`, `<p>LOOK <a href="/{{.ID}}">HERE &amp; THERE</a>, {{nb .Name}}.</p>`},
		{`{{if .Of}}Of {{.}}. {{end}}Made {{.Since}}.`, `{{if .Of}}OF {{.}}. {{end}}MADE {{.Since}}.`},
		{`<b aria-label="{{.Name}}: all" class="big">{{.Name}}</b>`, `<b aria-label="{{.Name}}: ALL" class="big">{{.Name}}</b>`},
		{"<p>Run <code>spile serve</code> now.</p>", "<p>RUN <code>spile serve</code> NOW.</p>"},
		{`{{/* of nobody */}}<td{{if .Bad}} class="amiss"{{end}}>{{.A}}: {{.B}}</td><!-- note -->`, `{{/* of nobody */}}<td{{if .Bad}} class="amiss"{{end}}>{{.A}}: {{.B}}</td><!-- note -->`},
		{`<p>{{.Low}} to {{.High}}, {{.Low}}</p>`, `<p>{{.Low}} TO {{.High}}, {{.Low}}</p>`},
		{`<li><a href="/">{{.Name}}{{with .Batch}}, batch {{.}}{{end}}</a> Empty</li>`, `<li><a href="/">{{.Name}}{{with .Batch}}, BATCH {{.}}{{end}}</a> EMPTY</li>`},
	} {
		if got := Page(c.source, upper); got != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.source, got, c.want)
		}
	}
}

// upper is a translation: capitals outside the slots.
func upper(english wording.Text) string {
	out := ""
	for i, part := range strings.Split(string(english), "{") {
		if slot, rest, found := strings.Cut(part, "}"); i > 0 && found {
			out += "{" + slot + "}" + strings.ToUpper(rest)
		} else {
			out += strings.ToUpper(part)
		}
	}
	return out
}

// A translation can neither bring tags nor actions of its own onto a page.
func TestTranslationsBringWordsAlone(t *testing.T) {
	got := Page("<p>Cold</p>", func(wording.Text) string { return `<script>"{{.Secret}}"</script>` })
	if strings.Contains(got, "<script") || strings.Contains(got, "{{") {
		t.Error(got)
	}
}

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	want := []Entry{
		{English: "Say \"no\"\n\\ twice", Said: []string{"x\ty"}, Where: []string{"a.go", "b.html"}, Note: "A caution."},
		{English: "%d day", Plural: "%d days", Said: []string{"%d dzień", "%d dni", "%d dni"}},
	}
	var file bytes.Buffer
	if err := Write(&file, "Language: pl\nX: y: z\n", want); err != nil {
		t.Fatal(err)
	}
	header, got, err := Read(&file)
	if err != nil || !reflect.DeepEqual(got, want) || header["Language"] != "pl" || header["X"] != "y: z" {
		t.Errorf("%v\n got %#v\nwant %#v\n%v", err, got, want, header)
	}
}

const polish = `# as a translator writes it
msgid ""
msgstr ""
"Language: pl\n"
"X-Language-Name: polski\n"

msgid "Cold"
msgstr "Zim"
"ne"

#, fuzzy
msgid "Never open it."
msgstr "Otwórz."
msgid "%d day"
msgid_plural "%d days"
msgstr[0] "%d dzień"
msgstr[1] "%d dni"
msgstr[2] "%d dnia"
#~ msgid "gone"
#~ msgstr "nie ma"
`

func TestReadAll(t *testing.T) {
	tongues, err := ReadAll(fstest.MapFS{"pl.po": {Data: []byte(polish)}, "texts.pot": {Data: []byte("not read")}})
	if err != nil || len(tongues) != 1 {
		t.Fatal(tongues, err)
	}
	pl := tongues[0]
	if pl.Name != "polski" || pl.Lang() != "pl" || pl.Word("Cold") != "Zimne" {
		t.Error(pl.Name, pl.Lang(), pl.Word("Cold"))
	}
	if got := pl.Word("Never open it."); got != "Never open it." {
		t.Errorf("a guess is said: %q", got)
	}
	for n, want := range map[int]string{1: "1 dzień", 3: "3 dni", 5: "5 dnia", 22: "22 dni"} {
		if got := pl.Many(n, "%d day", "%d days", n); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// A mark for one text is never that of its neighbour, however the file is spaced: a caution that a program
// guessed is not said.
func TestGuessIsThatOfItsText(t *testing.T) {
	for how, file := range map[string]string{
		"no empty line":    "msgid \"Cold\"\nmsgstr \"Kalt\"\n#: b.go\n#, fuzzy\nmsgid \"Never open it.\"\nmsgstr \"x\"\n",
		"an empty line":    "msgid \"Cold\"\nmsgstr \"Kalt\"\n\n#: b.go\n#, fuzzy\n\nmsgid \"Never open it.\"\nmsgstr \"x\"\n",
		"of what is gone":  "#, fuzzy\n#~ msgid \"gone\"\n#~ msgstr \"weg\"\n\nmsgid \"Cold\"\nmsgstr \"Kalt\"\n#, fuzzy\nmsgid \"Never open it.\"\nmsgstr \"x\"\n",
		"what is gone, on": "#, fuzzy\nmsgid \"Never open it.\"\nmsgstr \"x\"\n#~ msgid \"gone\"\n#~ msgstr \"weg\"\nmsgid \"Cold\"\nmsgstr \"Kalt\"\n",
	} {
		_, entries, err := Read(strings.NewReader(file))
		if err != nil || len(entries) != 2 {
			t.Fatalf("%s: %+v, %v", how, entries, err)
		}
		for _, e := range entries {
			if want := e.English != "Cold"; e.Guessed != want {
				t.Errorf("%s: %q is a guess: %v, want %v", how, e.English, e.Guessed, want)
			}
		}
	}
}

func TestReadAllRefuses(t *testing.T) {
	head := "msgid \"\"\nmsgstr \"X-Language-Name: x\\n\"\n\n"
	for name, c := range map[string]struct{ file, text, want string }{
		"a name":   {"x y.po", head, "x y.po: read \"x y\" as the name of a language"},
		"a header": {"de.po", "", "de.po: read no X-Language-Name"},
		"a line":   {"de.po", head + "mgsid \"x\"\n", "de.po: line 4: read \"mgsid"},
		"a quote":  {"de.po", head + "msgid \"x\n", "line 4: read \"x; accepted is a text in double quotes"},
		"a slot":   {"de.po", head + "msgid \"{p} is over\"\nmsgstr \"zu viel\"\n", "its slots are , those of the text are {p}"},
		"a form":   {"pl.po", head + "msgid \"%d day\"\nmsgid_plural \"%d days\"\nmsgstr[0] \"%d dzień\"\n", "has 1 forms; pl has 3"},
	} {
		if _, err := ReadAll(fstest.MapFS{c.file: {Data: []byte(c.text)}}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}

// The number of forms and the form of a number, as the manual of GNU gettext lists them for its families
// of languages (section "Additional functions for plural forms").
func TestPluralsAreThoseOfGettext(t *testing.T) {
	one := func(n int) int { return map[bool]int{true: 0, false: 1}[n == 1] }
	for tag, want := range map[string]struct {
		forms int
		form  func(n int) int
	}{
		"ja": {1, func(int) int { return 0 }},
		"de": {2, one},
		"nl": {2, one},
		"fr": {2, func(n int) int { return map[bool]int{true: 1, false: 0}[n > 1] }},
		"ru": {3, func(n int) int {
			switch {
			case n%10 == 1 && n%100 != 11:
				return 0
			case n%10 >= 2 && n%10 <= 4 && (n%100 < 10 || n%100 >= 20):
				return 1
			}
			return 2
		}},
		"cs": {3, func(n int) int {
			switch {
			case n == 1:
				return 0
			case n >= 2 && n <= 4:
				return 1
			}
			return 2
		}},
		"sl": {4, func(n int) int {
			switch n % 100 {
			case 1:
				return 0
			case 2:
				return 1
			case 3, 4:
				return 2
			}
			return 3
		}},
	} {
		forms, form := pluralOf(language.MustParse(tag))
		if forms != want.forms {
			t.Errorf("%s: %d forms, want %d", tag, forms, want.forms)
		}
		for n := range 250 {
			if form(n) != want.form(n) {
				t.Errorf("%s: %d takes form %d, want %d", tag, n, form(n), want.form(n))
			}
		}
	}
}
