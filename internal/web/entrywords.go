package web

import (
	"regexp"
	"strconv"
	"strings"
)

// small are the words for numbers below twenty, and round those for tens.
var (
	small = []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
		"thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"}
	round = []string{"twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"}

	numberWords = numberTable()
	halves      = regexp.MustCompile(`(?i)(\d+) and a half`)
	wordOrRest  = regexp.MustCompile(`[A-Za-z]+|[^A-Za-z]+`)
)

func numberTable() map[string]int {
	t := map[string]int{}
	for i, w := range small {
		t[w] = i
	}
	for i, w := range round {
		t[w] = 20 + 10*i
	}
	return t
}

// digits writes the words for numbers as digits, as phones do not always: "one point zero
// one four" is 1.014, "nineteen and a half" 19.5, "minus two" -2.
func digits(text string) string {
	var out strings.Builder
	parts := wordOrRest.FindAllString(text, -1)
	for i := 0; i < len(parts); i++ {
		number, next := spoken(parts, i)
		if next == i {
			out.WriteString(parts[i])
			continue
		}
		out.WriteString(number)
		i = next - 1
	}
	return halves.ReplaceAllString(out.String(), "$1.5")
}

// spoken reads a number said in words from parts i on; next is i where there is none.
func spoken(parts []string, i int) (number string, next int) {
	word := func(k int) string {
		if k < len(parts) {
			return strings.ToLower(parts[k])
		}
		return ""
	}
	sign := ""
	start := i
	if word(i) == "minus" {
		if i+1 < len(parts) && strings.Trim(parts[i+1], " ") != "" {
			parts[i+1] = strings.TrimLeft(parts[i+1], " ")
			return "-", i + 1 // minus before digits
		}
		sign, i = "-", i+2
	}
	v, is := numberWords[word(i)]
	if !is {
		return "", start
	}
	i++
	if one, more := numberWords[word(i+1)]; v >= 20 && more && one > 0 && one < 10 && strings.Trim(word(i), " -") == "" {
		v, i = v+one, i+2
	}
	number = sign + strconv.Itoa(v)
	if strings.TrimSpace(word(i)) != "" || word(i+1) != "point" {
		return number, i
	}
	return decimals(number, word, i+2)
}

// decimals reads the digits said after "point".
func decimals(number string, word func(int) string, i int) (string, int) {
	number += "."
	for ; strings.TrimSpace(word(i)) == "" && i < 200; i += 2 {
		w := word(i + 1)
		v, is := numberWords[w]
		if w == "oh" || w == "o" {
			v, is = 0, true
		}
		if !is {
			break
		}
		number += strconv.Itoa(v)
	}
	return number, i
}
