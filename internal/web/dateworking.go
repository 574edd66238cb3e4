package web

import (
	"time"

	"spile/advice"
	"spile/co2"
	"spile/estimate"
	"spile/unit"
)

// dateWorkings is where the working of a vessel's dates stands on its page.
const dateWorkings = "working-of-the-dates"

// DateWorking is the address of the working of what is awaited.
func (v *stood) DateWorking() string { return v.Path() + "#" + dateWorkings }

// milestoneOf is what people wait for, by its key.
func milestoneOf(m *estimate.Milestones, key string) *estimate.Milestone {
	return map[string]*estimate.Milestone{"attenuated_90": &m.Attenuated90, "finished": &m.Finished, "cold": &m.Cold, "carbonated": &m.Carbonated, "ready": &m.Ready}[key]
}

// dateWorking opens the times that are awaited, or came.
func (v *stood) dateWorking() workingTable {
	out := workingTable{Name: "The working of the dates", Low: "Early", High: "Late"}
	for i := range v.Said.Ahead {
		a := &v.Said.Ahead[i]
		m := milestoneOf(&v.Seen.Told.Forecast.Milestones, a.Key)
		row := workingRow{Name: a.Label, Low: v.dateWords(m.P05, m), Mid: v.dateWords(m.P50, m), High: v.dateWords(m.P95, m)}
		switch a.Key {
		case "attenuated_90":
			row.How, row.Sources = v.Style.Word("The first hour at which nine tenths of the whole fall are done."), []string{"Gause1932", "Foster2022"}
		case "finished":
			row.How, row.Sources = v.Style.Word("The first hour at which less than one point is left."), []string{"Gause1932", "Foster2022"}
		case "cold":
			row.How, row.Link = v.Style.Say("The first hour at which it is within %s of %s.", v.Style.Difference(1, 0), v.Style.Temperature(v.served(), 0)), v.coolLink()
		case "carbonated":
			row.How, row.Link = v.Style.Word("The first hour at which it is cold and holds 97 % of the gas wished."), v.takeLink()
		case "ready":
			row.How = v.Style.Word("The first hour at which it is finished, cold and carbonated.")
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// dateWords writes one point of a time that is awaited, no finer than its band.
func (v *stood) dateWords(at time.Time, m *estimate.Milestone) string {
	if at.IsZero() {
		return v.Style.Word("not within the days looked at")
	}
	return advice.Edge(at, wideOf(m), v.local(), v.Style)
}

// wideOf is how far the ends of the band of a time lie apart; its late end may lie beyond what is looked at.
func wideOf(m *estimate.Milestone) time.Duration {
	if m.P95.IsZero() {
		return comingDays * 24 * time.Hour
	}
	return m.P95.Sub(m.P05)
}

// served is the temperature that counts as cold.
func (v *stood) served() unit.Temperature {
	if t := v.Seen.State.Record.Target; t != nil && t.Temperature > 0 {
		return t.Temperature
	}
	return estimate.ServedCold
}

// coolLink works out how long the beer takes to get cold in the air of its fridge; nil where it has none, or is cold.
func (v *stood) coolLink() *door {
	rec, n := &v.Seen.State.Record.Batch, &v.Seen.Told.Forecast.Now
	from := unit.Temperature(n.Temperature.P50)
	if rec.Place.Fridge == nil || rec.Place.Fridge.Coldest >= v.served() || from <= v.served()+1 || n.Liquid.P50 <= 0 {
		return nil
	}
	return workLink("How long to cool?", "cooldown", "volume", givenVolume(unit.Volume(n.Liquid.P50)), "from", givenTemperature(from),
		"to", givenTemperature(v.served()+1), "air", givenTemperature(rec.Place.Fridge.Coldest))
}

// takeLink works out how long the cold beer takes to take its gas; nil where no gas is on or meant, or it would never do.
func (v *stood) takeLink() *door {
	rec, n := &v.Seen.State.Record.Batch, &v.Seen.Told.Forecast.Now
	gas, meant := v.gasMeant()
	if !meant || rec.Target == nil || n.Liquid.P50 <= 0 {
		return nil
	}
	cold := min(v.served(), unit.Temperature(n.Temperature.P50))
	atRest := co2.Equilibrium(cold, gas.Absolute(unit.StandardAtmosphere(rec.Place.Altitude)), co2.BeerFactor{}, nil)
	if has, wish := unit.Volumes(n.Volumes.P50), rec.Target.CO2; has >= wish || wish >= atRest {
		return nil
	}
	return workLink("How long to take the gas?", "absorption", "temperature", givenTemperature(cold), "pressure", givenPressure(gas), "from-volumes", givenGas(unit.Volumes(n.Volumes.P50)),
		"to-volumes", givenGas(rec.Target.CO2), "volume", givenVolume(unit.Volume(n.Liquid.P50)), "diameter", rec.Vessel.Diameter.String(), "altitude", givenHeight(rec.Place.Altitude))
}

// gasMeant is the pressure at which gas is on, or that the plan sets last.
func (v *stood) gasMeant() (p unit.Gauge, meant bool) {
	if p, meant = v.gasSet(); meant {
		return p, true
	}
	for _, s := range v.Seen.State.Record.Programme {
		if s.Set.Gas != nil {
			p, meant = *s.Set.Gas, true
		}
	}
	return p, meant
}

// works is a working that a sentence of its own leads to.
type works struct {
	Says string
	Path string
}
