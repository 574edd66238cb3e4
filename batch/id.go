package batch

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"time"
)

// ID names an entry, and the batch or thing which that entry made: a UUID of
// version 7 (RFC 9562), made by whoever makes the entry, so that a repeated send is
// one entry. The time inside is that of its maker's clock: it never orders the log.
// The zero ID names nothing.
type ID [16]byte

// NewID is the ID made at a time with ten bytes of chance, of which 74 bits are used.
// Times from 1970 to 10889 fit.
func NewID(at time.Time, chance [10]byte) ID {
	var id ID
	binary.BigEndian.PutUint64(id[:8], uint64(at.UnixMilli())<<16)
	copy(id[6:], chance[:])
	id[6] = 0x70 | id[6]&0x0f
	id[8] = 0x80 | id[8]&0x3f
	return id
}

// ParseID reads an ID as String writes it, in any case of letters.
func ParseID(s string) (ID, error) {
	var id ID
	var bare [32]byte
	if len(s) == 36 && s[8] == '-' && s[13] == '-' && s[18] == '-' && s[23] == '-' {
		for i, from := 0, 0; i < len(bare); i, from = i+1, from+1 {
			if from == 8 || from == 13 || from == 18 || from == 23 {
				from++
			}
			bare[i] = s[from]
		}
		if _, err := hex.Decode(id[:], bare[:]); err == nil && id.ordered() {
			return id, nil
		}
	}
	return ID{}, fmt.Errorf("id %.60q; accepted: a UUID of version 7, as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f", s)
}

func (id ID) ordered() bool { return id[6]>>4 == 7 && id[8]>>6 == 2 }

// String is the 36 letters of a UUID.
func (id ID) String() string {
	h := hex.EncodeToString(id[:])
	return h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:]
}

// Time is what the clock of the ID's maker showed, to the millisecond.
func (id ID) Time() time.Time {
	return time.UnixMilli(int64(binary.BigEndian.Uint64(id[:8]) >> 16)).UTC()
}

// IsZero tells that id names nothing.
func (id ID) IsZero() bool { return id == ID{} }

// MarshalText writes id for JSON.
func (id ID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }

// UnmarshalText reads id from JSON.
func (id *ID) UnmarshalText(text []byte) (err error) {
	*id, err = ParseID(string(text))
	return err
}
