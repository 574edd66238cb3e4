// Package co2 holds carbon dioxide as gas, in solution and in a cylinder.
//
// # Equations
//
// In the order and with the symbols of the code. T is in kelvin, t in degrees
// Celsius, p in pascals absolute, R = 8.314462618 J/(mol K), p0 = 101325 Pa.
//
// In solution (solution.go, equilibrium.go):
//
//	ln K0 = -58.0931 + 90.5069 (100/T) + 22.2940 ln(T/100)    mol/(L atm) of fugacity, pure water [Weiss1974]
//	F(t)  = 0.937 at -1 C, 0.957 at 8 C, 0.97 at 20 C, straight lines between, level outside
//	r(t)  = (t - 9.5 C)/21 K, held between -1/2 (at -1 C) and +1/2 (at 20 C)
//	H     = K0 F(t) (1 + level + slope r(t))                  beer, mol/(m3 Pa) of fugacity
//	pw    = 22.064 MPa exp((647.096/T) sum a_i x^b_i), x = 1 - T/647.096        water vapour [WagnerPruss2002]
//	pc    = p - pw                                            no air in the headspace
//	f     = pc exp(B p/(R T))                                 fugacity, Lewis and Randall's rule
//	c     = H f exp((p0 - p) v/(R T)), v = 32.3 cm3/mol       mol/m3 of beer
//	V     = c 22.414 L/mol                                    volumes; one volume is 1.9635 g/L
//
// As gas (gas.go):
//
//	B   = (-1636.75 + 12.0408 T - 0.0327957 T^2 + 3.16528e-5 T^3) cm3/mol       [Weiss1974]
//	Z   = 1 + B p/(R T)
//	phi = exp(B p/(R T))
//	rho = p M/(Z R T)
//	p   = n R T/(1 - n B), n in mol/m3, the same Z solved for p
//
// In a cylinder (saturation.go, cylinder.go), x = 1 - T/304.1282 K, with the
// coefficients in the code [SpanWagner1996]:
//
//	ps   = 7.3773 MPa exp((Tc/T) sum a_i x^t_i)
//	rhoL = 467.6 kg/m3 exp(sum b_i x^u_i)
//	rhoV = 467.6 kg/m3 exp(sum c_i x^w_i)
//	share of a fill F left when the last liquid has boiled away = rhoV/F
//
// Bookkeeping (cylinder.go, sealed.go):
//
//	to carbonate   m = 1.9635 g/L (V2 - V1) X
//	to push        m = rho(p, T) X
//	purge          y = y0 (p_low/p_high)^n, or y0 exp(-N) for a sweep of N vessel volumes
//	leak           n' = (Vg/R)(p1/T1 - p2/T2)/(t2 - t1)
//	warming        p2 = p1 T2/T1, gas alone
//
// Diffusion in water: D = 5.019e-6 m2/s exp(-19510/(R T)) [Jahne1987].
//
// # What is uncertain
//
// Water is known to better than 1 %. Beer is not: published sources scatter by
// 6 %, so a BeerFactor carries two errors that stay the same within a batch.
package co2
