// Package catalogue holds all that the program says as one catalogue, from which it is translated.
//
// texts.pot beside this file lists every text. A translation is a file LANG.po beside it, made from
// texts.pot with any program for such files (GNU gettext); nothing else is needed for a language.
package catalogue

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"

	"spile/wording"
)

// nameHeader is the line of a header that tells what the language calls itself.
const nameHeader = "X-Language-Name"

//go:embed *.po*
var files embed.FS

// Tongues are the languages that the program was built with, beside English.
func Tongues() ([]*wording.Tongue, error) { return ReadAll(files) }

// All is every text that the program says, as texts.pot lists them.
func All() ([]Entry, error) {
	f, err := files.Open("texts.pot")
	if err != nil {
		return nil, err
	}
	_, entries, err := Read(f)
	return entries, errors.Join(err, f.Close())
}

// ReadAll reads the languages of the files LANG.po in a folder, by their codes. What is not there or
// guessed by a program is said in English; what has other slots than its text is an error.
func ReadAll(folder fs.FS) ([]*wording.Tongue, error) {
	paths, err := fs.Glob(folder, "*.po")
	if err != nil {
		return nil, err
	}
	var tongues []*wording.Tongue
	for _, p := range paths {
		t, err := readOne(folder, p)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p, err)
		}
		tongues = append(tongues, t)
	}
	return tongues, nil
}

func readOne(folder fs.FS, file string) (*wording.Tongue, error) {
	code := strings.TrimSuffix(path.Base(file), ".po")
	tag, err := language.Parse(code)
	if err != nil {
		return nil, fmt.Errorf("read %q as the name of a language; accepted is one as de or pt-BR", code)
	}
	f, err := folder.Open(file)
	if err != nil {
		return nil, err
	}
	header, entries, err := Read(f)
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	if header[nameHeader] == "" {
		return nil, fmt.Errorf("read no %s in the header; accepted is the language's own name, as %s: Deutsch", nameHeader, nameHeader)
	}
	forms, form := pluralOf(tag)
	texts := map[wording.Text][]string{}
	for _, e := range entries {
		if e.Guessed || strings.Join(e.Said, "") == "" {
			continue
		}
		if e.Plural != "" && len(e.Said) != forms {
			return nil, fmt.Errorf("%q has %d forms; %s has %d", e.English, len(e.Said), code, forms)
		}
		for _, said := range e.Said {
			if misfit := wording.Misfit(e.English, said); misfit != "" {
				return nil, fmt.Errorf("%q: %s", e.English, misfit)
			}
		}
		texts[e.English] = e.Said
	}
	return wording.New(tag.String(), header[nameHeader], texts, form), nil
}

// pluralOf gives how many forms a language has for whole numbers, and which of them a number takes, by
// the rules of the Unicode CLDR in their order: zero, one, two, few, many, other.
func pluralOf(tag language.Tag) (forms int, form func(n int) int) {
	of := func(n int) plural.Form { return plural.Cardinal.MatchPlural(tag, n, 0, 0, 0, 0) }
	used := map[plural.Form]bool{}
	for n := range 1000 {
		used[of(n)] = true
	}
	var order []plural.Form
	for _, f := range []plural.Form{plural.Zero, plural.One, plural.Two, plural.Few, plural.Many, plural.Other} {
		if used[f] {
			order = append(order, f)
		}
	}
	return len(order), func(n int) int {
		if i := slices.Index(order, of(n)); i >= 0 {
			return i
		}
		return len(order) - 1
	}
}
