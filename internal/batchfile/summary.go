package batchfile

import (
	"fmt"
	"math"
	"strings"
	"time"

	"spile/batch"
)

// Summary says what a log holds, a line each: from when to when, how many of each
// quantity and between which values, what was done how often. It shows a wrong unit or
// a wrong year before anything is kept.
func Summary(log batch.Log) []string {
	var out []string
	if first, last := Span(log); !first.IsZero() {
		out = append(out, fmt.Sprintf("from %s to %s", first.Format(time.RFC3339), last.Format(time.RFC3339)))
	}
	for q := range batch.Quantities {
		n, low, high := 0, math.Inf(1), math.Inf(-1)
		for _, r := range log.Readings {
			if r.Quantity == q {
				n, low, high = n+1, min(low, r.Value), max(high, r.Value)
			}
		}
		if n > 0 {
			text := func(v float64) string { return readingText(batch.Reading{Quantity: q, Value: v}) }
			out = append(out, fmt.Sprintf("%s: %d, %s to %s", encodedColumns[q], n, text(low), text(high)))
		}
	}
	return append(out, acts(log.Events)...)
}

// Span is from when to when a log goes, zero where nothing is in it.
func Span(log batch.Log) (first, last time.Time) {
	see := func(at time.Time) {
		if first.IsZero() || at.Before(first) {
			first = at
		}
		if at.After(last) {
			last = at
		}
	}
	for _, r := range log.Readings {
		see(r.Time)
	}
	for _, e := range log.Events {
		see(e.Time)
	}
	return first, last
}

// acts counts what was done, by the words it begins with, in the order of eventForms.
func acts(events []batch.Event) []string {
	count := map[string]int{}
	for _, e := range events {
		for _, f := range eventForms {
			if _, found := cutWord(EventText(e), f.begins); found {
				count[f.begins]++
				break
			}
		}
	}
	var out []string
	for _, f := range eventForms {
		if n := count[f.begins]; n > 0 {
			out = append(out, strings.TrimSpace(fmt.Sprintf("%s: %d", f.begins, n)))
		}
	}
	return out
}
