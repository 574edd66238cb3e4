// Package wort holds what wort and beer weigh and what ferments in them:
// density, extract, gravity, attenuation, alcohol, dilution, the hydrometer,
// and the heat, freezing and flow of the liquid.
//
// # Equations
//
// In the order and with the symbols of the code. t is in degrees Celsius, rho
// in kg/m3, w and p mass fractions of sucrose and ethanol, P degrees Plato.
//
// Density (density.go, coefficients.go):
//
//	rho_w = 999.974950 (1 - (t - 3.983035)^2 (t + 301.797)/(522528.9 (t + 69.34881)))     [Tanaka2001]
//	rho_e = sum_k A_k p^(k-1) + sum_i (t-20)^i (B_i + sum_k C_ik p^k)                     [OIML1975]
//	rho_s = rho_Kell(t) + sum_i ((t-20)/100)^(i-1) sum_k b_ik w^k                         [Bubnik1995]
//	v     = x/rho_w + (x+e)/rho_e(e/(x+e)) - x/rho_e(0) + (x+s)/rho_s(s/(x+s)) - x/rho_s(0)
//	        beer of s extract, e ethanol and x = 1 - s - e water: apparent volumes add
//	rho   = 1/v
//	with dissolved CO2 of c kg/m3: rho + c (1 - rho v_c), v_c = 32.3 cm3/mol / 44.0095 g/mol
//
// Extract and gravity (plato.go), S at 20/20 C:
//
//	P = ((182.4601 S - 775.6821) S + 1262.7794) S - 669.5622                              [Bates1942]
//
// Fermentation, by mass, a kilogram of wort of extract p0 (ferment.go); p0, RE,
// AE and A as fractions of the mass of the liquid:
//
//	2.0665 kg extract = 1 kg ethanol + 0.9565 kg CO2 + 0.11 kg yeast                      [Balling1865]
//	E  = u/2.0665, ethanol from u kg of extract used
//	mb = 1 - 1.0665 E, beer
//	RE = (p0 - u)/mb,  A = E/mb,  CO2 = 0.9565 E,  yeast = 0.11 E
//	RE = (q p0 + AE)/(1 + q),  q = 0.22 + 0.1 p0                                          [Rischbieter1977]
//	hence, given p0 and RE:  A = (p0 - RE)/(2.0665 - 1.0665 p0)
//
// Alcohol (alcohol.go):
//
//	ABV = A rho_beer(20)/rho_ethanol(20),  rho_beer = FG rho_w(20)
//
// Dilution (dilution.go): masses and extract add, volumes follow from density.
//
// Hydrometer of calibration temperature t0 (hydrometer.go):
//
//	R(t) = rho(t) (1 + a (t - t0))/rho_w(t0),  a = 25e-6 /K                               [ISO1975]
//
// Heat and flow (thermal.go, viscosity.go): cp = 4184 - 2511 w + 7.5 w t [Llano2005];
// 575 kJ per kg of extract used; freezing by molality; viscosity of water
// [Kestin1978], of sucrose solutions [Mathlouthi1995], of beer by one ratio to water [LigerBelair2021].
package wort
