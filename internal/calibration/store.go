package calibration

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
)

// key names one piece of work.
type key struct {
	Part    string `json:"part"`
	Seed    uint64 `json:"seed"`
	Engine  string `json:"engine"`
	Members int    `json:"members"`
	Index   int    `json:"index"`
}

// line is one line of the file: a key and what came of it.
type line struct {
	key
	Result json.RawMessage `json:"result"`
}

// Store keeps finished pieces of work, one JSON line each, so that a run can be ended and go on.
type Store struct {
	file *os.File
	done map[key]json.RawMessage
	// Torn is the number of lines that cannot be read, such as the last one of a run that was killed; their work is done again.
	Torn int
}

// OpenStore opens or makes the file at path. Close it.
func OpenStore(path string) (*Store, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, err
	}
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, err
	}
	s := &Store{file: file, done: map[key]json.RawMessage{}}
	if err := s.read(); err != nil {
		file.Close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return s, nil
}

func (s *Store) read() error {
	in := bufio.NewReader(s.file)
	for {
		text, err := in.ReadBytes('\n')
		if err == io.EOF && len(text) == 0 {
			return nil
		}
		if err != nil && err != io.EOF {
			return err
		}
		var l line
		if json.Unmarshal(text, &l) != nil {
			s.Torn++
		} else {
			s.done[l.key] = l.Result
		}
		if err == io.EOF { // the last line was cut off: the next one must not go on in it
			_, err = s.file.WriteString("\n")
			return err
		}
	}
}

func (s *Store) find(k key) (json.RawMessage, bool) {
	v, ok := s.done[k]
	return v, ok
}

// keep is called by one goroutine at a time.
func (s *Store) keep(k key, result any) error {
	v, err := json.Marshal(result)
	if err != nil {
		return err
	}
	text, err := json.Marshal(line{k, v})
	if err != nil {
		return err
	}
	s.done[k] = v
	_, err = s.file.Write(append(text, '\n'))
	return err
}

// Close ends the writing.
func (s *Store) Close() error { return s.file.Close() }

// number is a float64 that may be infinite, which JSON has no word for.
type number float64

// MarshalJSON writes infinity as "never".
func (n number) MarshalJSON() ([]byte, error) {
	if math.IsInf(float64(n), 1) {
		return []byte(`"never"`), nil
	}
	return json.Marshal(float64(n))
}

// UnmarshalJSON reads what MarshalJSON writes.
func (n *number) UnmarshalJSON(text []byte) error {
	if string(text) == `"never"` {
		*n = number(math.Inf(1))
		return nil
	}
	return json.Unmarshal(text, (*float64)(n))
}
