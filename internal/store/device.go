package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base32"
	"errors"
	"time"

	"spile/batch"
)

// Device is something that sends readings of one vessel.
type Device struct {
	ID     batch.ID
	Name   string
	Vessel batch.ID // or a batch that stands in none of the cellar's
	Made   time.Time
}

// Unread is a message that could not be read.
type Unread struct {
	Device  string
	At      time.Time
	Reason  string
	Message string
}

// trayLines is how many messages of one device stay in the tray, so that none crowds out the others.
const trayLines = 10

var keyLetters = base32.StdEncoding.WithPadding(base32.NoPadding)

// AddDevice makes a key by which a device can add readings to a vessel, and to nothing
// else. The key is told here alone: what is kept is its checksum.
func (s *Store) AddDevice(ctx context.Context, name string, vessel batch.ID) (d Device, key string, err error) {
	if name, err = tidyName(name); err != nil {
		return d, "", err
	}
	key, sum := newKey()
	d = Device{ID: NewID(), Name: name, Vessel: vessel, Made: time.Now().UTC()}
	return d, key, s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		if err := s.unused(ctx, c, "device", name); err != nil {
			return err
		}
		_, err := c.ExecContext(ctx, `INSERT INTO device (cellar, id, name, folded, vessel, sum, made) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			s.cellar[:], d.ID[:], name, folded(name), vessel[:], sum[:], moment(d.Made))
		return err
	})
}

// Devices are all, by name.
func (s *Store) Devices(ctx context.Context) (out []Device, err error) {
	if s.schema < doorsSchema {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT id, name, vessel, made FROM device WHERE cellar = ? ORDER BY folded`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		d, err := readDevice(scan)
		if err != nil {
			return err
		}
		out = append(out, d)
		return nil
	})
	return out, err
}

func readDevice(scan func(...any) error) (d Device, err error) {
	var id, vessel []byte
	var made int64
	if err = scan(&id, &d.Name, &vessel, &made); err != nil {
		return d, err
	}
	d.Made = ofMoment(made)
	return d, errors.Join(fill(&d.ID, id), fill(&d.Vessel, vessel))
}

// DeviceOf is the device with that key, and whether there is one.
func (s *Store) DeviceOf(ctx context.Context, key string) (d Device, found bool, err error) {
	sum := sha256.Sum256([]byte(key))
	row := s.read.QueryRowContext(ctx, `SELECT id, name, vessel, made FROM device WHERE cellar = ? AND sum = ?`, s.cellar[:], sum[:])
	d, err = readDevice(row.Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return d, false, nil
	}
	return d, err == nil, s.fault(err)
}

// RemoveDevice makes a key worthless; the readings that came by it stay.
func (s *Store) RemoveDevice(ctx context.Context, name string) error {
	return s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		done, err := c.ExecContext(ctx, `DELETE FROM device WHERE cellar = ? AND folded = ?`, s.cellar[:], folded(name))
		return s.found(done, err, "no device is called %.60q; spile device list names all", name)
	})
}

// PutInTray keeps a message that could not be read, with the reason, and lets go of the oldest of
// its device. Two of one moment stay in their order.
func (s *Store) PutInTray(ctx context.Context, d Device, at time.Time, reason, message string) error {
	return s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		id, last := NewID(), int64(0)
		if err := c.QueryRowContext(ctx, `SELECT coalesce(max(at), 0) FROM tray WHERE cellar = ? AND device = ?`, s.cellar[:], d.ID[:]).Scan(&last); err != nil {
			return err
		}
		if _, err := c.ExecContext(ctx, `INSERT INTO tray (cellar, id, device, at, reason, message) VALUES (?, ?, ?, ?, ?, ?)`, s.cellar[:], id[:], d.ID[:], max(moment(at), last+1), reason, message); err != nil {
			return err
		}
		_, err := c.ExecContext(ctx, `DELETE FROM tray WHERE cellar = ?1 AND device = ?2 AND id NOT IN (SELECT id FROM tray WHERE cellar = ?1 AND device = ?2 ORDER BY at DESC, id DESC LIMIT ?3)`, s.cellar[:], d.ID[:], trayLines)
		return err
	})
}

// Tray is the last messages that could not be read, the newest first.
func (s *Store) Tray(ctx context.Context) (out []Unread, err error) {
	if s.schema < doorsSchema {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT coalesce((SELECT name FROM device d WHERE d.cellar = t.cellar AND d.id = t.device), ''), at, reason, message FROM tray t WHERE cellar = ? ORDER BY at DESC, id DESC LIMIT ?`, []any{s.cellar[:], 10 * trayLines}, func(scan func(...any) error) error {
		var u Unread
		var at int64
		if err := scan(&u.Device, &at, &u.Reason, &u.Message); err != nil {
			return err
		}
		u.At = ofMoment(at)
		out = append(out, u)
		return nil
	})
	return out, err
}
