package testode

import (
	"embed"
	"fmt"
	"io"
	"strconv"
	"strings"
)

//go:embed testdata/ref_p1.csv testdata/ref_p2.csv
var references embed.FS

// Reference is the trajectory to compare with: one row for each output time.
func (p *Timing) Reference() ([][]float64, error) {
	f, err := references.Open(fmt.Sprintf("testdata/ref_p%d.csv", p.Number))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return p.ReadReference(f)
}

// ReadReference reads such a trajectory: comment lines, a header, then time and
// state at each output time.
func (p *Timing) ReadReference(r io.Reader) ([][]float64, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	var rows [][]float64
	for number, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		if strings.HasPrefix(line, "#") || strings.HasPrefix(line, "t_h") {
			continue
		}
		row, err := p.readRow(line, float64(len(rows))*Every)
		if err != nil {
			return nil, fmt.Errorf("%s reference, line %d: %w", p.Name, number+1, err)
		}
		rows = append(rows, row)
	}
	if len(rows) != Outputs {
		return nil, fmt.Errorf("%s reference: %d rows, want %d", p.Name, len(rows), Outputs)
	}
	return rows, nil
}

func (p *Timing) readRow(line string, t float64) ([]float64, error) {
	fields := strings.Split(strings.TrimSpace(line), ",")
	if len(fields) != p.N+1 {
		return nil, fmt.Errorf("%d fields, want %d", len(fields), p.N+1)
	}
	row := make([]float64, len(fields))
	for i, f := range fields {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return nil, fmt.Errorf("field %d: %w", i+1, err)
		}
		row[i] = v
	}
	if row[0] != t {
		return nil, fmt.Errorf("time %g h, want %g h", row[0], t)
	}
	return row[1:], nil
}
