package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// ErrHeld says that another process has the cellar open for writing.
var ErrHeld = errors.New("another process has the cellar open")

// OpenDoors opens a cellar to change who may come in: people and devices. Where a Spile is
// serving it, that one goes on: what is changed here are rows that it reads each time.
// Nothing can be appended to a log then.
func OpenDoors(dir string) (*Store, error) {
	s, err := Open(dir)
	if !errors.Is(err, ErrHeld) {
		return s, err
	}
	if s, err = OpenReader(dir); err != nil {
		return nil, err
	}
	if s.schema < calendarSchema {
		s.Close()
		return nil, &Fault{Sentence: fmt.Sprintf("%s: the Spile that has this cellar open is older than this one; end it, then try again", dir)}
	}
	if s.write, err = s.connect(writing, 1); err != nil {
		s.Close()
		return nil, s.fault(err)
	}
	return s, nil
}

// change writes rows beside the logs, whole or not at all.
func (s *Store) change(ctx context.Context, write func(ctx context.Context, c *sql.Conn) error) error {
	if s.in != nil || s.write == nil {
		return s.derive(ctx, write)
	}
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return s.fault(err)
	}
	defer conn.Close()
	w := writer{s: s, conn: conn}
	return s.fault(w.transaction(func(ctx context.Context) error { return write(ctx, conn) }))
}
