package report

import (
	"fmt"
	"math"
	"strings"

	"spile/advice"
)

// columns is the width of everything written to a terminal.
const columns = 80

// Text is a forecast to be read aloud, 80 columns wide.
func Text(v *View) string {
	said := v.Said
	var out strings.Builder
	word := string(said.State)
	if len(said.Also) > 0 {
		word += ", " + strings.Join(said.Also, ", ")
	}
	out.WriteString(spread(v.Batch.Name, word) + "\n" + strings.Repeat("─", columns) + "\n")
	section(&out, "Now", append([]string{v.Style.Word(said.State.Spoken()) + " " + said.Now[0]}, said.Now[1:]...)...)
	writeNext(&out, said)
	writeAhead(&out, said)
	c := ForecastChart(v)
	out.WriteString("\n" + c.plot(&c.Strips[0], 9))
	if !flat(&c.Strips[1]) {
		out.WriteString("\n" + c.plot(&c.Strips[1], 6))
	}
	writeCompared(&out, v)
	var amiss []string
	for _, finding := range said.Findings {
		amiss = append(amiss, advice.Odds(finding.Probability, v.Style)+": "+finding.Sentence, finding.Settles)
	}
	section(&out, "Amiss?", append(amiss, said.Doubts...)...)
	for i, a := range said.Asked {
		section(&out, either(i == 0, "Asked", ""), a.Label+either(strings.HasSuffix(a.Label, "?"), " ", ": ")+strings.Join(a.Sentences, " "))
		if a.Caution != "" {
			section(&out, "", "Take care: "+a.Caution)
		}
	}
	writeSince(&out, v)
	section(&out, "Safety", said.Worst, said.Plate)
	section(&out, "More", "Every number: --format json. A page with drawings: --format html.")
	return out.String()
}

func either(yes bool, a, b string) string {
	if yes {
		return a
	}
	return b
}

// flat tells a strip that never leaves the scale's least height.
func flat(s *Strip) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range s.Mid {
		low, high = math.Min(low, s.Mid[i]), math.Max(high, s.Mid[i])
	}
	return high-low < s.Least/4
}

// writeNext is the one next action, its time, its reason and its caution; the rest in short.
func writeNext(out *strings.Builder, said advice.Said) {
	first := said.Next[0]
	section(out, "Next", first.Do, first.When, "Why? "+first.Why)
	if first.Caution != "" {
		section(out, "", "Take care: "+first.Caution)
	}
	for i, a := range said.Next[1:min(len(said.Next), 3)] {
		section(out, either(i == 0, "Then", ""), a.Do)
	}
	if said.Reading != "" {
		section(out, "", said.Reading)
	}
}

func writeAhead(out *strings.Builder, said advice.Said) {
	for i, a := range said.Ahead {
		line := a.Label + ": " + a.When
		if a.Band != "" {
			line += "; " + a.Band
		}
		if a.Odds != "" {
			line += ". " + a.Odds
		}
		section(out, either(i == 0, "Ahead", ""), line+".")
	}
}

