package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"spile/internal/store"
)

// It serves where it says, and ends with exit code 0 once it is told to, answers first; pages that follow do not hold it up.
func TestServe(t *testing.T) {
	until, stop := context.WithCancel(t.Context())
	cellar, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	defer cellar.Close()
	out, in := io.Pipe()
	ended := make(chan error, 1)
	go func() {
		ended <- (&ServeCmd{Listen: "127.0.0.1:0"}).serve(until, &Context{Stdout: in, Stderr: io.Discard}, cellar)
	}()
	said, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	go io.Copy(io.Discard, out) //nolint:errcheck // it ends with the test
	address := strings.TrimSpace(strings.TrimPrefix(said, "Spile is open at "))
	answer, err := http.Get(address + "/healthz")
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(answer.Body)
	answer.Body.Close()
	if err != nil || string(body) != "ok\n" {
		t.Errorf("expected ok, got %q, %v", body, err)
	}
	// a second one on the same port
	err = (&ServeCmd{Listen: strings.TrimPrefix(address, "http://")}).serve(until, &Context{Stdout: io.Discard, Stderr: io.Discard}, cellar)
	if err == nil || !strings.Contains(err.Error(), "is taken by another program") {
		t.Errorf("a port that is taken: %v", err)
	}
	if said := listenError("0.0.0.0:8417", syscall.EADDRINUSE).Error(); !strings.HasSuffix(said, "--listen 0.0.0.0:8418") {
		t.Errorf("another port is told that others cannot reach: %s", said)
	}
	following, err := http.Get(address + "/live")
	if err != nil {
		t.Fatal(err)
	}
	defer following.Body.Close()
	stop()
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("stopped with %v", err)
		}
	case <-time.After(2 * stopWithin):
		t.Error("it does not stop")
	}
}

// Nothing that others could reach is opened without a password, and nothing is made then.
func TestServeRefuses(t *testing.T) {
	t.Setenv(ownerVariable, "")
	dir := filepath.Join(t.TempDir(), "cellar")
	for listen, say := range map[string]string{
		"0.0.0.0:8417": "owner's password", ":8417": "owner's password", "192.168.1.7:8417": "owner's password", "[::]:8417": "owner's password",
		"shed.example:8417": "owner's password", "8417": "an address and a port", "127.0.0.1:99999": "cannot be had",
	} {
		var stdout, stderr strings.Builder
		if code := run([]string{"serve", "--data", dir, "--listen", listen}, &stdout, &stderr); code != exitUsage || !strings.Contains(stderr.String(), say) || strings.Count(stderr.String(), "\n") != 1 || stdout.Len() > 0 {
			t.Errorf("%s: exit %d, %s%s", listen, code, stdout.String(), stderr.String())
		}
		if _, err := os.Stat(dir); err == nil && listen != "127.0.0.1:99999" {
			t.Errorf("%s: a folder was made", listen)
		}
		os.RemoveAll(dir)
	}
	t.Setenv(ownerVariable, "short")
	if _, stderr, code := line("serve --listen 0.0.0.0:0 --data", dir); code != exitUsage || !strings.Contains(stderr, "8 to 200") {
		t.Errorf("a short password: exit %d, %s", code, stderr)
	}
	for listen, want := range map[string]bool{"127.0.0.1:0": false, "localhost:0": false, "[::1]:0": false, "127.3.4.5:1": false, "127.0.0.1.example:1": true, "10.0.0.1:1": true} {
		if wide, err := widely(listen); err != nil || wide != want {
			t.Errorf("%s: %v, %v", listen, wide, err)
		}
	}
}

// served runs a server until the test ends; out is what it said, its address first.
func served(t *testing.T, cellar *store.Store, as ServeCmd) (out []string) {
	t.Helper()
	until, stop := context.WithCancel(t.Context())
	from, in := io.Pipe()
	ended := make(chan error, 1)
	go func() { ended <- as.serve(until, &Context{Stdout: in, Stderr: io.Discard}, cellar); in.Close() }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Errorf("stopped with %v", err)
		}
	})
	lines := bufio.NewScanner(from)
	for lines.Scan() {
		if out = append(out, lines.Text()); strings.HasPrefix(lines.Text(), "Stop it") {
			break
		}
	}
	go io.Copy(io.Discard, from) //nolint:errcheck // it ends with the test
	return out
}

