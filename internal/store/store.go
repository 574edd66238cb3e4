// Package store keeps the logs of a cellar in one SQLite file.
//
// An entry is kept when Append has returned, and not before: the transaction that
// holds it is on the disk then. One goroutine writes and takes whatever waits into one
// transaction; readers are not held up. One process at a time has a cellar open for
// writing, any number may read beside it.
package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
	_ "github.com/ncruces/go-sqlite3/vfs/memdb" // for cellars in memory

	"spile/batch"
)

// The files of a cellar in its folder. SQLite adds those that end in -wal and -shm.
const (
	DataFile   = "spile.db"
	LockFile   = "spile.lock"
	BackupsDir = "backups" // what is taken before a change of schema or a restore
)

// Store is an open cellar.
type Store struct {
	dir    string // empty: in memory
	files  string // the driver's file layer
	cellar batch.ID
	schema int64 // of the file
	read   *sql.DB

	// Of the one process that writes; nil and zero in one that reads.
	lock    *sql.DB
	write   *sql.DB
	in      chan *request
	written sync.WaitGroup // the writing goroutine
	sending sync.RWMutex   // held by Append while it hands over, by Close to end
	closed  bool
}

// NewID makes the id of an entry made now.
func NewID() batch.ID {
	var chance [10]byte
	rand.Read(chance[:]) //nolint: it never fails (crypto/rand, Go 1.24)
	return batch.NewID(time.Now(), chance)
}

// Open opens the cellar in a folder for writing, and makes folder and cellar where
// there are none. Close it.
func Open(dir string) (*Store, error) { return open(dir, "os", released) }

// open takes the file layer by its name, and the steps of the schema.
func open(dir, files string, m migrations) (s *Store, err error) {
	s = &Store{dir: dir, files: files}
	defer func() {
		if err != nil {
			s.Close()
			s, err = nil, s.fault(err)
		}
	}()
	if err = os.MkdirAll(dir, 0o700); err != nil {
		return s, err
	}
	if s.lock, err = takeLock(dir); err != nil {
		return s, err
	}
	if err = s.noHalfRestore(); err != nil {
		return s, err
	}
	if s.write, err = s.connect(writing, 1); err != nil {
		return s, err
	}
	return s, s.start(m)
}

// OpenMemory is an empty cellar that lives as long as it is open.
func OpenMemory() (*Store, error) {
	s := &Store{}
	name := "file:/" + NewID().String() + "?vfs=memdb"
	var err error
	if s.write, err = pool(name, writing, 1); err == nil {
		if s.read, err = pool(name, reading, readers()); err == nil {
			err = s.start(released)
		}
	}
	if err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// OpenReader opens the cellar in a folder for reading, beside a process that writes or without one.
func OpenReader(dir string) (*Store, error) {
	if _, err := os.Stat(filepath.Join(dir, DataFile)); errors.Is(err, fs.ErrNotExist) {
		return nil, &Fault{Usage: true, Sentence: dir + ": no " + DataFile + " in it; accepted: the folder of a cellar (spile import makes one)", Err: err}
	}
	s := &Store{dir: dir, files: "os"}
	if err := s.openReader(); err != nil {
		return nil, err
	}
	return s, nil
}

func (s *Store) openReader() (err error) {
	if s.read, err = s.connect(reading, readers()); err == nil {
		err = s.known(released)
	}
	if errors.Is(err, sqlite3.CANTOPEN) || errors.Is(err, sqlite3.READONLY) {
		err = s.openFrozen()
	}
	if err != nil {
		s.Close()
		return s.fault(err)
	}
	return nil
}

// openFrozen reads a cellar in a folder where not even a lock can be written. Nothing
// may then stand in the write-ahead log, which could not be read.
func (s *Store) openFrozen() (err error) {
	if s.read != nil {
		s.read.Close()
	}
	if info, err := os.Stat(s.path() + "-wal"); err == nil && info.Size() > 0 {
		return &Fault{Sentence: s.dir + ": the folder is read-only and a part of the log waits in " + DataFile + "-wal; make the folder writable once"}
	}
	if s.read, err = pool(address(s.path())+"?mode=ro&immutable=1", reading, readers()); err != nil {
		return err
	}
	return s.known(released)
}

// Dir is the folder of the cellar, empty where it lives in memory.
func (s *Store) Dir() string { return s.dir }

func (s *Store) path() string { return filepath.Join(s.dir, DataFile) }

// address is a path as SQLite's file: address.
func address(path string) string {
	return (&url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path)}).String()
}

