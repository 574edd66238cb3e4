// Command bench-peer times the integrator on the two problems of package testode
// and on an ensemble of the second, and prints one row for each in the form that
// other integrators' rows have, so that they can stand side by side.
//
//	bench-peer [FOLDER]
//
// FOLDER holds ref_p1.csv and ref_p2.csv; without it the references that the
// program carries are used. Exit code 1 when something fails.
package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"spile/ode/testode"
)

func main() {
	folder := ""
	if len(os.Args) > 1 {
		folder = os.Args[1]
	}
	if err := run(os.Stdout, folder, full); err != nil {
		fmt.Fprintln(os.Stderr, "bench-peer:", err)
		os.Exit(1)
	}
}

// size says how much work the rows rest on.
type size struct {
	samples int     // timings of which the median is printed
	seconds float64 // least length of one timing
	members int     // of the ensemble
	repeats int     // timings of the ensemble
}

var full = size{samples: 11, seconds: 0.03, members: 2000, repeats: 3}

func run(w io.Writer, folder string, s size) error {
	implicit := testode.P1()
	o := implicit.Settings()
	o.Method = 0
	for _, c := range []candidate{
		{"spile ode", testode.P1(), testode.P1().Settings()},
		{"spile ode (RODAS5P)", implicit, o},
		{"spile ode", testode.P2(testode.Nominal()), testode.P2(testode.Nominal()).Settings()},
	} {
		reference, err := reference(c.problem, folder)
		if err != nil {
			return err
		}
		row, err := c.time(reference, s)
		if err != nil {
			return err
		}
		fmt.Fprintln(w, row)
	}
	for _, threads := range []int{1, 2} {
		row, err := timeEnsemble("spile ode", s, threads)
		if err != nil {
			return err
		}
		fmt.Fprintln(w, row)
	}
	return nil
}

func reference(p *testode.Timing, folder string) ([][]float64, error) {
	if folder == "" {
		return p.Reference()
	}
	path := filepath.Join(folder, fmt.Sprintf("ref_p%d.csv", p.Number))
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := p.ReadReference(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return rows, nil
}
