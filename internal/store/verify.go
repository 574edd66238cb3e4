package store

import (
	"bytes"
	"context"
	"fmt"

	"spile/batch"
)

// Finding is something in the cellar that is not as it was kept.
type Finding struct {
	Batch    batch.ID
	Entry    batch.ID // zero where it is not one entry
	Position int64    // in the log of the batch; 0 where it is not one entry
	Sentence string
}

func (f Finding) String() string {
	at := "log " + name(f.Batch)
	if f.Position > 0 {
		at += fmt.Sprintf(", number %d", f.Position)
	}
	if !f.Entry.IsZero() {
		at += " (" + f.Entry.String() + ")"
	}
	return at + ": " + f.Sentence
}

func name(id batch.ID) string {
	if id.IsZero() {
		return "of the cellar"
	}
	return id.String()
}

// chain follows the checksums of one log. After a damaged entry it does not know
// whether its form or its checksum was damaged, and accepts either in the next one.
type chain struct {
	batch    batch.ID
	position int64
	sums     []batch.Sum // what the next may be chained to; none before the first row
	spare    []batch.Sum // room for the next
}

// start begins after a row.
func (c *chain) start(r row) {
	c.position, c.sums = r.position, []batch.Sum{sumOf(r.sum)}
}

// sumOf is a checksum as it stands in a row, which may be too short.
func sumOf(raw []byte) (sum batch.Sum) {
	copy(sum[:], raw)
	return sum
}

// next checks a row against those before it.
func (c *chain) next(r row) (Stored, *Finding) {
	if c.sums == nil {
		c.sums = []batch.Sum{batch.FirstSum()}
	}
	sentence := ""
	if r.position != c.position+1 {
		sentence = fmt.Sprintf("the lines from number %d to here are missing", c.position+1)
	}
	kept := sumOf(r.sum)
	fits, computed := false, append(c.spare[:0], kept)
	for _, before := range c.sums {
		sum := before.Next(r.form)
		fits = fits || sum == kept && len(r.sum) == len(kept)
		computed = append(computed, sum)
	}
	c.position, c.sums, c.spare = r.position, computed, c.sums
	if fits {
		c.sums = computed[:1]
	} else if sentence == "" {
		sentence = "the checksum does not fit: the line was changed"
	}
	e := Stored{Position: r.position, Form: r.form, Sum: kept}
	var err error
	if e.Entry, err = batch.ReadForm(r.form); err != nil && sentence == "" {
		sentence = "it cannot be read: " + err.Error()
	}
	if fits && (e.Batch != c.batch || !bytes.Equal(e.ID[:], r.id) || e.At.UnixNano() != r.time) {
		sentence = "the columns beside it were changed"
	}
	if sentence == "" {
		return e, nil
	}
	f := &Finding{Batch: c.batch, Entry: e.ID, Position: r.position, Sentence: sentence}
	if !fits { // the form may name anything
		copy(f.Entry[:], r.id)
	}
	return e, f
}

// Report is what Verify saw.
type Report struct {
	Logs, Entries int
	Findings      []Finding
}

// Verify reads everything: SQLite's own check of its pages, then every entry against
// its checksum, then the end of every log. An error means that it could not be read to the end.
func (s *Store) Verify(ctx context.Context) (Report, error) {
	var r Report
	if err := s.pages(ctx, &r); err != nil {
		return r, s.fault(err)
	}
	heads, err := s.Heads(ctx)
	if err != nil {
		return r, err
	}
	total := 0
	for _, h := range heads {
		n, err := s.verifyLog(ctx, h, &r)
		if err != nil {
			r.Findings = append(r.Findings, Finding{Batch: h.Batch, Sentence: fmt.Sprintf("it cannot be read after number %d: %v", n, err)})
		}
		total += n
	}
	r.Logs, r.Entries = len(heads), total
	return r, s.fault(s.strays(ctx, &r))
}

// strays finds rows that belong to no log, or to no cellar of this file.
func (s *Store) strays(ctx context.Context, r *Report) error {
	for _, c := range []struct{ count, says string }{
		{`SELECT count(*) FROM entry e WHERE NOT EXISTS (SELECT 1 FROM batch b WHERE b.cellar = e.cellar AND b.id = e.batch)`, "%d lines stand in no log"},
		{`SELECT count(*) FROM batch b WHERE NOT EXISTS (SELECT 1 FROM cellar c WHERE c.id = b.cellar)`, "%d logs stand in no cellar"},
		{`SELECT abs(count(*) - 1) FROM cellar`, "there is not one cellar in the file, but one more or less (%d)"},
	} {
		var n int
		if err := s.read.QueryRowContext(ctx, c.count).Scan(&n); err != nil {
			return err
		}
		if n > 0 {
			r.Findings = append(r.Findings, Finding{Sentence: fmt.Sprintf(c.says, n)})
		}
	}
	return nil
}

// pages asks SQLite for what it finds. It knows its pages, not what stands in them.
func (s *Store) pages(ctx context.Context, r *Report) error {
	return s.rows(ctx, `PRAGMA integrity_check(20)`, nil, func(scan func(...any) error) error {
		var text string
		if err := scan(&text); err != nil {
			return err
		}
		if text != "ok" {
			r.Findings = append(r.Findings, Finding{Sentence: "pages of the file: " + text})
		}
		return nil
	})
}

// verifyLog checks one log, and that it ends where it should.
func (s *Store) verifyLog(ctx context.Context, h Head, r *Report) (n int, err error) {
	var last batch.Sum
	damaged, err := s.walk(ctx, h.Batch, 0, func(e Stored) error {
		if e.Position <= h.Position {
			n++
			last = e.Sum
		}
		return nil
	})
	r.Findings = append(r.Findings, damaged...)
	if err != nil {
		return n, err
	}
	for _, d := range damaged {
		if d.Position == h.Position { // named already
			last = h.Sum
		}
	}
	switch n += len(damaged); {
	case int64(n) != h.Position:
		r.Findings = append(r.Findings, Finding{Batch: h.Batch, Sentence: fmt.Sprintf("it should hold %d lines and holds %d", h.Position, n)})
	case last != h.Sum:
		r.Findings = append(r.Findings, Finding{Batch: h.Batch, Sentence: "the checksum of its end does not fit"})
	}
	return n, nil
}
