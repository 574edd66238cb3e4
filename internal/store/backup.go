package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// vacuumInto writes all that is committed as a new file, whole and on the disk, beside running writers.
func vacuumInto(ctx context.Context, db *sql.DB, path string) (err error) {
	part := path + ".part"
	defer func() {
		if err != nil {
			os.Remove(part)
		}
	}()
	os.Remove(part) // of a run that was killed
	if _, err = db.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil {
		return err
	}
	if err = syncFile(part); err != nil {
		return err
	}
	if err = os.Rename(part, path); err != nil {
		return err
	}
	return syncFile(filepath.Dir(path))
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	err = f.Sync()
	return errors.Join(err, f.Close())
}

// Backup writes the cellar as it is at this moment into a new file, reads that back
// whole and compares every checksum. A backup with findings is kept, and they are told.
func (s *Store) Backup(ctx context.Context, path string) (Report, error) {
	if _, err := os.Lstat(path); err == nil {
		return Report{}, &Fault{Usage: true, Sentence: path + ": there is a file already; accepted: the name of a new file"}
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return Report{}, &Fault{Usage: true, Sentence: path + ": no such folder; accepted: a file in a folder that is there"}
	}
	there := &Store{dir: filepath.Dir(path)}
	if err := vacuumInto(ctx, s.read, path); err != nil {
		return Report{}, there.fault(err)
	}
	return VerifyFile(ctx, path)
}

// VerifyFile verifies a backup: one file without a write-ahead log.
func VerifyFile(ctx context.Context, path string) (Report, error) {
	s, err := openFile(path)
	if err != nil {
		return Report{}, err
	}
	defer s.Close()
	return s.Verify(ctx)
}

func openFile(path string) (*Store, error) {
	info, err := os.Stat(path)
	if err != nil || info.IsDir() {
		return nil, &Fault{Usage: true, Sentence: path + ": no such file; accepted: a backup that spile backup wrote"}
	}
	s := &Store{dir: path}
	if s.read, err = pool(address(path)+"?mode=ro&immutable=1", reading, 2); err == nil {
		err = s.known(released)
	}
	if err != nil {
		s.Close()
		return nil, &Fault{Usage: true, Sentence: path + ": it cannot be read as a cellar (" + err.Error() + "); accepted: a backup that spile backup wrote", Err: err}
	}
	return s, nil
}

// restoring is the name under which a backup is put into the folder before it takes the place of the cellar.
const restoring = DataFile + ".restoring"

// Restore puts a backup in the place of the cellar in dir. The backup is verified first,
// and what was there is kept in the folder of backups, whose path is returned; it is
// empty where there was nothing.
func Restore(ctx context.Context, dir, from string) (report Report, kept string, err error) {
	report, err = VerifyFile(ctx, from)
	if err != nil || len(report.Findings) > 0 {
		return report, "", err
	}
	s := &Store{dir: dir}
	defer func() { err = s.fault(err) }()
	if err = os.MkdirAll(dir, 0o700); err != nil {
		return report, "", err
	}
	lock, err := takeLock(dir)
	if err != nil {
		return report, "", err
	}
	defer lock.Close()
	if err = copyFile(from, filepath.Join(dir, restoring)); err != nil {
		os.Remove(filepath.Join(dir, restoring))
		return report, "", err
	}
	if kept, err = s.moveAside(); err != nil {
		return report, kept, err
	}
	if err = os.Rename(filepath.Join(dir, restoring), s.path()); err != nil {
		return report, kept, err
	}
	return report, kept, syncFile(dir)
}

// moveAside moves the cellar's files, as they are, into the folder of backups.
func (s *Store) moveAside() (kept string, err error) {
	if _, err := os.Stat(s.path()); errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	kept = s.aside("before-restore")
	if err := os.MkdirAll(filepath.Dir(kept), 0o700); err != nil {
		return "", err
	}
	for _, part := range []string{"", "-wal", "-shm"} { // the log of a file that is gone is never taken for another's
		if err := os.Rename(s.path()+part, kept+part); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
	}
	return kept, syncFile(filepath.Dir(kept))
}

// noHalfRestore refuses to begin an empty cellar where a restore was cut off between its two steps.
func (s *Store) noHalfRestore() error {
	if _, err := os.Stat(s.path()); !errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if _, err := os.Stat(filepath.Join(s.dir, restoring)); err != nil {
		return nil
	}
	return &Fault{Sentence: fmt.Sprintf("%s: a restore was cut off; run spile restore again. What was there is in %s", s.dir, filepath.Join(s.dir, BackupsDir))}
}

// copyFile copies a file onto the disk.
func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	if _, err = io.Copy(out, in); err == nil {
		err = out.Sync()
	}
	return errors.Join(err, out.Close())
}
