package main

import (
	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// hottest is the hottest credible place of a batch, as a forecast takes it.
func hottest(b *batch.Batch) unit.Temperature {
	return max(estimate.HottestCredible, b.Place.Ambient)
}
