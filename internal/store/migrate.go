package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
)

// migrations are the steps of the schema: only forward, each in a transaction.
type migrations struct{ files fs.FS }

//go:embed migrations/*.sql
var embedded embed.FS

var released = migrations{sub(embedded, "migrations")}

func sub(files fs.FS, dir string) fs.FS {
	out, err := fs.Sub(files, dir)
	if err != nil {
		panic(err) // dir is written above
	}
	return out
}

const versionTable = "schema_version"

func (m migrations) provider(db *sql.DB) (*goose.Provider, error) {
	store, err := database.NewStore(database.DialectSQLite3, versionTable)
	if err != nil {
		return nil, err
	}
	return goose.NewProvider("", db, m.files, goose.WithStore(store), goose.WithDisableGlobalRegistry(true))
}

// newest is the version that the steps lead to.
func (m migrations) newest(db *sql.DB) (int64, error) {
	p, err := m.provider(db)
	if err != nil {
		return 0, err
	}
	steps := p.ListSources()
	return steps[len(steps)-1].Version, nil
}

// version is the schema of the file, 0 where there is none yet.
func version(ctx context.Context, db *sql.DB) (v int64, err error) {
	var tables int
	if err = db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_master WHERE name = ?`, versionTable).Scan(&tables); err != nil || tables == 0 {
		return 0, err
	}
	err = db.QueryRowContext(ctx, `SELECT coalesce(max(version_id), 0) FROM `+versionTable).Scan(&v)
	return v, err
}

// migrate brings the schema up to date. A backup is taken first where there is something to lose.
func (s *Store) migrate(m migrations) error {
	ctx := context.Background()
	newest, err := m.newest(s.write)
	if err != nil {
		return err
	}
	now, err := version(ctx, s.write)
	switch {
	case err != nil:
		return err
	case now == newest:
		return nil
	case now > newest:
		return s.tooNew(now, newest)
	}
	if now > 0 && s.dir != "" {
		path := s.aside(fmt.Sprintf("before-schema-%d", newest))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return err
		}
		if err := vacuumInto(ctx, s.write, path); err != nil {
			return fmt.Errorf("no backup could be taken before the schema is changed: %w", err)
		}
	}
	p, err := m.provider(s.write)
	if err != nil {
		return err
	}
	if _, err := p.Up(ctx); err != nil {
		var partial *goose.PartialError
		if errors.As(err, &partial) {
			err = partial.Err
		}
		return fmt.Errorf("the schema could not be changed; everything is as it was before: %w", err)
	}
	return nil
}

func (s *Store) tooNew(now, newest int64) error {
	return &Fault{Sentence: fmt.Sprintf("%s: a newer Spile wrote this cellar (schema %d; this one knows %d); nothing was changed. Use the newer one", s.dir, now, newest)}
}

// known checks that a cellar opened for reading has a schema that is known, and reads its id.
func (s *Store) known(m migrations) error {
	ctx := context.Background()
	now, err := version(ctx, s.read)
	if err != nil {
		return err
	}
	newest, err := m.newest(s.read)
	switch {
	case err != nil:
		return err
	case now > newest:
		return s.tooNew(now, newest)
	case now == 0:
		return &Fault{Usage: true, Sentence: s.path() + ": no cellar in this file; accepted: a file that Spile wrote"}
	}
	return s.readCellar(ctx)
}

// aside is a path in the folder of backups that nothing has yet.
func (s *Store) aside(why string) string {
	return filepath.Join(s.dir, BackupsDir, "spile-"+time.Now().UTC().Format("20060102T150405.000000000Z")+"-"+why+".db")
}
