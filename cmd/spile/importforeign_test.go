package main

import (
	"regexp"
	"strings"
	"testing"
)

// words splits a command line as a shell does, with single quotes alone.
func words(line string) (out []string) {
	for _, m := range regexp.MustCompile(`'([^']*)'|(\S+)`).FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

const foreignReadings = "Datum;Zeit;Druck;Bier Temp;SG;Akku\n21.11.2026;18:30;10,5;19,5;1,040;3,9\n22.11.2026;18:30;11,0;19,5;1,031;3,9\n23.11.2026;18:30;lost;19,5;1,022;3,8\n"

// A file of anybody's making is told as it is guessed, with the very line that keeps it.
func TestForeignReadings(t *testing.T) {
	aShed(t)
	works(t, "import --data c b.yaml")
	put(t, "f.csv", foreignReadings)
	const name = "Sluice Gate Pale, third"
	out := works(t, "import --data c f.csv --batch", name)
	for _, says := range []string{`column 3, "Druck", such as "10,5 11,0 lost": ?`, "In which unit was the pressure read?", "beer temperature C; guessed", "dates with the day first", "times without a zone are those of +01:00", "Nothing was kept.",
		`--columns '1=date,2=clock,3=?,4=beer temperature C,5=gravity SG' --zone +01:00 --day-first --decimal comma`} {
		if !strings.Contains(out, says) {
			t.Errorf("expected %q in\n%s", says, out)
		}
	}
	command := strings.Replace(regexp.MustCompile(`(?m)^spile (.*)$`).FindStringSubmatch(out)[1], "3=?", "3=pressure psi", 1)
	_, stderr, code := line("", words(command)...)
	if code != exitUsage || stderr != "f.csv:4: 1 row cannot be read; accepted: --skip-bad, to keep the others\n" {
		t.Errorf("a row that cannot be read: %d %s", code, stderr)
	}
	if out := works(t, "", append(words(command), "--dry-run")...); !strings.Contains(out, `line 4: Druck "lost": a number was expected; accepted: 10 psi, 0.7 bar or 70 kPa`) || !strings.Contains(out, "leave out\n") || !strings.Contains(out, "pressure_kpa: 2, 72.3949515783 to 75.8423302249") {
		t.Errorf("dry run:\n%s", out)
	}
	if n := len(derived(t, "c").Log.Readings); n != 0 {
		t.Fatalf("%d readings were kept", n)
	}
	out = works(t, "", append(words(command), "--skip-bad")...)
	if r := derived(t, "c").Log.Readings; len(r) != 6 || r[0].Time.UTC().Format("2006-01-02 15:04") != "2026-11-21 17:30" {
		t.Errorf("kept %+v", r)
	}
	if again := works(t, "", append(words(command), "--skip-bad", "--dry-run")...); !strings.Contains(again, "6 of them are there already") {
		t.Errorf("again:\n%s", again)
	}
	works(t, out[strings.Index(out, "import --data"):len(out)-1])
	if n := len(derived(t, "c").Log.Readings); n != 0 {
		t.Errorf("taken back: %d readings are left", n)
	}
}

// What the guess prints keeps the file as it is, where nothing is asked.
func TestForeignLineAsPrinted(t *testing.T) {
	aShed(t)
	works(t, "import --data c b.yaml")
	put(t, "another file.tsv", "time\tbeer °C\n2026-11-21 18:30\t19.5\n")
	out := works(t, "import --data c --zone Europe/Berlin --batch", "Sluice Gate Pale, third", "another file.tsv")
	works(t, "", words(regexp.MustCompile(`(?m)^spile (.*)$`).FindStringSubmatch(out)[1])...)
	if r := derived(t, "c").Log.Readings; len(r) != 1 || r[0].Value != 292.65 {
		t.Errorf("kept %+v of\n%s", r, out)
	}
}

// What is told of a READINGS.csv is heeded: its columns need not be told for that.
func TestFlagsBesideReadings(t *testing.T) {
	aShed(t)
	works(t, "import --data c b.yaml")
	put(t, "r.csv", "time,gravity_sg\n2026-11-22T18:30:00+01:00,1.040\n2026-11-23T18:30:00+01:00,lost\n")
	const name = "Sluice Gate Pale, third"
	if _, stderr, code := line("import --data c r.csv --batch", name); code != exitUsage || !strings.Contains(stderr, "r.csv:3") {
		t.Errorf("a row that cannot be read: %d %s", code, stderr)
	}
	works(t, "import --data c r.csv --skip-bad --batch", name)
	if r := derived(t, "c").Log.Readings; len(r) != 1 || r[0].Value != 1.04 {
		t.Errorf("kept %+v", r)
	}
}

func TestForeignRefusals(t *testing.T) {
	aShed(t)
	works(t, "import --data c b.yaml")
	put(t, "f.csv", "when,pressure psi\n1/2/2026,10\n")
	put(t, "one.csv", "x\n1\n")
	for _, c := range []struct{ line, says string }{
		{"--columns 1=date,2=wort f.csv", `--columns: read column "2=wort"; accepted: the number of a column and what it is, as 2=pressure psi`},
		{"--columns 0=date f.csv", `read column "0=date"`},
		{"--columns 1=date --zone Narnia f.csv", `--zone: read zone "Narnia"; accepted: a continent and city`},
		{"--columns 1=date f.csv", "Which comes first in the dates, the day or the month?; accepted: the answer"},
		{"one.csv", "one.csv:1: one column alone; accepted: a column with the time"},
		{"none.csv", "none.csv: no such file"},
		{"--day-first --month-first f.csv", "can't be used together"},
	} {
		_, stderr, code := line("import --data c --batch", append([]string{"Sluice Gate Pale, third"}, strings.Fields(c.line)...)...)
		if code != exitUsage || !strings.Contains(stderr, c.says) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%s: %d %q, want %q", c.line, code, stderr, c.says)
		}
	}
	if _, stderr, code := line("import --data c --day-first b.yaml"); code != exitUsage || !strings.Contains(stderr, "with a CSV file alone") {
		t.Errorf("%d %s", code, stderr)
	}
}
