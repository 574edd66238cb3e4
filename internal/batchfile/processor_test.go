package batchfile

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/oracle"
	"spile/unit"
)

// unfused finds in the Makefile how it builds for other processors than amd64.
var unfused = regexp.MustCompile(`-gcflags=\S*fmahash\S*`)

// tellTo names, in the environment, the file to which the program that runs on another processor writes its forecasts.
const tellTo = "SPILE_FORECASTS_TO"

// The same input and seed give the same bytes on another processor as on this one, and on one core as on two: the
// test is built for arm64 and run there, or by an emulator of it. So is a plan.
func TestForecastIsTheSameOnEveryProcessor(t *testing.T) {
	if to := os.Getenv(tellTo); to != "" {
		if err := os.WriteFile(to, forecasts(t, 1), 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	makefile, err := os.ReadFile("../../Makefile")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	program, told := filepath.Join(dir, "arm64.test"), filepath.Join(dir, "told.json")
	oracle.Run(t, []string{"qemu-aarch64", "--version"}, "", "env", "GOARCH=arm64", "CGO_ENABLED=0", "go", "test", "-c", string(unfused.Find(makefile)), "-o", program, ".")
	t.Setenv(tellTo, told)
	oracle.Run(t, []string{"qemu-aarch64", "--version"}, "", "qemu-aarch64", program, "-test.run", "^"+t.Name()+"$")
	got, err := os.ReadFile(told)
	if err != nil {
		t.Fatal(err)
	}
	if want := forecasts(t, 2); !bytes.Equal(got, want) {
		t.Errorf("on arm64 the forecasts are others than here:\n%s", oracle.Change(string(want), string(got)))
	}
}

// forecasts of the examples and a plan for the first, as JSON, and what they were made from to the last digit.
func forecasts(t *testing.T, workers int) []byte {
	var out bytes.Buffer
	for _, name := range []string{"pale", "quiet"} {
		b, err := ReadBatch("../../docs/examples/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		log, err := ReadLog("../../docs/examples/"+name+".csv", b)
		if err != nil {
			t.Fatal(err)
		}
		at := log.Readings[len(log.Readings)-1].Time
		belief, err := estimate.Condition(b, log, at, estimate.Options{Seed: 1, Members: 100, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		f, err := belief.Forecast()
		if err != nil {
			t.Fatal(err)
		}
		told, err := ForecastJSON(f, advice.Say(b, log, batch.Upkeep{}, f, f.At, unit.Style{}), b, time.Duration(0), nil)
		if err != nil {
			t.Fatal(err)
		}
		out.Write(told)
		fmt.Fprintf(&out, "%v\n%v\n", f.Series, f.Diagnostics)
		if name != "pale" { // one plan is enough, and slow in an emulator
			continue
		}
		p, err := belief.Plan(at.Add(6*24*time.Hour), nil)
		if err != nil {
			t.Fatal(err)
		}
		if told, err = PlanJSON(p, advice.SayPlan(b, log, p, unit.Style{}), b); err != nil {
			t.Fatal(err)
		}
		out.Write(told)
	}
	return out.Bytes()
}
