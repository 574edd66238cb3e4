package store

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"database/sql"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"

	"spile/batch"
)

// Role is what a person may do.
type Role string

// The roles, from the one that may do most.
const (
	Owner  Role = "owner"  // everything, people and keys included
	Brewer Role = "brewer" // keeps readings, fills vessels, gives keys to devices
	Viewer Role = "viewer" // sees all and changes nothing
)

// Roles are all roles.
var Roles = []Role{Owner, Brewer, Viewer}

// Person is somebody who may come in from beyond this machine.
type Person struct {
	ID    batch.ID
	Name  string
	Role  Role
	Made  time.Time
	Stamp string // changes with the password, so that older sessions end
}

// Bounds of what is typed. Eight letters are the least that NIST SP 800-63B (2017),
// section 5.1.1.2, takes for a password that a person chooses.
const (
	leastPassword = 8
	mostPassword  = 200
	mostName      = 40
)

// doorsSchema is the first schema that knows people, sessions and devices.
const doorsSchema = 3

// ErrPerson says that no person has that name and password.
var ErrPerson = errors.New("the name or the password is not right")

// AddPerson adds somebody.
func (s *Store) AddPerson(ctx context.Context, name string, role Role, password string) (Person, error) {
	name, err := tidyName(name)
	if err != nil {
		return Person{}, err
	}
	if role != Owner && role != Brewer && role != Viewer {
		return Person{}, misused("role %.40q; accepted: owner, brewer, viewer", string(role))
	}
	secret, err := secretOf(password)
	if err != nil {
		return Person{}, err
	}
	p := Person{ID: NewID(), Name: name, Role: role, Made: time.Now().UTC(), Stamp: stamp(secret)}
	return p, s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		if err := s.unused(ctx, c, "person", name); err != nil {
			return err
		}
		_, err := c.ExecContext(ctx, `INSERT INTO person (cellar, id, name, folded, role, secret, made) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			s.cellar[:], p.ID[:], name, folded(name), string(role), secret, moment(p.Made))
		return err
	})
}

// People are all, by name.
func (s *Store) People(ctx context.Context) (out []Person, err error) {
	if s.schema < doorsSchema {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT id, name, role, secret, made FROM person WHERE cellar = ? ORDER BY folded`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		var p Person
		var id []byte
		var secret string
		var made int64
		if err := scan(&id, &p.Name, &p.Role, &secret, &made); err != nil {
			return err
		}
		if err := fill(&p.ID, id); err != nil {
			return err
		}
		p.Made, p.Stamp = ofMoment(made), stamp(secret)
		out = append(out, p)
		return nil
	})
	return out, err
}

// HasOwner tells whether anybody may let others in.
func (s *Store) HasOwner(ctx context.Context) (bool, error) {
	people, err := s.People(ctx)
	for _, p := range people {
		if p.Role == Owner {
			return true, nil
		}
	}
	return false, err
}

// Login is the person of that name and password, else ErrPerson. It takes as long for a
// name that nobody has.
func (s *Store) Login(ctx context.Context, name, password string) (Person, error) {
	people, err := s.People(ctx)
	if err != nil {
		return Person{}, err
	}
	secret := nobody
	var who Person
	for _, p := range people {
		if folded(p.Name) != folded(name) {
			continue
		}
		who = p
		if err := s.read.QueryRowContext(ctx, `SELECT secret FROM person WHERE cellar = ? AND id = ?`, s.cellar[:], p.ID[:]).Scan(&secret); err != nil {
			return Person{}, s.fault(err)
		}
	}
	if !opens(secret, password) || who.ID.IsZero() {
		return Person{}, ErrPerson
	}
	return who, nil
}

// SetPassword gives somebody another password; sessions under the old one end.
func (s *Store) SetPassword(ctx context.Context, name, password string) error {
	secret, err := secretOf(password)
	if err != nil {
		return err
	}
	return s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		done, err := c.ExecContext(ctx, `UPDATE person SET secret = ? WHERE cellar = ? AND folded = ?`, secret, s.cellar[:], folded(name))
		return s.found(done, err, "nobody is called %.60q; spile user list names all", name)
	})
}

// RemovePerson takes somebody out; the only owner stays, for without one nobody could log in any more.
func (s *Store) RemovePerson(ctx context.Context, name string) error {
	return s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		var owners, others int
		if err := c.QueryRowContext(ctx, `SELECT coalesce(sum(folded = ?1), 0), coalesce(sum(folded <> ?1), 0) FROM person WHERE cellar = ?2 AND role = 'owner'`, folded(name), s.cellar[:]).Scan(&owners, &others); err != nil {
			return err
		}
		if owners == 1 && others == 0 {
			return misused("%s is the only owner; add another owner first", name)
		}
		if err := s.forgetOf(ctx, c, folded(name)); err != nil {
			return err
		}
		done, err := c.ExecContext(ctx, `DELETE FROM person WHERE cellar = ? AND folded = ?`, s.cellar[:], folded(name))
		return s.found(done, err, "nobody is called %.60q; spile user list names all", name)
	})
}

