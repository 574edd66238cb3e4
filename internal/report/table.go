package report

import (
	"fmt"
	"slices"
	"strings"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/limit"
	"spile/unit"
)

// tableEvery is how far apart the rows of a table are, in hours.
const tableEvery = 12

// Table is a simulated run for a terminal of 80 columns: the four quantities as
// small plots, twice a day in numbers, what was done, and where the gas went.
func Table(b *batch.Batch, run *batchfile.Simulated, style unit.Style) string {
	var out strings.Builder
	out.WriteString(spread(b.Name, fmt.Sprintf("simulated, seed %d", run.Seed)) + "\n" + strings.Repeat("─", columns) + "\n\n")
	c := SimulatedChart(b, run, style)
	for i := range c.Strips {
		s := &c.Strips[i]
		low, high := slices.Min(s.Mid), slices.Max(s.Mid)
		name := s.Name
		fmt.Fprintf(&out, "%-16s%s  %s\n", name, bars(s.Mid, 36), "from "+s.bare(low)+" to "+s.number(high))
	}
	out.WriteString("\n" + tableHead(c))
	for i, h := range run.Hours {
		if int(h)%tableEvery == 0 {
			out.WriteString(tableRow(c, run, i))
		}
	}
	writeSteps(&out, c)
	writeLedger(&out, c, run)
	for i, l := range run.Limits {
		section(&out, either(i == 0, "Safety", ""), l.Severity.String()+": "+l.Sentence)
	}
	section(&out, either(len(run.Limits) == 0, "Safety", ""), string(limit.Caution("c.plate")))
	return out.String()
}

// tableRows is the form of a line: time, hours, gravity, pressure, gas, temperature, alcohol.
const tableRows = "%-17s %5s %9s %10s %9s %10s %9s\n"

func tableHead(c *Chart) string {
	gravity := either(c.Strips[0].Measure.Unit == "", "gravity", c.Strips[0].Measure.Unit)
	return fmt.Sprintf(tableRows, "", "hours", gravity, "pressure", c.Strips[2].Measure.Unit, "temp", "alcohol")
}

// tableRow has one digit more than is said of a belief, where it is known exactly.
func tableRow(c *Chart, run *batchfile.Simulated, i int) string {
	cell := func(s, more int) string {
		m := c.Strips[s].Measure
		return m.Fixed(c.Strips[s].Mid[i], m.Decimals()+more)
	}
	return fmt.Sprintf(tableRows, c.time(run.Hours[i]).Format("Mon 2 Jan 15:04"), fmt.Sprintf("%.0f", run.Hours[i]), cell(0, 1),
		c.Strips[1].Measure.With(cell(1, 0)), cell(2, 1), c.Strips[3].Measure.With(cell(3, 0)), c.Strips[0].Measure.Fixed(100*run.ABV[i], 2)+" %")
}

func writeSteps(out *strings.Builder, c *Chart) {
	out.WriteString("\nWhat was set\n")
	for _, m := range c.Plan {
		fmt.Fprintf(out, "%-17s %5.0f  %s\n", c.time(m.Hour).Format("Mon 2 Jan 15:04"), m.Hour, m.Text)
	}
}

// writeLedger shows the balance with every digit there is, so that it can be checked.
func writeLedger(out *strings.Builder, c *Chart, run *batchfile.Simulated) {
	l := run.Ledger[len(run.Ledger)-1]
	out.WriteString("\nWhere the gas went, in grams of carbon dioxide\n")
	for _, x := range []struct {
		name string
		kg   unit.Mass
	}{
		{"there at pitching", l.Start}, {"made", l.Made}, {"taken from the cylinder", l.Supplied}, {"in the beer", l.Dissolved},
		{"above the beer", l.Headspace}, {"let out", l.Vented}, {"lost", l.Leaked}, {"poured away with the beer", l.Drawn},
	} {
		fmt.Fprintf(out, "%-28s %18s\n", x.name, c.Strips[0].Measure.Fixed(x.kg.Grams(), 10))
	}
}