// Beyond this machine there is an owner, a login, and a square to photograph.
func TestServeBeyond(t *testing.T) {
	dir := t.TempDir()
	cellar, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cellar.Close() })
	if err := (&ServeCmd{Listen: "0.0.0.0:0"}).serve(t.Context(), &Context{Stdout: io.Discard, Stderr: io.Discard}, cellar); err == nil || !strings.Contains(err.Error(), "no owner yet") {
		t.Fatalf("without an owner: %v", err)
	}
	if _, err := cellar.AddPerson(t.Context(), ownerName, store.Owner, "ladder otter lamp"); err != nil {
		t.Fatal(err)
	}
	said := served(t, cellar, ServeCmd{Listen: "0.0.0.0:0"})
	address, _, _ := strings.Cut(strings.TrimPrefix(said[0], "Spile is open at "), ",")
	address, _, _ = strings.Cut(address, " and ")
	if len(said) < 15 || !strings.Contains(strings.Join(said, ""), "▀") {
		t.Errorf("no square: %q", said)
	}
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	ask := func(host, path string) int {
		r, err := http.NewRequest(http.MethodGet, address+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		if host != "" {
			r.Host = host
		}
		w, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		w.Body.Close()
		return w.StatusCode
	}
	for _, c := range []struct {
		host, path string
		code       int
	}{{"", "/", 303}, {"", "/healthz", 200}, {"", "/something-is-wrong", 200}, {"", "/api/v1/batches", 401}, {"", "/metrics", 401}, {"rebound.example", "/healthz", 421}, {"8.8.8.8", "/healthz", 421}} {
		if code := ask(c.host, c.path); code != c.code {
			t.Errorf("%s%s: got %d, want %d", c.host, c.path, code, c.code)
		}
	}
	if answer, err := client.PostForm(address+"/login", url.Values{"password": {"ladder otter lamp"}}); err != nil || answer.StatusCode != http.StatusSeeOther || len(answer.Cookies()) != 1 || !answer.Cookies()[0].HttpOnly || answer.Cookies()[0].SameSite != http.SameSiteLaxMode {
		t.Errorf("log in: %v, %v", answer, err)
	}
	slowBodies(t, strings.TrimPrefix(address, "http://"))
	if code := ask("", "/healthz"); code != 200 {
		t.Errorf("beside many slow senders: %d", code)
	}
}

// slowBodies opens as many connections as one machine may, none of which ever sends its body, and more.
func slowBodies(t *testing.T, address string) {
	t.Helper()
	refused := 0
	for range linesPerClient + 20 {
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		fmt.Fprintf(c, "POST /login HTTP/1.1\r\nHost: %s\r\nContent-Length: 1000\r\n\r\n", address)
	}
	// the last ones were let go unheard
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c.SetReadDeadline(time.Now().Add(2 * time.Second)) //nolint:errcheck // the read says so
	if _, err := c.Read(make([]byte, 1)); err != nil && !errors.Is(err, os.ErrDeadlineExceeded) {
		refused++
	}
	if refused == 0 {
		t.Error("one machine may take any number of connections")
	}
}

