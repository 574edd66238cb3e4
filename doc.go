// Package spile is a map; the work is done in the packages below it. In reading order:
//
//	unit      quantities in SI, each its own type; parsing and printing
//	working   how a number came about: formula, inputs, source, range, error
//	wort      density, extract, gravity, alcohol, dilution, the hydrometer
//	co2       carbon dioxide as gas, in solution and in a cylinder
//	ode       stiff initial-value problems with events
//	yeast     kinds, growth, uptake, heat
//	vessel    the closed vessel: state, balances, fittings
//	bayes     inference on any model
//	batch     records: what was put together, read, done and planned
//	estimate  what is believed about one batch, and the forecast
//	limit     safety limits, apart from all inference
//	advice    the next action, with time, reason and caution
//	calc      single calculations that show their working
//
// These are pure: arguments in, values out; no clock, no files, no chance that
// was not handed in as a seed. What touches the world lies under internal and cmd:
//
//	internal/batchfile  BATCH.yaml and READINGS.csv
//	internal/report     a forecast as text, SVG and page
//	internal/web        the pages that are served
//	internal/oracle     programs that tests compare with
//	cmd/spile           one file a command
//
// Imports point one way, and deps_test.go holds them to it.
package spile
