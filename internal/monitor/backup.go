package monitor

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// A backup of the night has this name from when it is proved on. Before, it is called otherwise: what bears the name can be restored.
const (
	nightlyName   = "nightly-20060102T150405Z.db"
	unprovedName  = "nightly-not-proved.db"
	provingName   = "nightly-proving" // scratch folder in which it is restored
	nightHour     = 3                 // local time
	lookEvery     = 10 * time.Minute
	keptDaily     = 7
	keptWeekly    = 4
	keptMonthly   = 12
	retryAfterBad = time.Hour
)

// Proof is the last backup that was proved by restoring it.
type Proof struct {
	At     time.Time // when it was taken; zero: none yet
	File   string
	Failed string // why the last attempt came to nothing, in a sentence; empty: it did not
}

// BackupNightly takes a backup every night, or as soon after as the program runs, and proves it, until ctx ends. A cellar
// in memory has none.
func (w *Watch) BackupNightly(ctx context.Context) error {
	if w.store.Dir() == "" {
		return nil
	}
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		if err := w.backupIfDue(ctx); err != nil && ctx.Err() == nil {
			w.log.Error("nightly backup", "err", err)
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return nil
		}
	}
}

// backupIfDue takes a backup where the last one that was proved is from before the last night.
func (w *Watch) backupIfDue(ctx context.Context) error {
	now := w.clock()
	last, err := w.Proven(ctx)
	if err != nil {
		return err
	}
	if !last.At.Before(lastNight(now)) {
		return nil
	}
	w.known.mu.Lock()
	rests := now.Before(w.known.backupRests)
	w.known.mu.Unlock()
	if rests {
		return nil
	}
	err = w.backup(ctx, now)
	locked(&w.known.mu, func() {
		w.known.backupFailed, w.known.backupRests = "", time.Time{}
		if err != nil {
			w.known.backupFailed, w.known.backupRests = err.Error(), now.Add(retryAfterBad)
		}
	})
	return err
}

// lastNight is the last time that it was three in the morning, by the zone of now.
func lastNight(now time.Time) time.Time {
	night := time.Date(now.Year(), now.Month(), now.Day(), nightHour, 0, 0, 0, now.Location())
	if now.Before(night) {
		night = time.Date(now.Year(), now.Month(), now.Day()-1, nightHour, 0, 0, 0, now.Location())
	}
	return night
}

// backup takes a backup, proves it and lets old ones go.
func (w *Watch) backup(ctx context.Context, now time.Time) error {
	dir := filepath.Join(w.store.Dir(), store.BackupsDir)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	file := filepath.Join(dir, unprovedName)
	if err := os.Remove(file); err != nil && !errors.Is(err, os.ErrNotExist) { // of a run that was killed
		return err
	}
	before, err := w.heads(ctx)
	if err != nil {
		return err
	}
	if _, err := w.store.Backup(ctx, file); err != nil {
		return err
	}
	if err := prove(ctx, file, filepath.Join(dir, provingName), before); err != nil {
		return err
	}
	if err := os.Rename(file, filepath.Join(dir, now.UTC().Format(nightlyName))); err != nil {
		return err
	}
	return w.letGo(dir, now.Location())
}

// prove restores a backup into a scratch folder, opens it there as a cellar, reads all of it and sees that nothing is
// missing that was there before the backup began.
func prove(ctx context.Context, file, scratch string, before map[batch.ID]int64) (err error) {
	if err := os.RemoveAll(scratch); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
	report, _, err := store.Restore(ctx, scratch, file)
	if err != nil {
		return err
	}
	if len(report.Findings) > 0 {
		return fmt.Errorf("the backup holds what is not as it was kept (%s); spile verify says more", report.Findings[0])
	}
	s, err := store.Open(scratch)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if report, err = s.Verify(ctx); err != nil {
		return err
	}
	if len(report.Findings) > 0 {
		return fmt.Errorf("what was restored is not as it was kept (%s)", report.Findings[0])
	}
	heads, err := s.Heads(ctx)
	if err != nil {
		return err
	}
	for _, h := range heads {
		if h.Position >= before[h.Batch] {
			delete(before, h.Batch)
		}
	}
	if len(before) > 0 {
		return fmt.Errorf("%d logs are shorter in the backup than in the cellar", len(before))
	}
	return nil
}

// Proven is the last backup that was proved by restoring it.
func (w *Watch) Proven(context.Context) (Proof, error) {
	var p Proof
	locked(&w.known.mu, func() { p.Failed = w.known.backupFailed })
	if w.store.Dir() == "" {
		return p, nil
	}
	dir := filepath.Join(w.store.Dir(), store.BackupsDir)
	all, err := nightlies(dir)
	if err != nil || len(all) == 0 {
		return p, err
	}
	p.At = all[0]
	p.File = filepath.Join(dir, p.At.Format(nightlyName))
	return p, nil
}

// nightlies are when the backups in a folder were taken, the newest first.
func nightlies(dir string) (out []time.Time, err error) {
	files, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	for _, f := range files {
		if at, err := time.Parse(nightlyName, f.Name()); err == nil && strings.HasPrefix(f.Name(), "nightly-") {
			out = append(out, at)
		}
	}
	slices.SortFunc(out, func(a, b time.Time) int { return b.Compare(a) })
	return out, err
}

// letGo removes the backups that are not to be kept.
func (w *Watch) letGo(dir string, zone *time.Location) error {
	all, err := nightlies(dir)
	if err != nil {
		return err
	}
	keep := toKeep(all, zone)
	for _, at := range all {
		if !keep[at] {
			err = errors.Join(err, os.Remove(filepath.Join(dir, at.Format(nightlyName))))
		}
	}
	return err
}

// toKeep are the newest of each of the last days, weeks and months that have one; all is newest first.
func toKeep(all []time.Time, zone *time.Location) map[time.Time]bool {
	keep := map[time.Time]bool{}
	for _, span := range []struct {
		most int
		of   func(t time.Time) string
	}{
		{keptDaily, func(t time.Time) string { return t.Format(time.DateOnly) }},
		{keptWeekly, func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprint(y, w) }},
		{keptMonthly, func(t time.Time) string { return t.Format("2006-01") }},
	} {
		seen := map[string]bool{}
		for _, at := range all {
			name := span.of(at.In(zone))
			if !seen[name] && len(seen) < span.most {
				seen[name], keep[at] = true, true
			}
		}
	}
	return keep
}
