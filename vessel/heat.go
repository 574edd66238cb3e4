package vessel

import "math"

const cpBeer = 4050.0 // J/(kg K) of beer; error 3 %

// heatFlow is the beer and the air around it with a heat flow into each, W, and walls between beer, air and room.
type heatFlow struct {
	beer, air   float64 // J/K; air 0: the room itself
	power, into float64 // W into beer and air
	ua, box     float64 // W/K, beer to air and air to room
	room        float64 // K
	step        *propagator
}

// flowing is the heat of the vessel with belt and compressor at rest.
func (a *core) flowing(power, room float64) heatFlow {
	f := heatFlow{beer: a.s.Wort * cpBeer, power: power, ua: float64(a.p.UA), room: room, step: &a.heats}
	if fr := a.p.around(&a.c); fr != nil {
		f.air, f.box = fr.Heat, float64(fr.UA)
	}
	return f
}

// after gives the temperatures of beer and air h seconds on, exact.
func (f heatFlow) after(beer, air, h float64) (beer1, air1 float64) {
	if f.air == 0 {
		return f.within(beer, f.room, h), f.room
	}
	m := pair{-f.ua / f.beer, f.ua / f.beer, f.ua / f.air, -(f.ua + f.box) / f.air}
	return f.step.over(m, h).advance(beer, air, (f.power+f.ua*(air-beer))/f.beer, (f.into+f.ua*(beer-air)+f.box*(f.room-air))/f.air)
}

// within is the beer h seconds on in air that stays at a temperature.
func (f heatFlow) within(beer, air, h float64) float64 {
	return beer + h/f.beer*(f.power+f.ua*(air-beer))*phi(-f.ua/f.beer*h)
}

// chilled gives beer and air after h seconds with the compressor running all the time: held back by its capacity, or by
// its coldest air, whichever leaves the beer warmer.
func (a *core) chilled(f heatFlow, beer, air, h float64) (beer1, air1 float64) {
	fr := a.p.Fridge
	coldest := fr.mean(f.ua, beer, f.room)
	f.into -= float64(fr.Capacity)
	beer1, air1 = f.after(beer, air, h)
	return max(beer1, f.within(beer, coldest, h)), max(air1, coldest)
}

// mean is the air of a fridge that runs about its coldest: while the compressor rests the air warms, which under load
// takes it beyond the band in which it is kept.
func (f *Fridge) mean(ua, beer, room float64) float64 {
	all := ua + float64(f.UA)
	low := float64(f.Coldest) - airBand
	rise := ((ua*beer+float64(f.UA)*room)/all - low) * -math.Expm1(-float64(f.Rest)*all/f.Heat)
	return low + 0.5*max(rise, 2*airBand)
}

// kept gives beer and air h seconds on from now while the ferment gives power W: the wanted temperature where belt and
// fridge can reach it, else what they can do.
func (a *Averaged) kept(power, h float64) (beer, air float64) {
	s := &a.s
	room := a.p.room(s.Time + h/2)
	if a.c.Track != nil {
		return a.c.Track(s.Time + h), room
	}
	f := a.flowing(power, room)
	beer, air = f.after(s.Temperature, s.Around, h)
	hold := float64(a.c.Hold)
	switch {
	case hold <= 0:
	case beer < hold && a.p.Belt > 0:
		f.power += float64(a.p.Belt)
		warmed, _ := f.after(s.Temperature, s.Around, h)
		beer = min(hold, warmed)
	case beer > hold && a.p.Fridge != nil:
		cold, coldAir := a.chilled(f, s.Temperature, s.Around, h)
		if cold > hold {
			return cold, coldAir
		}
		beer, air = hold, a.holding(f, hold, h)
	}
	return beer, air
}

// AirAround is the air in K that closes the heat balance of beer of a mean temperature in K whose own changes by slope, K/s, at
// the power of the ferment now: C slope = P + UA (air - beer).
func (a *Averaged) AirAround(beer, slope float64) float64 {
	power := a.power(a.pace(a.s.Temperature, a.over()))
	return beer + (a.s.Wort*cpBeer*slope-power)/float64(a.p.UA)
}

// holding is the air that keeps the beer at hold, no colder than the fridge makes it.
func (a *core) holding(f heatFlow, hold, h float64) float64 {
	need := f.beer*(hold-a.s.Temperature)/h - f.power
	return max(hold+min(need/f.ua, 0), float64(a.p.Fridge.Coldest))
}
