package estimate

import (
	"math"

	"spile/batch"
)

// ReadingError is the error of one reading by its instrument, nine times in ten
// to either side, in SI: its fixed offset and its scatter together.
func ReadingError(r batch.Reading) float64 {
	const nineInTen = 1.645
	_, ins := lookup(r.Quantity, r.Instrument)
	return nineInTen * math.Hypot(ins.Offset, ins.Scatter)
}
