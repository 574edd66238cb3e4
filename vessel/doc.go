// Package vessel follows beer through one closed vessel: what is in it, what crosses its walls, and what its fittings do.
//
// # Equations
//
// In the order and with the symbols of the code, SI. The state is W kg of wort that the beer was made from, the share s
// of its fermentable extract left, yeast activity X, the beer's temperature T, n_d mol of CO2 dissolved, n_C and n_A mol
// of CO2 and air above the beer.
//
// Contents (contents.go, state.go). u is the extract used, kg per kg of wort; u_max follows from the apparent attenuation.
//
//	u   = u_max (1 - s)                                               [Balling1865], [Rischbieter1977]
//	V_L = W v(u, T) + n_d v_CO2 - lost water,  V_H = capacity - V_L   v: a cubic in T through wort.BeerDensity
//	p_C = (n_C/V_H) R T/(1 - B n_C/V_H),  Z = 1 + B p_C/(R T) n_C/(n_C + n_A)             [Weiss1974]
//	beta = V_H/(Z R T),  P = p_w(T) + (n_C + n_A)/beta                                    [WagnerPruss2002]
//	alpha = H(T) exp((B P + (1 atm - P) v_CO2)/(R T)) V_L             mol dissolved per Pa of CO2
//
// Gas made and exchanged (transfer.go, gasflow.go, film_flow.go):
//
//	r    = -ds/dt u_max W 0.4629/M                                    mol/s [Balling1865]
//	j    = k_s (n_d - alpha p_C) + k_b (n_d - alpha (P - p_w))        mol/s out of the beer
//	k_s  = kLa (|gap|/one volume)^(1/3) (1 + 0.032 d + 0.00037 d^2),  d = T - 1 C: convection of still beer
//	k_b  = b r/V_L, from zero up over 3 mol/m3 of supersaturation:    a bubble holds CO2 at the full pressure
//	dn_d/dt = r - j,   dn_C/dt = j + supply - x (vented + leaked),   x = n_C/(n_C + n_A)
//	dn_A/dt = in - (1 - x)(vented + leaked)
//
// so that beer in full ferment holds 1/b mol/m3 more than its equilibrium. In the averaged closure n_d and P are linear
// within one regime of the fittings, and solved exactly from edge to edge.
//
// Fittings (core.go, full.go, events.go): flow in mol/s of dry gas, each carrying water vapour p_w/(P - p_w).
//
//	leak       L (P - air)                 in where P is below the air
//	relief     K (P - shuts) while open    opens at its setting, reseats ReliefReseat lower; shuts half of that lower still
//	           K (P - air) both ways       where it is set to zero: open
//	safety     the same, ten times as wide
//	regulator  G (set - P)                 never back, until the cylinder is empty
//
// Heat (heat.go). The ferment gives 575 kJ per kg of extract used:
//
//	C dT/dt     = 575e3 W u_max (-ds/dt) + belt - UA (T - T_a),  C = W c_p
//	C_a dT_a/dt = UA (T - T_a) + UA_f (room - T_a) - compressor       with a fridge; else T_a is the room
//
// Yeast: package yeast, under the pressure of CO2 above one atmosphere, p_C - 1 atm.
//
// # Two closures
//
// Full resolves valves, regulator, belt, compressor and cylinder as events on the stiff integrator of package ode.
// Averaged takes a valve that pops as the middle of its hysteresis and a thermostat as what just keeps the wanted
// temperature, in steps of at most an hour; it costs a thousandth and does not allocate. They agree within 0.07 point,
// 0.05 psi, 0.07 K and 5 g on daily means, but for what a cycle leaves behind; see NeedsFull.
//
// # Left out
//
// Creep of the vessel's wall, the yeast bed as a volume, alcohol lost with the gas (about a gram), air dissolved in the
// beer, oxygen through walls and hoses, slower mixing below 4 C, a lid that lets air in before it is sucked in, regulators
// that lock up above their setting (see RegulatorCreeping), and the slow loss of pressure of a cylinder near its end. The
// surface is at the temperature of the beer.
package vessel
