package advice

import (
	"testing"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

func TestSayPassport(t *testing.T) {
	for _, c := range []struct {
		of     estimate.Unknown
		band   estimate.Band
		what   string
		learnt string
	}{
		{estimate.AttenuationLimit, estimate.Band{P05: 0.748, P50: 0.77, P95: 0.792}, "how far it ferments out", "between 75 and 79 %"},
		{estimate.Lag, estimate.Band{P05: 9.7, P50: 28, P95: 61}, "until half its crop has grown, at 20 °C", "between 9.7 and 61 hours"},
		{estimate.Leak, estimate.Band{P05: 0.0072, P50: 0.1, P95: 1.39}, "gas it loses at one bar", "between 0.0072 and 1.4 g a day"},
		{estimate.ReliefOffset, estimate.Band{P05: -2 * float64(unit.PSI), P50: 0, P95: float64(unit.PSI)}, "its working valve opens", "from 2 psi lower to 1 psi higher than set"},
		{estimate.ReliefOffset, estimate.Band{P05: -3 * float64(unit.PSI), P50: 0, P95: -float64(unit.PSI)}, "its working valve opens", "between 1 psi and 3 psi lower than set"},
		{estimate.HeatLoss, estimate.Band{P05: 0.9, P50: 1, P95: 1.5}, "how fast it takes on the warmth of its air, in percent of the usual", "between 90 and 150 %"},
	} {
		p := estimate.Passport{Unknown: c.of, Band: c.band, Generic: estimate.Band{P05: 0.5, P50: 1, P95: 2}}
		if got, ok := SayPassport(p, unit.Style{}); !ok || got.What != c.what || got.Learnt != c.learnt {
			t.Errorf("%s: got %+v, want %q", c.of.Name(), got, c.learnt)
		}
	}
	if _, ok := SayPassport(estimate.Passport{Unknown: estimate.WanderBend}, unit.Style{}); ok {
		t.Error("a bend of the model's is said to people")
	}
	comma := unit.Style{Comma: true}
	if got, _ := SayPassport(estimate.Passport{Unknown: estimate.Lag, Band: estimate.Band{P05: 9.7, P95: 61}}, comma); got.Learnt != "between 9,7 and 61 hours" {
		t.Errorf("with a comma: %q", got.Learnt)
	}
}

func TestSayTool(t *testing.T) {
	for _, c := range []struct {
		q            batch.Quantity
		mean, offset float64
		want         string
	}{
		{batch.Gravity, 0.003, 0.0006, "between 2.0 points and 4.0 points higher than it is"},
		{batch.Pressure, 0, float64(unit.PSI), "from 1.5 psi lower to 1.5 psi higher than it is"},
		{batch.Temperature, -1, 0.3, "between 0.5 °C and 1.5 °C lower than it is"},
		{batch.CylinderMass, 0.1, 0.01, "between 84 g and 116 g higher than it is"},
	} {
		got := SayTool(estimate.Tool{Quantity: c.q}, estimate.Instrument{Mean: c.mean, Offset: c.offset}, estimate.Instrument{}, unit.Style{})
		if got.Learnt != c.want {
			t.Errorf("quantity %d: got %q, want %q", c.q, got.Learnt, c.want)
		}
	}
}