func (s *Store) connect(mode access, most int) (*sql.DB, error) {
	name := address(s.path()) + "?vfs=" + s.files
	if mode == reading {
		name += "&mode=ro"
	}
	return pool(name, mode, most)
}

func readers() int { return max(4, runtime.GOMAXPROCS(0)) }

// access is what is set on each connection.
type access string

const (
	writing access = `PRAGMA busy_timeout=5000; PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL`
	reading access = `PRAGMA busy_timeout=5000`
)

func pool(name string, mode access, most int) (*sql.DB, error) {
	db, err := driver.Open(name, func(c *sqlite3.Conn) error { return c.Exec(string(mode)) })
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	if err := db.Ping(); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// start brings the schema up to date, learns the cellar's id and sets the writer going.
func (s *Store) start(m migrations) (err error) {
	if err = s.migrate(m); err != nil {
		return err
	}
	if s.read == nil {
		if s.read, err = s.connect(reading, readers()); err != nil {
			return err
		}
	}
	if err = s.identify(); err != nil {
		return err
	}
	w, err := newWriter(s)
	if err != nil {
		return err
	}
	s.in = make(chan *request, 4*mostTogether)
	s.written.Go(w.run)
	return nil
}

// identify reads the id of the cellar, or makes it.
func (s *Store) identify() error {
	ctx := context.Background()
	id := NewID()
	if _, err := s.write.ExecContext(ctx, `INSERT INTO cellar (id) SELECT ? WHERE NOT EXISTS (SELECT 1 FROM cellar)`, id[:]); err != nil {
		return err
	}
	return s.readCellar(ctx)
}

func (s *Store) readCellar(ctx context.Context) (err error) {
	if s.schema, err = version(ctx, s.read); err != nil {
		return err
	}
	var raw []byte
	if err := s.read.QueryRowContext(ctx, `SELECT id FROM cellar`).Scan(&raw); err != nil {
		return err
	}
	return fill(&s.cellar, raw)
}

// Close ends the writer after what waits is kept, and gives the cellar free.
func (s *Store) Close() error {
	s.sending.Lock()
	if !s.closed && s.in != nil {
		close(s.in)
	}
	s.closed = true
	s.sending.Unlock()
	s.written.Wait()
	var all []error
	for _, db := range []*sql.DB{s.read, s.write, s.lock} { // the writer last but one: it clears the write-ahead log
		if db != nil {
			all = append(all, db.Close())
		}
	}
	return errors.Join(all...)
}

// takeLock holds the lock file for as long as the process lives. The driver locks it by
// the means of each system, which a killed process loses by itself.
func takeLock(dir string) (*sql.DB, error) {
	db, err := pool(address(filepath.Join(dir, LockFile)), `PRAGMA busy_timeout=0; PRAGMA locking_mode=EXCLUSIVE`, 1)
	if err != nil {
		return nil, err
	}
	if _, err := db.Exec(`BEGIN EXCLUSIVE`); err != nil {
		db.Close()
		if errors.Is(err, sqlite3.BUSY) {
			return nil, &Fault{Sentence: dir + ": another Spile has this cellar open; end that one, or name another folder", Err: ErrHeld}
		}
		return nil, err
	}
	return db, nil
}
