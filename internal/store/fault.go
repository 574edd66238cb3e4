package store

import (
	"errors"
	"io/fs"

	"github.com/ncruces/go-sqlite3"
)

// Fault is why the cellar could not do what was asked, in one sentence for the person.
type Fault struct {
	Sentence string
	Usage    bool // what was asked for is at fault, not the disk
	Err      error
}

func (f *Fault) Error() string { return f.Sentence }

func (f *Fault) Unwrap() error { return f.Err }

// fault says in one sentence what stands behind err.
func (s *Store) fault(err error) error {
	var f *Fault
	if err == nil || errors.As(err, &f) {
		return err
	}
	where := s.dir
	if where == "" {
		where = "the cellar in memory"
	}
	for _, c := range causes {
		for _, code := range c.codes {
			if errors.Is(err, code) {
				return &Fault{Sentence: where + ": " + c.says, Err: err}
			}
		}
	}
	return &Fault{Sentence: where + ": " + err.Error(), Err: err}
}

// causes are tried in this order: the code of the system first, for SQLite reports some under a wider one.
var causes = []struct {
	codes []error
	says  string
}{
	{[]error{sqlite3.FULL}, "the disk is full; nothing of this was kept, all before it is safe. Make room and send it again"},
	{[]error{sqlite3.CORRUPT, sqlite3.NOTADB}, DataFile + " is damaged; nothing was changed. spile verify says where, spile restore brings back a backup"},
	{[]error{fs.ErrPermission, sqlite3.READONLY, sqlite3.PERM, sqlite3.CANTOPEN}, "the folder cannot be written; nothing was changed. Give it to the user who runs Spile, or name another folder"},
	{[]error{sqlite3.IOERR}, "the disk failed; what was not confirmed is not kept. Look after the disk, then start Spile again"},
	{[]error{sqlite3.BUSY, sqlite3.LOCKED}, "another program holds " + DataFile + "; end that one and try again"},
}
