package store

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"

	"spile/batch"
)

// disk is a file layer over the real one whose writes and syncs fail on demand.
type disk struct {
	vfs.VFSFilename
	mu    sync.Mutex
	ops   int                           // so far
	fails func(op int, sync bool) error // nil: none
}

func (d *disk) op(sync bool) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.ops++
	if d.fails == nil {
		return nil
	}
	return d.fails(d.ops, sync)
}

func (d *disk) set(fails func(op int, sync bool) error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.ops, d.fails = 0, fails
}

func (d *disk) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	f, flags, err := d.VFSFilename.OpenFilename(name, flags)
	if err != nil {
		return nil, flags, err
	}
	return &diskFile{f, d}, flags, nil
}

type diskFile struct {
	vfs.File
	disk *disk
}

func (f *diskFile) WriteAt(p []byte, at int64) (int, error) {
	if err := f.disk.op(false); err != nil {
		return 0, err
	}
	return f.File.WriteAt(p, at)
}

func (f *diskFile) Sync(flags vfs.SyncFlag) error {
	if err := f.disk.op(true); err != nil {
		return err
	}
	return f.File.Sync(flags)
}

func (f *diskFile) SharedMemory() vfs.SharedMemory {
	return f.File.(vfs.FileSharedMemory).SharedMemory()
}

// onDisk opens a cellar on a disk that can fail.
func onDisk(t *testing.T) (*disk, *Store) {
	t.Helper()
	d := &disk{VFSFilename: vfs.Find("os").(vfs.VFSFilename)}
	name := strings.ReplaceAll(t.Name(), "/", "-")
	vfs.Register(name, d)
	t.Cleanup(func() { vfs.Unregister(name) })
	s, err := open(planted(t, "schema-1.db"), name, released)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.set(nil); s.Close() })
	return d, s
}

// A full disk refuses what does not fit in one sentence, keeps what was there, and goes on by itself once there is room.
func TestFullDisk(t *testing.T) {
	d, s := onDisk(t)
	b := NewID()
	keep(t, s, oneReading(b, 0))
	for room := range 12 { // writes until nothing fits
		d.set(func(op int, sync bool) error {
			if !sync && op > room {
				return sqlite3.FULL
			}
			return nil
		})
		kept, refused := 0, error(nil)
		for refused == nil {
			if _, refused = s.Append(ctx, oneReading(b, 1)); refused == nil {
				kept++
			}
		}
		if !strings.Contains(refused.Error(), "the disk is full; nothing of this was kept") {
			t.Fatal(refused)
		}
		d.set(nil)
		r, err := s.Verify(ctx)
		if err != nil || len(r.Findings) > 0 {
			t.Fatal(r, err)
		}
		before := r.Entries
		keep(t, s, oneReading(b, 2))
		sound(t, s, before+1)
	}
}

// The n-th write or sync fails, once or for ever, for each n until all pass: nothing is
// confirmed that is not there afterwards, and after a failed disk nothing more is tried.
func TestFailingDisk(t *testing.T) {
	broken := fmt.Errorf("the disk is broken: %w", sqlite3.IOERR)
	for _, forEver := range []bool{false, true} {
		for n := 1; ; n++ {
			d, s := onDisk(t)
			b := NewID()
			confirmed := []batch.ID{}
			d.set(func(op int, _ bool) error {
				if op == n || forEver && op > n {
					return broken
				}
				return nil
			})
			failed := false
			for i := range 2 {
				e := oneReading(b, i)
				_, err := s.Append(ctx, e)
				switch {
				case err == nil && failed:
					t.Fatalf("n %d: an entry was confirmed after the disk had failed", n)
				case err == nil:
					confirmed = append(confirmed, e.ID)
				case !strings.Contains(err.Error(), "the disk failed; what was not confirmed is not kept"):
					t.Fatalf("n %d: %v", n, err)
				}
				failed = failed || err != nil
			}
			d.set(nil)
			s.Close()
			again := opened(t, s.dir)
			entries, damaged, err := again.Log(ctx, b, 0)
			if err != nil || len(damaged) > 0 || len(entries) < len(confirmed) {
				t.Fatalf("n %d: expected %d confirmed entries, got %d, %v, %v", n, len(confirmed), len(entries), damaged, err)
			}
			for i, id := range confirmed {
				if entries[i].ID != id {
					t.Fatalf("n %d: entry %d: expected %s, got %s", n, i, id, entries[i].ID)
				}
			}
			sound(t, again, fixtureEntries+len(entries))
			again.Close()
			if !failed {
				if t.Logf("%d writes and syncs failed, one after another", n-1); n < 6 {
					t.Errorf("no write failed at n %d: the disk was not asked", n)
				}
				break
			}
		}
	}
}

// What is confirmed was synced: with the sync counted, every confirmation has one before it.
func TestConfirmedAfterSync(t *testing.T) {
	d, s := onDisk(t)
	synced := 0
	d.set(func(_ int, sync bool) error {
		if sync {
			synced++
		}
		return nil
	})
	for i := range 20 {
		before := synced
		keep(t, s, oneReading(NewID(), i))
		if synced == before {
			t.Fatalf("entry %d was confirmed without a sync", i)
		}
	}
}
