package web

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"spile/internal/store"
)

// program is the program itself, built once for all tests that start it.
var program = sync.OnceValues(func() (string, error) {
	dir, err := filepath.Abs("../../build")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "spile-tested")
	said, err := exec.Command("go", "build", "-o", path, "spile/cmd/spile").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, said)
	}
	return path, nil
})

// served is the program serving a cellar, which can be killed and started again at the same address.
type served struct {
	t       testing.TB
	data    string
	address string
	running *exec.Cmd
	said    bytes.Buffer // what it says of itself, behind its first line
	reading sync.WaitGroup
}

func serveProgram(t *testing.T) *served {
	t.Helper()
	s := &served{t: t, data: t.TempDir(), address: "127.0.0.1:0"}
	s.start()
	t.Cleanup(s.kill)
	return s
}

// run runs another command of the program on the same cellar.
func (s *served) run(args ...string) string {
	s.t.Helper()
	path, err := program()
	if err != nil {
		s.t.Fatal(err)
	}
	out, err := exec.Command(path, append(args, "--data", s.data)...).Output()
	if err != nil {
		s.t.Fatalf("%v: %v\n%s", args, err, out)
	}
	return string(out)
}

func (s *served) start() {
	s.t.Helper()
	path, err := program()
	if err != nil {
		s.t.Fatal(err)
	}
	s.running = exec.Command(path, "serve", "--data", s.data, "--listen", s.address)
	out, err := s.running.StdoutPipe()
	if err != nil {
		s.t.Fatal(err)
	}
	s.running.Stderr = &s.said
	if err := s.running.Start(); err != nil {
		s.t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	first, err := lines.ReadString('\n')
	if err != nil {
		s.t.Fatalf("it does not say where it is: %v", err)
	}
	s.address = strings.TrimPrefix(strings.TrimSpace(strings.TrimPrefix(first, "Spile is open at")), "http://")
	if _, _, err := net.SplitHostPort(s.address); err != nil {
		s.t.Fatalf("it says %q", first)
	}
	s.reading.Go(func() { lines.WriteTo(&bytes.Buffer{}) }) //nolint:errcheck // it ends with the program
}

// kill ends it without a word, as a pulled plug does.
func (s *served) kill() {
	s.running.Process.Kill() //nolint:errcheck // it may have ended
	s.reading.Wait()
	s.running.Wait() //nolint:errcheck // it was killed
}

func (s *served) home() string { return "http://" + s.address }

// What a server said it had kept is there after it was killed in the middle of keeping more.
func TestKilledServerLosesNothing(t *testing.T) {
	s := serveProgram(t)
	kept := map[string]bool{}
	for round := range 3 {
		var killed sync.WaitGroup
		pull := time.After(400 * time.Millisecond)
		killed.Go(func() { <-pull; s.running.Process.Kill() }) //nolint:errcheck // the next request tells
		for n := 0; ; n++ {
			id := store.NewID().String()
			answer, err := http.PostForm(s.home()+"/add/place", map[string][]string{"name": {fmt.Sprintf("Place %d-%d", round, n)}, "ambient_k": {"18"}, "unknown": {"altitude_m", "someone_sleeps_here"}, "none": {"fridge.coldest_k", "belt_w"}, "once": {id}})
			if err != nil {
				break
			}
			body, err := io.ReadAll(answer.Body)
			answer.Body.Close()
			if err != nil {
				break
			}
			if !strings.HasPrefix(answer.Request.URL.Path, "/what-i-have") {
				t.Fatalf("it leads to %s\n%s", answer.Request.URL, body)
			}
			kept[fmt.Sprintf("Place %d-%d", round, n)] = true
		}
		killed.Wait()
		s.kill()
		s.start()
	}
	if len(kept) < 3 {
		t.Fatalf("only %d were kept before the plug was pulled", len(kept))
	}
	t.Logf("%d kept by servers that were killed", len(kept))
	all := s.run("export")
	for name := range kept {
		if !strings.Contains(all, `"`+name+`"`) {
			t.Errorf("%s was kept and is lost", name)
		}
	}
	s.run("verify")
}
