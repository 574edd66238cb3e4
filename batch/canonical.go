package batch

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// deepest is how many objects and lists may stand inside one another.
const deepest = 32

// Canonical is the one form of a JSON text in which it is kept and summed: RFC 8785,
// keys sorted by UTF-16 code units, no blanks, numbers as the shortest text that reads
// back to the same double. A key that stands twice, a number outside the doubles, text
// that is not UTF-8 and more than 32 levels are errors.
func Canonical(text []byte) ([]byte, error) {
	v, err := decode(text)
	if err != nil {
		return nil, err
	}
	return appendValue(make([]byte, 0, len(text)), v), nil
}

// decode reads JSON into map[string]any, []any, string, float64, bool and nil.
func decode(text []byte) (any, error) {
	if !utf8.Valid(text) {
		return nil, errors.New("bytes that are not UTF-8 text")
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	v, err := value(d, 0)
	if err != nil {
		return nil, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("more than one JSON value")
	}
	return v, nil
}

func value(d *json.Decoder, depth int) (any, error) {
	token, err := d.Token()
	if err != nil {
		return nil, err
	}
	switch t := token.(type) {
	case json.Delim:
		if depth == deepest {
			return nil, fmt.Errorf("more than %d levels", deepest)
		}
		if t == '[' {
			return elements(d, depth+1)
		}
		return members(d, depth+1)
	case json.Number:
		f, err := strconv.ParseFloat(string(t), 64)
		if err != nil || math.IsInf(f, 0) {
			return nil, fmt.Errorf("number %.40s, which no double holds", t)
		}
		return f, nil
	}
	return token, nil
}

func elements(d *json.Decoder, depth int) (any, error) {
	out := []any{}
	for d.More() {
		v, err := value(d, depth)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	_, err := d.Token()
	return out, err
}

func members(d *json.Decoder, depth int) (any, error) {
	out := map[string]any{}
	for d.More() {
		token, err := d.Token()
		if err != nil {
			return nil, err
		}
		key := token.(string) // the decoder lets nothing else stand here
		if _, twice := out[key]; twice {
			return nil, fmt.Errorf("key %.40q twice", key)
		}
		if out[key], err = value(d, depth); err != nil {
			return nil, err
		}
	}
	_, err := d.Token()
	return out, err
}

func appendValue(out []byte, v any) []byte {
	switch v := v.(type) {
	case map[string]any:
		return appendObject(out, v)
	case []any:
		out = append(out, '[')
		for i, e := range v {
			if i > 0 {
				out = append(out, ',')
			}
			out = appendValue(out, e)
		}
		return append(out, ']')
	case string:
		return appendString(out, v)
	case float64:
		return appendNumber(out, v)
	case bool:
		return strconv.AppendBool(out, v)
	}
	return append(out, "null"...)
}

func appendObject(out []byte, object map[string]any) []byte {
	keys := make([]string, 0, len(object))
	for k := range object {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, compareUTF16)
	out = append(out, '{')
	for i, k := range keys {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(appendString(out, k), ':')
		out = appendValue(out, object[k])
	}
	return append(out, '}')
}

// compareUTF16 orders as RFC 8785 asks. It differs from the order of bytes only where
// a letter beyond the first 65,536 meets one from U+E000 up.
func compareUTF16(a, b string) int {
	return slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
}

// appendNumber writes f as ECMAScript does: plain digits from 1e-6 up to 1e21, else with an exponent.
func appendNumber(out []byte, f float64) []byte {
	if f == 0 {
		return append(out, '0')
	}
	if a := math.Abs(f); a >= 1e-6 && a < 1e21 {
		return strconv.AppendFloat(out, f, 'f', -1, 64)
	}
	out = strconv.AppendFloat(out, f, 'e', -1, 64)
	if n := len(out); out[n-2] == '0' && (out[n-3] == '-' || out[n-3] == '+') { // e-07 is e-7
		out = append(out[:n-2], out[n-1])
	}
	return out
}

// short are the control letters with an escape of two letters.
var short = map[rune]string{'\b': `\b`, '\t': `\t`, '\n': `\n`, '\f': `\f`, '\r': `\r`, '"': `\"`, '\\': `\\`}

func appendString(out []byte, s string) []byte {
	out = append(out, '"')
	for _, r := range s {
		switch {
		case short[r] != "":
			out = append(out, short[r]...)
		case r < ' ':
			out = fmt.Appendf(out, `\u%04x`, r)
		default:
			out = utf8.AppendRune(out, r)
		}
	}
	return append(out, '"')
}

// merged is target changed by patch as RFC 7386 defines: objects are merged key by
// key, null takes a key away, anything else replaces what was there.
func merged(target, patch any) any {
	changes, ok := patch.(map[string]any)
	if !ok {
		return patch
	}
	out := map[string]any{}
	if old, ok := target.(map[string]any); ok {
		for k, v := range old {
			out[k] = v
		}
	}
	for k, v := range changes {
		if v == nil {
			delete(out, k)
		} else {
			out[k] = merged(out[k], v)
		}
	}
	return out
}