// writeCompared sets the plan and what is tried side by side, and what the change would exceed.
func writeCompared(out *strings.Builder, v *View) {
	c := v.Compared
	if c == nil {
		return
	}
	section(out, "If", append([]string{v.Change()}, c.Says...)...)
	const name, each = 20, 26
	for _, r := range append([]advice.Pair{{Plan: v.Style.Word("By the plan"), If: v.Style.Word("If changed")}}, c.Rows...) {
		cells := [][]string{wrap(r.Name, name-1), wrap(r.Plan, each-1), wrap(r.If, each)}
		for i := range max(len(cells[0]), len(cells[1]), len(cells[2])) {
			at := func(k int) string { return strings.Join(cells[k][min(i, len(cells[k])):min(i+1, len(cells[k]))], "") }
			line := fmt.Sprintf("%8s%-*s%-*s%s", "", name, at(0), each, at(1), at(2))
			out.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
	for _, n := range c.Notes {
		section(out, "", v.Style.Word(n))
	}
	for _, l := range c.Exceeds() {
		section(out, "", "Take care: "+l.Sentence)
	}
	if c.If.Drains != "" {
		section(out, "", "Take care: "+c.If.Drains)
	}
}

// section writes paragraphs beside a word in the margin, broken at 80 columns.
func section(out *strings.Builder, name string, paragraphs ...string) {
	const margin = 8
	for i, p := range paragraphs {
		head := ""
		if i == 0 {
			head = name
			if name != "" {
				out.WriteString("\n")
			}
		}
		for _, line := range wrap(p, columns-margin) {
			fmt.Fprintf(out, "%-*s%s\n", margin, head, line)
			head = ""
		}
	}
}

// wrap breaks text at spaces.
func wrap(text string, width int) []string {
	var out []string
	line, n := "", 0
	for _, w := range withUnits(strings.Fields(text)) {
		size := len([]rune(w))
		if n > 0 && n+1+size > width {
			out, line, n = append(out, line), "", 0
		}
		if n > 0 {
			line, n = line+" ", n+1
		}
		line, n = line+w, n+size
	}
	return append(out, line)
}

// withUnits joins a number with the unit behind it, so that no line breaks between.
func withUnits(words []string) []string {
	var out []string
	for _, w := range words {
		last := len(out) - 1
		if last >= 0 && strings.ContainsAny(out[last][len(out[last])-1:], "0123456789") && strings.Contains(" °C °F °P psi bar kPa % L mL gal fl g kg oz lb h points volumes g/L ", " "+strings.TrimRight(w, ".,;:)")+" ") {
			out[last] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

// spread puts two words at the two ends of a line.
func spread(left, right string) string {
	room := columns - len([]rune(right)) - 2
	if r := []rune(left); len(r) > room {
		left = string(r[:room-1]) + "…"
	}
	return left + strings.Repeat(" ", columns-len([]rune(left))-len([]rune(right))) + right
}

// plot draws a strip with characters: ━ up to now, ╌ ahead, the band in dots,
// readings as rings, the peg at now.
func (c *Chart) plot(s *Strip, rows int) string {
	const left = 8
	width := columns - left - 1
	grid := make([][]rune, rows)
	for i := range grid {
		grid[i] = []rune(strings.Repeat(" ", width))
	}
	sc := s.fit(0, float64(rows-1))
	row := func(v float64) int { return min(max(int(math.Round(sc.y(v))), 0), rows-1) }
	column := func(h float64) int { return min(max(int(h/c.End*float64(width-1)), 0), width-1) }
	for x := range width {
		c.plotColumn(s, grid, x, float64(x)/float64(width-1)*c.End, row)
	}
	for _, p := range s.Readings {
		grid[row(p.Value)][column(p.Hour)] = []rune(either(p.Doubt, "?", "o"))[0]
	}
	var out strings.Builder
	out.WriteString(strings.Repeat(" ", left) + s.Measure.Heading(s.Name) + "\n")
	for i := range grid {
		fmt.Fprintf(&out, "%*s ┤%s\n", left-2, c.rowLabel(s, sc, i, rows), strings.TrimRight(string(grid[i]), " "))
	}
	out.WriteString(c.timeAxis(left, width, column))
	return out.String()
}

func (c *Chart) plotColumn(s *Strip, grid [][]rune, x int, hour float64, row func(float64) int) {
	i := indexAt(s.Hours, hour)
	if i < 0 {
		return
	}
	ahead := !math.IsNaN(c.Now) && hour > c.Now
	if s.Low != nil {
		for y := row(s.High[i]); y <= row(s.Low[i]); y++ {
			grid[y][x] = []rune(either(ahead, "·", "░"))[0]
		}
	}
	grid[row(s.Mid[i])][x] = []rune(either(ahead, "╌", "━"))[0]
}

// rowLabel writes the scale at the top, middle and bottom row.
func (c *Chart) rowLabel(s *Strip, sc scale, i, rows int) string {
	if i != 0 && i != rows-1 && i != rows/2 {
		return ""
	}
	v := sc.high - float64(i)/float64(rows-1)*(sc.high-sc.low)
	return s.Measure.Fixed(v, s.tickDecimals(sc))
}

// timeAxis is the days, with the peg at now.
func (c *Chart) timeAxis(left, width int, column func(float64) int) string {
	axis, days := []rune(strings.Repeat("─", width)), []rune(strings.Repeat(" ", width+8))
	every := 1
	for column(24*float64(every)) < 5 {
		every++
	}
	for i, h := range c.midnights() {
		axis[column(h)] = '┴'
		if x := column(h + 12); i%every == 0 && h+12 < c.End && x+3 < width {
			copy(days[x-1:], []rune(c.time(h+12).Format("Mon")))
		}
	}
	out := strings.Repeat(" ", left-1) + "└" + string(axis) + "\n"
	if !math.IsNaN(c.Now) {
		axis := []rune(out)
		axis[left+column(c.Now)] = '▲'
		out = string(axis)
	}
	return out + strings.Repeat(" ", left) + strings.TrimRight(string(days), " ") + "\n"
}

// bars draws values as a line of small blocks.
func bars(values []float64, width int) string {
	blocks := []rune("▁▂▃▄▅▆▇█")
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	out := make([]rune, width)
	for x := range out {
		v := values[x*(len(values)-1)/max(width-1, 1)]
		i := 0
		if high > low {
			i = int((v - low) / (high - low) * float64(len(blocks)-1))
		}
		out[x] = blocks[i]
	}
	return string(out)
}
