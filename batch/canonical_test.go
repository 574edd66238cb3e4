package batch

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Published: RFC 8785 (2020), appendix B, table 1: the double by its bits, and its text.
func TestNumbersOfRFC8785(t *testing.T) {
	for bits, want := range map[uint64]string{
		0x0000000000000000: "0", 0x8000000000000000: "0", 0x0000000000000001: "5e-324", 0x8000000000000001: "-5e-324",
		0x7fefffffffffffff: "1.7976931348623157e+308", 0xffefffffffffffff: "-1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992", 0xc340000000000000: "-9007199254740992", 0x4430000000000000: "295147905179352830000",
		0x44b52d02c7e14af5: "9.999999999999997e+22", 0x44b52d02c7e14af6: "1e+23", 0x44b52d02c7e14af7: "1.0000000000000001e+23",
		0x444b1ae4d6e2ef4e: "999999999999999700000", 0x444b1ae4d6e2ef4f: "999999999999999900000", 0x444b1ae4d6e2ef50: "1e+21",
		0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7", 0x3eb0c6f7a0b5ed8d: "0.000001",
		0x41b3de4355555553: "333333333.3333332", 0x41b3de4355555554: "333333333.33333325", 0x41b3de4355555555: "333333333.3333333",
		0x41b3de4355555556: "333333333.3333334", 0x41b3de4355555557: "333333333.33333343",
		0xbecbf647612f3696: "-0.0000033333333333333333", 0x43143ff3c1cb0959: "1424953923781206.2",
	} {
		if got := string(appendNumber(nil, math.Float64frombits(bits))); got != want {
			t.Errorf("%016x: expected %s, got %s, tolerance none", bits, want, got)
		}
	}
}

func TestCanonical(t *testing.T) {
	for _, c := range []struct{ source, in, want string }{
		{"RFC 8785, 3.2.2 and 3.2.3",
			"{\"numbers\": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],\n" + `"string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`,
			`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`},
		{"RFC 8785, 3.2.3, the order of keys",
			`{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`,
			`{"\r":"Carriage Return","1":"One","` + "\u0080" + `":"Control","ö":"Latin Small Letter O With Diaeresis","€":"Euro Sign","😀":"Emoji: Grinning Face","` + "\ufb33" + `":"Hebrew Letter Dalet With Dagesh"}`},
		{"ours: nothing", `{}`, `{}`},
		{"ours: twice", `{"a":1,"a":2}`, ""},
		{"ours: too large", `[1e999]`, ""},
		{"ours: two values", `{} {}`, ""},
		{"ours: not UTF-8", "\"\xff\"", ""},
		{"ours: not ended", `{"a":[1`, ""},
	} {
		got, err := Canonical([]byte(c.in))
		if string(got) != c.want || (err == nil) != (c.want != "") {
			t.Errorf("%s: expected %s, got %s, %v", c.source, c.want, got, err)
		}
	}
}

func TestCanonicalIsItsOwn(t *testing.T) {
	var anyValue func(t *rapid.T, depth int) any
	anyValue = func(t *rapid.T, depth int) any {
		switch rapid.IntRange(0, 5).Draw(t, "what") {
		case 0:
			return rapid.String().Draw(t, "text")
		case 1, 2:
			return rapid.Float64().Draw(t, "number")
		case 3:
			return rapid.Bool().Draw(t, "bool")
		case 4:
			if depth == 0 {
				return nil
			}
			return []any{anyValue(t, depth-1), anyValue(t, depth-1)}
		}
		out := map[string]any{}
		for range rapid.IntRange(0, 3*min(depth, 1)).Draw(t, "keys") {
			out[rapid.String().Draw(t, "key")] = anyValue(t, depth-1)
		}
		return out
	}
	rapid.Check(t, func(t *rapid.T) {
		form := appendValue(nil, anyValue(t, 3))
		again, err := Canonical(form)
		if err != nil || string(again) != string(form) {
			t.Fatalf("expected %s again, got %s, %v", form, again, err)
		}
	})
}

// Published: RFC 7386 (2014), appendix A: original, patch, result.
func TestMergeOfRFC7386(t *testing.T) {
	for _, c := range [][3]string{
		{`{"a":"b"}`, `{"a":"c"}`, `{"a":"c"}`},
		{`{"a":"b"}`, `{"b":"c"}`, `{"a":"b","b":"c"}`},
		{`{"a":"b"}`, `{"a":null}`, `{}`},
		{`{"a":"b","b":"c"}`, `{"a":null}`, `{"b":"c"}`},
		{`{"a":["b"]}`, `{"a":"c"}`, `{"a":"c"}`},
		{`{"a":"c"}`, `{"a":["b"]}`, `{"a":["b"]}`},
		{`{"a":{"b":"c"}}`, `{"a":{"b":"d","c":null}}`, `{"a":{"b":"d"}}`},
		{`{"a":[{"b":"c"}]}`, `{"a":[1]}`, `{"a":[1]}`},
		{`["a","b"]`, `["c","d"]`, `["c","d"]`},
		{`{"a":"b"}`, `["c"]`, `["c"]`},
		{`{"a":"foo"}`, `null`, `null`},
		{`{"a":"foo"}`, `"bar"`, `"bar"`},
		{`{"e":null}`, `{"a":1}`, `{"a":1,"e":null}`},
		{`[1,2]`, `{"a":"b","c":null}`, `{"a":"b"}`},
		{`{}`, `{"a":{"bb":{"ccc":null}}}`, `{"a":{"bb":{}}}`},
	} {
		target, err1 := decode([]byte(c[0]))
		patch, err2 := decode([]byte(c[1]))
		if got := string(appendValue(nil, merged(target, patch))); got != c[2] || err1 != nil || err2 != nil {
			t.Errorf("%s with %s: expected %s, got %s, %v, %v", c[0], c[1], c[2], got, err1, err2)
		}
	}
}

// Published: RFC 9562 (2024), appendix A.6: a UUID of version 7 and its time.
func TestIDOfRFC9562(t *testing.T) {
	const published = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
	at := time.Date(2022, 2, 22, 14, 22, 22, 0, time.FixedZone("", -5*3600))
	id := NewID(at, [10]byte{0xc, 0xc3, 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f})
	if id.String() != published || !id.Time().Equal(at) {
		t.Errorf("expected %s of %s, got %s of %s", published, at, id, id.Time())
	}
	if back, err := ParseID("017F22E2-79B0-7CC3-98C4-DC0C0C07398F"); back != id || err != nil {
		t.Errorf("expected %s, got %s, %v", id, back, err)
	}
	for _, bad := range []string{"", published[1:], published + "0", "919108f7-52d1-4320-9bac-f847db4148a8", "017f22e2x79b0-7cc3-98c4-dc0c0c07398f", "z17f22e2-79b0-7cc3-98c4-dc0c0c07398f"} {
		if _, err := ParseID(bad); err == nil {
			t.Errorf("%q was read; expected a refusal", bad)
		}
	}
	if got := fmt.Sprint(ID{}); got != "00000000-0000-0000-0000-000000000000" {
		t.Errorf("no id: got %s", got)
	}
}
