package vessel

import (
	"math"

	"spile/unit"
)

const cpBeer = 4050.0 // J/(kg K) of beer; error 3 %

// heatFlow is one linear way for the beer to change its temperature: C dT/dt = power + ua (around - T).
type heatFlow struct{ capacity, power, ua, around float64 } // J/K, W, W/K, K

// after is the temperature h seconds on from t, exact.
func (f heatFlow) after(t, h float64) float64 {
	return t + h/f.capacity*(f.power+f.ua*(f.around-t))*phi(-f.ua*h/f.capacity)
}

// passive is the beer with nothing running: through its own wall, and that of the fridge it stands in, to the room.
func (a *core) passive(power, room float64) heatFlow {
	ua := float64(a.p.UA)
	if f := a.p.Fridge; f != nil {
		ua *= float64(f.UA) / (ua + float64(f.UA))
	}
	return heatFlow{a.s.Wort * cpBeer, power, ua, room}
}

// chilled is the temperature after h seconds with the compressor running all the time: held back by its capacity, or
// by its coldest air, whichever leaves the beer warmer.
func (a *core) chilled(t, power, room, h float64) float64 {
	f, ua := a.p.Fridge, float64(a.p.UA)
	byPower := a.passive(power, room)
	byPower.power -= float64(f.Capacity) * ua / (ua + float64(f.UA))
	byCold := heatFlow{a.s.Wort * cpBeer, power, ua, float64(f.Coldest)}
	return math.Max(byPower.after(t, h), byCold.after(t, h))
}

// kept is the beer temperature h seconds on from t while the ferment gives power W: the wanted temperature where belt
// and fridge can reach it, else what they can do.
func (a *Averaged) kept(t, power, h float64) float64 {
	if a.c.Track != nil {
		return a.c.Track(a.s.Time + h)
	}
	room := a.p.room(a.s.Time + h/2)
	free := a.passive(power, room)
	end := free.after(t, h)
	hold := float64(a.c.Hold)
	switch {
	case hold <= 0:
	case end < hold:
		free.power += float64(a.p.Belt)
		end = math.Min(hold, math.Max(free.after(t, h), end))
	case end > hold && a.p.Fridge != nil:
		end = math.Max(hold, math.Min(a.chilled(t, power, room, h), end))
	}
	return end
}

// airAround is the air that the heat balance of the last h seconds implies, no colder than the fridge makes it.
func (a *core) airAround(t0, t1, power, h float64) float64 {
	room := a.p.room(a.s.Time + h/2)
	f, ua := a.p.Fridge, float64(a.p.UA)
	if f == nil || ua == 0 {
		return room
	}
	need := a.s.Wort*cpBeer*(t1-t0)/h - power // W into the beer through its wall
	if a.c.Hold > unit.Temperature(t1)-0.01 && need > 0 {
		need = 0 // the belt gives it
	}
	return math.Min(math.Max(0.5*(t0+t1)+need/ua, float64(f.Coldest)), math.Max(room, 0.5*(t0+t1)))
}
