package limit

import "spile/unit"

// Plates gives what stands against any setting by what is written on vessel and safety valve; nil: not known.
func Plates(rating, safety *unit.Gauge) []Finding {
	return plates(Vessel{Rating: rating, SafetyRelief: safety})
}

// plates looks at what is written on vessel and safety valve.
func plates(v Vessel) (found []Finding) {
	rating, safety := known(v.Rating), known(v.SafetyRelief)
	if !rating.Known {
		found = append(found, Finding{Kind: RatingUnknown, Severity: Today, Quantity: Pressure, From: Plate})
	}
	if !safety.Known {
		found = append(found, Finding{Kind: SafetyUnknown, Severity: Today, Quantity: Pressure, From: Plate})
	}
	if safety.Known && !Guarded(v.Rating, v.SafetyRelief) {
		found = append(found, Finding{SafetyHigh, Today, Pressure, safety, rating, Plate, Number{}})
	}
	return found
}

// pressures compares the higher of reading and belief, and the plan, with rating and safety valve.
func pressures(v Vessel) (found []Finding) {
	now, from := higher(v.Measured, v.High)
	if !now.Known {
		found = append(found, Finding{Kind: PressureUnknown, Severity: Today, Quantity: Pressure, Limit: known(v.Rating), From: from})
	}
	found = append(found, against(OverRating, Now, now, known(v.Rating), from)...)
	found = append(found, against(OverSafety, Now, now, known(v.SafetyRelief), from)...)
	if v.AheadHigh != nil {
		ahead := known(v.AheadHigh)
		found = append(found, against(OverRating, Today, ahead, known(v.Rating), Plan)...)
		found = append(found, against(OverSafety, Today, ahead, known(v.SafetyRelief), Plan)...)
	}
	return found
}

// against is a finding unless value is known to be below limit.
func against(k Kind, s Severity, value, limit Number, from Source) []Finding {
	if below(value, limit) {
		return nil
	}
	return []Finding{{k, s, Pressure, value, limit, from, Number{}}}
}

// settings looks at what people set: working valve and regulator.
func settings(v Vessel) (found []Finding) {
	rating, safety := known(v.Rating), known(v.SafetyRelief)
	if v.WorkingValve != nil {
		found = append(found, against(ValveHigh, Now, known(v.WorkingValve), rating, Plate)...)
		found = append(found, against(ValveOverSafety, Now, known(v.WorkingValve), safety, Plate)...)
	}
	if v.Regulator != nil {
		found = append(found, against(RegulatorHigh, Now, known(v.Regulator), rating, Plate)...)
		found = append(found, against(RegulatorOverSafety, Now, known(v.Regulator), safety, Plate)...)
	}
	if v.OverGas != nil { // a plate that is not known is told of above
		over := known(v.OverGas)
		if rating.Known {
			found = append(found, against(GasNearRating, Today, over, rating, Plate)...)
		}
		if safety.Known {
			found = append(found, against(GasNearSafety, Today, over, safety, Plate)...)
		}
	}
	return found
}

// worstCases compares what could happen with the rating. A safety valve set no higher
// than the rating stands against it, so then there is time to look after that valve.
func worstCases(v Vessel) (found []Finding) {
	rating, severity := known(v.Rating), Today
	if Guarded(v.Rating, v.SafetyRelief) {
		severity = WhenYouCan
	}
	found = against(WorstCase, severity, known(v.WorstCase), rating, Plan)
	if v.Gas || v.Regulator != nil || v.RegulatorOpen != nil {
		found = append(found, against(RegulatorFailure, severity, known(v.RegulatorOpen), rating, Plan)...)
	}
	return found
}

// vacuum looks for pressure below the air outside: most vessels stand far less of it than of pressure.
func vacuum(v Vessel) (found []Finding) {
	zero := Number{SI: 0, Known: true}
	for _, c := range []struct {
		p     *unit.Gauge
		from  Source
		kind  Kind
		soon  Severity
		least unit.Gauge
	}{{v.Measured, Reading, PullsIn, Now, leastVacuum}, {v.Low, Belief, PullsIn, Now, breath}, {v.AheadLow, Plan, WouldPullIn, Today, breath}} {
		if c.p != nil && !(*c.p >= c.least) {
			found = append(found, Finding{c.kind, c.soon, Pressure, known(c.p), zero, c.from, Number{}})
		}
	}
	return found
}

// headspace wants room for the liquid to expand.
func headspace(v Vessel) []Finding {
	if v.Headspace != nil && *v.Headspace >= LeastHeadspace {
		return nil
	}
	limit := Number{SI: float64(LeastHeadspace), Known: true}
	return []Finding{{HeadspaceSmall, Today, Share, known(v.Headspace), limit, Plan, Number{}}}
}

// cold compares the coldest with the freezing point; a temperature that is not known is nobody's plan to freeze.
func cold(v Vessel) []Finding {
	freezes := known(v.Freezes)
	if !freezes.Known {
		freezes = number(float64(waterFreezes))
	}
	if v.Coldest == nil || float64(*v.Coldest) > freezes.SI {
		return nil
	}
	return []Finding{{Freezing, Today, Temperature, known(v.Coldest), freezes, Belief, Number{}}}
}

// opening wants a vessel known to be empty of gas before it is opened.
func opening(v Vessel) []Finding {
	if !v.ToBeOpened {
		return nil
	}
	p, from := higher(v.Measured, v.High)
	f := Finding{OpenUnderGas, Now, Pressure, p, Number{SI: 0, Known: true}, from, Number{}}
	if p.Known && v.Opening != nil {
		f.Force = number(LidForce(unit.Gauge(p.SI), *v.Opening))
	}
	return []Finding{f} // even at zero: a gauge can stick
}

// Condition looks at the vessel itself, whatever is in it.
func Condition(v Vessel) (found []Finding) {
	if v.Frozen {
		found = append(found, Finding{Kind: WasFrozen, Severity: Now})
	}
	if v.CheckDue {
		f := Finding{Kind: CheckDue, Severity: Today, Quantity: Day, From: Plate}
		if !v.Due.IsZero() {
			f.Value = number(float64(v.Due.Unix()))
		}
		found = append(found, f)
	}
	return found
}
