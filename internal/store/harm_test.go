//go:build unix

package store

import (
	"bufio"
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"spile/batch"
)

// The test program is also the process that is killed: with a folder in this variable
// it keeps entries and says so, until it is ended.
const childVariable = "SPILE_STORE_TEST_CHILD"

// readVariable makes it read instead, and say how much.
const readVariable = "SPILE_STORE_TEST_READ"

func readOnce(dir string) (int, error) {
	s, err := OpenReader(dir)
	if err != nil {
		return 0, err
	}
	defer s.Close()
	r, err := s.Verify(ctx)
	return r.Entries - len(r.Findings), err
}

func TestMain(m *testing.M) {
	if dir := os.Getenv(childVariable); dir != "" && os.Getenv(readVariable) != "" {
		fmt.Println(readOnce(dir))
		os.Exit(1)
	} else if dir != "" {
		fmt.Println(keepForEver(dir))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// keepForEver keeps readings of four writers and prints the id of each once it is confirmed.
func keepForEver(dir string) error {
	s, err := Open(dir)
	if err != nil {
		return err
	}
	b := NewID()
	failed := make(chan error)
	for range 4 {
		go func() {
			for i := 0; ; i++ {
				e := oneReading(b, i)
				if _, err := s.Append(ctx, e); err != nil {
					failed <- err
					return
				}
				os.Stdout.WriteString(e.ID.String() + "\n") //nolint: where the parent has gone this process is ended too
			}
		}()
	}
	return <-failed
}

// child starts the test program on a folder.
func child(t *testing.T, dir string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), childVariable+"="+dir)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c, bufio.NewScanner(out)
}

// A process that is killed at any moment loses nothing that it confirmed, and doubles nothing.
func TestKilledWriterLosesNothing(t *testing.T) {
	const seed = 5
	chance := rand.New(rand.NewPCG(seed, 1))
	dir := t.TempDir()
	confirmed := map[batch.ID]bool{}
	for kill := range 12 {
		c, out := child(t, dir)
		for n := 1 + chance.IntN(200); n > 0 && out.Scan(); n-- {
			id, err := batch.ParseID(out.Text())
			if err != nil {
				t.Fatalf("kill %d of seed %d: %s", kill, seed, out.Text())
			}
			confirmed[id] = true
		}
		if err := c.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		for out.Scan() { // what it confirmed before the kill reached it; the last line may be cut off
			if id, err := batch.ParseID(out.Text()); err == nil {
				confirmed[id] = true
			}
		}
		c.Wait() //nolint: it was killed
	}
	s := opened(t, dir)
	found := map[batch.ID]int{}
	damaged, err := s.Each(ctx, func(e Stored) error { found[e.ID]++; return nil })
	if err != nil || len(damaged) > 0 {
		t.Fatal(damaged, err)
	}
	for id := range confirmed {
		if found[id] != 1 {
			t.Errorf("seed %d: confirmed entry %s: expected once, found %d times", seed, id, found[id])
		}
	}
	sound(t, s, len(found))
	if len(confirmed) < 12 {
		t.Errorf("only %d entries were confirmed: the test killed nothing at work", len(confirmed))
	}
}

// A folder that its user may not write: one sentence, and it can still be read.
func TestReadOnlyFolder(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root can run a process as another user")
	}
	dir, err := os.MkdirTemp("/tmp", "spile-store-") // t.TempDir lies in a folder of root
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	s := opened(t, dir)
	keep(t, s, oneReading(NewID(), 1))
	s.Close()
	if err := os.Chmod(filepath.Join(dir, DataFile), 0o444); err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(dir, "test")
	if err := copyFile(os.Args[0], program); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(program, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	nobody := func(more ...string) string {
		c := exec.Command(program)
		c.Env = append(append(os.Environ(), childVariable+"="+dir), more...)
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		out, _ := c.Output() // it ends with 1, and prints why
		return string(out)
	}
	if out := nobody(); !strings.Contains(out, "the folder cannot be written; nothing was changed") || strings.Count(out, "\n") != 1 {
		t.Errorf("to write: expected one sentence, got %q", out)
	}
	if out := nobody(readVariable + "=1"); out != "1 <nil>\n" {
		t.Errorf("to read: expected the one entry, got %q", out)
	}
}

// One wrong bit anywhere in the file: no wrong entry is ever shown, and whatever is
// missing or changed is found by Verify. SQLite's own check lets most of these through.
func TestOneWrongBit(t *testing.T) {
	const seed, flips = 11, 250
	dir := t.TempDir()
	s := opened(t, dir)
	logs := []batch.ID{NewID(), NewID(), {}}
	for i := range 360 {
		keep(t, s, oneReading(logs[i%3], i))
	}
	truth := map[batch.ID][]byte{}
	if _, err := s.Each(ctx, func(e Stored) error { truth[e.ID] = e.Form; return nil }); err != nil {
		t.Fatal(err)
	}
	s.Close()
	whole, err := os.ReadFile(filepath.Join(dir, DataFile))
	if err != nil {
		t.Fatal(err)
	}
	chance := rand.New(rand.NewPCG(seed, 1))
	harmed, named := 0, 0
	path := filepath.Join(t.TempDir(), "flipped.db")
	for range flips {
		at, bit := chance.IntN(len(whole)), byte(1)<<chance.IntN(8)
		flipped := bytes.Clone(whole)
		flipped[at] ^= bit
		if err := os.WriteFile(path, flipped, 0o600); err != nil {
			t.Fatal(err)
		}
		harm, name := judge(t, path, truth, fmt.Sprintf("seed %d: bit %#x of byte %d", seed, bit, at))
		if harm {
			harmed++
		}
		if name {
			named++
		}
	}
	t.Logf("%d of %d flips harmed an entry, %d of these were named by their id", harmed, flips, named)
	if harmed < flips/4 {
		t.Errorf("only %d of %d flips did harm: the test looks at the wrong bytes", harmed, flips)
	}
}

// judge tells whether a flipped file serves less than the truth, and whether what it lacks is named.
func judge(t *testing.T, path string, truth map[batch.ID][]byte, where string) (harm, named bool) {
	s, err := openFile(path)
	if err != nil {
		return false, false // refused whole
	}
	defer s.Close()
	served := map[batch.ID]bool{}
	_, err = s.Each(ctx, func(e Stored) error {
		if !bytes.Equal(truth[e.ID], e.Form) {
			t.Errorf("%s: a wrong entry was served: %s", where, e.Form)
		}
		served[e.ID] = true
		return nil
	})
	report, broken := s.Verify(ctx)
	if len(served) == len(truth) && err == nil {
		return false, false
	}
	if len(report.Findings) == 0 && broken == nil {
		t.Errorf("%s: %d of %d entries are served and nothing is found", where, len(served), len(truth))
	}
	named = true
	for id := range truth {
		if !served[id] {
			named = named && strings.Contains(fmt.Sprint(report.Findings), id.String())
		}
	}
	return true, named
}
