package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"spile/batch"
	"spile/internal/monitor"
	"spile/unit"
)

// pastBatch is a batch that has ended, in a list.
type pastBatch struct {
	ID     batch.ID
	Name   string
	Vessel string // empty: none of the cellar
	Dates  string
	Held   []string // how good its forecasts were, where that is told
}

// Path is its page.
func (b *pastBatch) Path() string { return "/vessels/" + b.ID.String() }

// Card is the address of its batch card, without the paper.
func (b *pastBatch) Card() string { return batchCardOf(b.ID) }

// batchesAPage of those that have ended.
const batchesAPage = 100

// pastBatches is a page of the batches that have ended, the latest first.
type pastBatches struct {
	Rows         []pastBatch
	Newer, Older string // addresses, empty where there are none
}

// past lists the batches that have ended: of one vessel, or all (zero id).
func (s *Site) past(r *http.Request, vessel batch.ID, style unit.Style) (*pastBatches, error) {
	all, err := s.watch.Batches(r.Context())
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(b monitor.Brief) bool { return b.Ended.IsZero() || !vessel.IsZero() && b.Vessel != vessel })
	slices.SortStableFunc(all, func(a, b monitor.Brief) int { return b.Ended.Compare(a.Ended) })
	things, err := s.watch.Things(r.Context())
	if err != nil {
		return nil, err
	}
	names := map[batch.ID]string{}
	for _, v := range things.Vessels {
		names[v.ID] = v.Name
	}
	out, zone := &pastBatches{}, s.zone(style)
	var from, to int
	from, to, out.Newer, out.Older = stretch(r, len(all), batchesAPage, "#ended")
	for _, b := range all[from:to] {
		out.Rows = append(out.Rows, pastBatch{ID: b.ID, Name: b.Name, Vessel: names[b.Vessel],
			Dates: style.Say("%s to %s", dayWords(b.Pitched.In(zone), style), dayWords(b.Ended.In(zone), style))})
	}
	return out, nil
}

// judge says of each batch of a list how good its forecasts were.
func (l *pastBatches) judge(ctx context.Context, w *monitor.Watch, style unit.Style) error {
	records, err := w.TrackRecordsByBatch(ctx)
	if err != nil {
		return err
	}
	for i := range l.Rows {
		b := &l.Rows[i]
		for _, r := range records[b.ID] {
			if r.Judged > 0 {
				b.Held = append(b.Held, scoreOf(&r, style).Says)
			}
		}
	}
	return nil
}

// stretch is the part of n lines that a page shows, which begins where its address says, and the addresses of the parts
// on both sides, empty where there is none. Each part has so many lines.
func stretch(r *http.Request, n, each int, anchor string) (from, to int, newer, older string) {
	from, err := strconv.Atoi(r.URL.Query().Get("from"))
	if err != nil || from < 0 || from >= n {
		from = 0
	}
	at := func(line int) string { return fmt.Sprintf("%s?from=%d%s", r.URL.Path, line, anchor) }
	if to = min(from+each, n); to < n {
		older = at(to)
	}
	if from > 0 {
		newer = at(max(0, from-each))
	}
	return from, to, newer, older
}
