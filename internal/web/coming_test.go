package web

import (
	"slices"
	"strings"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/monitor"
	"spile/unit"
)

// inFridge is a vessel with beer that wants a temperature and a gas pressure.
func inFridge(name string, hold float64, gas, inside unit.Gauge, place batch.ID) *stood {
	k := unit.Celsius(hold)
	rec := batch.Record{Uses: batch.Uses{Place: place, Cylinder: batch.ID{9}}}
	rec.Pitched = shedNow.AddDate(0, 0, -20)
	rec.Target = &batch.Target{CO2: 2.5}
	rec.Programme = []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &k, Gas: &gas}}}
	f := &estimate.Forecast{}
	f.Now.Pressure.P50, f.Now.Liquid.P50, f.Now.Temperature.P50 = float64(inside), 20*unit.Litre, float64(k)
	f.Now.Volumes.P05 = 1.5
	id := batch.ID{byte(len(name))}
	return &stood{InVessel: monitor.InVessel{Vessel: &batch.Thing[batch.VesselFacts]{ID: id, Name: name}, Seen: &monitor.Seen{State: batch.State{Record: &rec}, Told: &monitor.Told{Forecast: f}}},
		Said: &advice.Said{}, Now: shedNow}
}

// Vessels that want different things of one fridge, one regulator or one cylinder are named; those that agree are not.
func TestConflicts(t *testing.T) {
	fridge := batch.ID{7}
	content := unit.Mass(0.1)
	things := &batch.Cellar{
		Places:     []batch.Thing[batch.PlaceFacts]{{ID: fridge, Name: "Tall fridge", Facts: batch.PlaceFacts{Place: batch.Place{Fridge: &batch.Fridge{}}}}},
		Regulators: []batch.Thing[batch.RegulatorFacts]{{Name: "Twin", Facts: batch.RegulatorFacts{Vessels: []batch.ID{{6}, {8}}}}},
		Cylinders:  []batch.Thing[batch.CylinderFacts]{{ID: batch.ID{9}, Name: "Grey", Facts: batch.CylinderFacts{Content: &content}}},
	}
	psi := func(x float64) unit.Gauge { return unit.Gauge(x * unit.PSI) }
	apart := conflicts([]*stood{inFridge("Dunlin", 12, psi(10), psi(10), fridge), inFridge("Whimbrel", 2, psi(14), psi(4), fridge)}, things)
	for _, say := range []string{"Tall fridge: Dunlin wants 12 °C and Whimbrel wants 2 °C", "Twin gives one pressure", "flow from Dunlin to Whimbrel", "Grey holds"} {
		if !slices.ContainsFunc(apart, func(c conflict) bool { return strings.Contains(c.Says, say) }) {
			t.Errorf("expected %q among %+v", say, apart)
		}
	}
	if last := apart[len(apart)-1]; len(last.Workings) != 3 || last.Workings[1].Says != "What Whimbrel may still take" {
		t.Errorf("expected the working of what each may take, and of what is left, got %+v", last.Workings)
	}
	content = 2
	if same := conflicts([]*stood{inFridge("Dunlin", 3, psi(10), psi(10), fridge), inFridge("Whimbrel", 2, psi(10), psi(10), fridge)}, things); len(same) > 0 {
		t.Errorf("vessels that agree: %+v", same)
	}
}

// Days come in order, each once, and what lies beyond is left out.
func TestByDay(t *testing.T) {
	at := func(hours int) due { return due{At: shedNow.Add(time.Duration(hours) * time.Hour), Says: "x"} }
	days := byDay([]due{at(50), at(3), at(2)}, shedNow, unit.Style{})
	if len(days) != 2 || len(days[0].Due) != 2 || days[0].Name != "Saturday 28 November" || days[1].Name != "Monday 30 November" {
		t.Errorf("got %+v", days)
	}
}
