package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"path/filepath"
	"strings"
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
	go func() { ended <- serve(until, &Context{Stdout: in, Stderr: io.Discard}, "127.0.0.1:0", cellar) }()
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
	err = serve(until, &Context{Stdout: io.Discard, Stderr: io.Discard}, strings.TrimPrefix(address, "http://"), cellar)
	if err == nil || !strings.Contains(err.Error(), "is taken by another program") {
		t.Errorf("a port that is taken: %v", err)
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

// Nothing that others could reach is opened without a password.
func TestServeRefuses(t *testing.T) {
	for listen, say := range map[string]string{
		"0.0.0.0:8417": "owner's password", ":8417": "owner's password", "192.168.1.7:8417": "owner's password", "[::]:8417": "owner's password",
		"shed.example:8417": "owner's password", "8417": "an address and a port", "127.0.0.1:99999": "cannot be had",
	} {
		var stdout, stderr strings.Builder
		if code := run([]string{"serve", "--listen", listen}, &stdout, &stderr); code != exitUsage || !strings.Contains(stderr.String(), say) || strings.Count(stderr.String(), "\n") != 1 || stdout.Len() > 0 {
			t.Errorf("%s: exit %d, %s%s", listen, code, stdout.String(), stderr.String())
		}
	}
	for _, listen := range []string{"127.0.0.1:0", "localhost:0", "[::1]:0"} {
		if err := loopbackOnly(listen); err != nil {
			t.Errorf("%s: %v", listen, err)
		}
	}
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
	go func() { ended <- serve(until, &Context{Stdout: io.Discard, Stderr: io.Discard}, "127.0.0.1:0", cellar) }()
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