// forgetOf lets go of what belongs to somebody who is taken out: the addresses for calendars and what was put off.
func (s *Store) forgetOf(ctx context.Context, c *sql.Conn, folded string) error {
	for _, table := range []string{"calendar", "put_off"} {
		if _, err := c.ExecContext(ctx, `DELETE FROM `+table+` WHERE cellar = ?1 AND person IN (SELECT id FROM person WHERE cellar = ?1 AND folded = ?2)`, s.cellar[:], folded); err != nil {
			return err
		}
	}
	return s.forgetEvents(ctx, c)
}

// misused is a fault of what was asked for.
func misused(format string, args ...any) *Fault {
	return &Fault{Usage: true, Sentence: fmt.Sprintf(format, args...)}
}

// found tells a change of one row from one of none.
func (s *Store) found(done sql.Result, err error, none, name string) error {
	if err != nil {
		return err
	}
	if n, err := done.RowsAffected(); err != nil || n == 1 {
		return err
	}
	return misused(none, name)
}

// unused checks that no row of the table has the name.
func (s *Store) unused(ctx context.Context, c *sql.Conn, table, name string) error {
	var n int
	if err := c.QueryRowContext(ctx, `SELECT count(*) FROM `+table+` WHERE cellar = ? AND folded = ?`, s.cellar[:], folded(name)).Scan(&n); err != nil {
		return err
	}
	if n > 0 {
		return misused("there is a %s called %s already; accepted: another name", table, name)
	}
	return nil
}

// folded is a name as it is compared.
func folded(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// tidyName is a name that is kept, or why it cannot be.
func tidyName(name string) (string, error) {
	name = strings.Join(strings.Fields(name), " ")
	switch {
	case !utf8.ValidString(name) || name == "" || utf8.RuneCountInString(name) > mostName || strings.ContainsFunc(name, unicode.IsControl):
		return "", misused("name %.60q; accepted: 1 to %d letters", name, mostName)
	case batch.ByDevice(name):
		return "", misused("name %.60q, which reads as that of a device; accepted: any other", name)
	}
	return name, nil
}

// CheckPassword says why a password cannot be kept.
func CheckPassword(password string) error {
	n := utf8.RuneCountInString(strings.TrimSpace(password))
	if n < leastPassword || n > mostPassword {
		return misused("a password of %d letters; accepted: %d to %d, for example four words that do not belong together", n, leastPassword, mostPassword)
	}
	return nil
}

// The cost of a password's hash: Argon2id (RFC 9106) with 2 passes over 19 MiB.
const (
	hashPasses, hashMemory, hashLanes = 2, 19 << 10, 1
	hashBytes                         = 32
)

// hashing holds back all but two at once: each takes its 19 MiB.
var hashing = make(chan struct{}, 2)

func hash(password string, salt []byte, passes, memory uint32, lanes uint8) []byte {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	return argon2.IDKey([]byte(strings.TrimSpace(password)), salt, passes, memory, lanes, hashBytes)
}

// secretOf is what is kept of a password, in the usual string form of Argon2.
func secretOf(password string) (string, error) {
	if err := CheckPassword(password); err != nil {
		return "", err
	}
	var salt [16]byte
	rand.Read(salt[:]) //nolint: it never fails (crypto/rand, Go 1.24)
	return encodeSecret(salt[:], hash(password, salt[:], hashPasses, hashMemory, hashLanes)), nil
}

func encodeSecret(salt, sum []byte) string {
	b := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, hashMemory, hashPasses, hashLanes, b.EncodeToString(salt), b.EncodeToString(sum))
}

// nobody is a secret that no password opens, as slow to try as any.
var nobody = encodeSecret(make([]byte, 16), make([]byte, hashBytes))

// opens tells whether the password is the one that secret was made of.
func opens(secret, password string) bool {
	var version, passes, memory uint32
	var lanes uint8
	parts := strings.Split(secret, "$")
	if len(parts) != 6 || len(password) > 4*mostPassword {
		return false
	}
	if _, err := fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &version, &memory, &passes, &lanes); err != nil || version != argon2.Version {
		return false
	}
	salt, err := base64.RawStdEncoding.DecodeString(parts[4])
	if err != nil || memory > 1<<20 || passes < 1 || passes > 20 || lanes < 1 {
		return false
	}
	sum, err := base64.RawStdEncoding.DecodeString(parts[5])
	return err == nil && subtle.ConstantTimeCompare(sum, hash(password, salt, passes, memory, lanes)) == 1
}

func stamp(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:8])
}