// A key made beside the server adds readings to its vessel, and nothing else.
func TestUserAndDevice(t *testing.T) {
	furnished(t)
	if _, stderr, code := line("device add strip --data c --batch nothing"); code != exitUsage || !strings.Contains(stderr, "accepted: Sluice Gate Pale, third") {
		t.Errorf("a batch that is not there: %d, %s", code, stderr)
	}
	cellar, err := store.Open("c")
	if err != nil {
		t.Fatal(err)
	}
	defer cellar.Close()
	address, _, _ := strings.Cut(strings.TrimPrefix(served(t, cellar, ServeCmd{Listen: "127.0.0.1:0"})[0], "Spile is open at "), ",")
	var made struct{ Name, Key string }
	if err := json.Unmarshal([]byte(works(t, "device add strip --format json --data c --batch", "sluice gate pale, third")), &made); err != nil || made.Name != "strip" || made.Key == "" {
		t.Fatal(made, err)
	}
	answer, err := http.Post(address+"/in/"+made.Key, "application/json", strings.NewReader(`{"quantity":"pressure","value":11,"unit":"psi"}`))
	if err != nil || answer.StatusCode != http.StatusCreated {
		t.Fatal(answer, err)
	}
	answer.Body.Close()
	if out := works(t, "device list --data c"); !strings.HasPrefix(out, "strip ") {
		t.Errorf("listed: %s", out)
	}
	works(t, "device remove --data c strip")
	if _, stderr, code := line("device remove --data c strip"); code != exitUsage || !strings.Contains(stderr, "no device is called") {
		t.Errorf("taken away twice: %d, %s", code, stderr)
	}
	if answer, err = http.Post(address+"/in/"+made.Key, "application/json", strings.NewReader(`{}`)); err != nil || answer.StatusCode != http.StatusUnauthorized {
		t.Errorf("a key that was taken away: %v, %v", answer, err)
	}
	answer.Body.Close()
	typing(t, "ladder otter lamp\n")
	if out := works(t, "user add --data c --role owner Ada"); out != "Ada may come in as owner.\n" {
		t.Error(out)
	}
	typing(t, "another one entirely\n")
	works(t, "user password --data c ada")
	if who, err := cellar.Login(t.Context(), "Ada", "another one entirely"); err != nil || who.Role != store.Owner {
		t.Error(who, err)
	}
	if out := works(t, "user list --data c"); !strings.HasPrefix(out, "Ada  owner  since ") {
		t.Error(out)
	}
	typing(t, "")
	if _, stderr, code := line("user add --data c Bo"); code != exitUsage || !strings.Contains(stderr, "no password") {
		t.Errorf("no password: %d, %s", code, stderr)
	}
	if _, stderr, code := line("user remove --data c Ada"); code != exitUsage || !strings.Contains(stderr, "the only owner") {
		t.Errorf("the only owner is taken out: %d, %s", code, stderr)
	}
	typing(t, "four words put together\n")
	works(t, "user add --data c --role viewer Bo")
	works(t, "user remove --data c Bo")
	for _, words := range []string{"user remove --data none Ada", "device remove --data none strip", "user list --data none", "device add x --batch y --data none"} {
		if _, stderr, code := line(words); code != exitUsage || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%s: %d, %s", words, code, stderr)
		}
		if _, err := os.Stat("none"); err == nil {
			t.Fatalf("%s made a cellar", words)
		}
	}
}

// typing puts a text where a person types.
func typing(t *testing.T, text string) {
	t.Helper()
	put(t, "typed", text)
	f, err := os.Open("typed")
	if err != nil {
		t.Fatal(err)
	}
	before := os.Stdin
	os.Stdin = f
	t.Cleanup(func() { os.Stdin = before; f.Close() })
}

// The first backup is taken and proved as soon as the cellar is served.
func TestServeBacksUp(t *testing.T) {
	until, stop := context.WithCancel(t.Context())
	dir := t.TempDir()
	cellar, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer cellar.Close()
	ended := make(chan error, 1)
	go func() {
		ended <- (&ServeCmd{Listen: "127.0.0.1:0"}).serve(until, &Context{Stdout: io.Discard, Stderr: io.Discard}, cellar)
	}()
	pattern := filepath.Join(dir, store.BackupsDir, "nightly-2*.db")
	for deadline := time.Now().Add(time.Minute); ; time.Sleep(20 * time.Millisecond) {
		if found, err := filepath.Glob(pattern); err != nil || len(found) == 1 {
			break
		}
		if time.Now().After(deadline) {
			t.Error("no backup within a minute")
			break
		}
	}
	stop()
	if err := <-ended; err != nil {
		t.Errorf("stopped with %v", err)
	}
}

// A password is typed twice, and what is wrong with it is said before it is typed again.
func TestPasswordsAreTypedTwice(t *testing.T) {
	const long = "four words put together"
	for _, c := range []struct {
		typed      []string
		want, said string
	}{
		{[]string{long, long}, long, "Password: \nOnce more: \n"},
		{[]string{"short", long, long}, long, "Password: \na password of 5 letters"},
		{[]string{long, "fuor words", long, long}, long, "Once more: \nthe two passwords differ"},
		{[]string{"a", "b", "c"}, "", "a password of 1 letters"},
	} {
		var said strings.Builder
		left := c.typed
		got, err := typeTwice(&said, func() (string, error) {
			line := left[0]
			left = left[1:]
			return line, nil
		})
		if got != c.want || (err == nil) != (c.want != "") || len(left) != 0 || !strings.Contains(said.String(), c.said) {
			t.Errorf("%q: got %q, %v, %d left, said %q", c.typed, got, err, len(left), said.String())
		}
	}
}
