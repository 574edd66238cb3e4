package ode

import (
	"errors"
	"fmt"
)

// What stops an integration early; a Failure wraps one of them.
var (
	// ErrNotFinite means that the slope, or the state it leads to, is NaN or infinite.
	ErrNotFinite = errors.New("slope is not a finite number")
	// ErrStepTooSmall means that no step above rounding meets the tolerance.
	ErrStepTooSmall = errors.New("step size fell to rounding")
	// ErrTooManySteps means that Options.MaxSteps was used up.
	ErrTooManySteps = errors.New("too many steps")
	// ErrEventsPileUp means that events follow each other without time passing.
	ErrEventsPileUp = errors.New("events follow each other without time passing")
	// ErrEventValue means that an event's Value is NaN.
	ErrEventValue = errors.New("value of an event is not a number")
	// ErrInterval means that t0 or t1 is not finite, or t1 lies before t0.
	ErrInterval = errors.New("interval must be finite and run forward")
)

// Failure says where an integration stopped early and which component was to
// blame. The state y then holds the last accepted values.
type Failure struct {
	Err       error   // one of the Err values of this package
	T         float64 // time reached
	Step      float64 // step last tried, 0 if none
	Component int     // index of the component (of the event for ErrEventValue, ErrEventsPileUp), -1 if none stands out
}

// Error tells reason, time, step and component in one line.
func (f *Failure) Error() string {
	what := "component"
	if f.Err == ErrEventValue || f.Err == ErrEventsPileUp {
		what = "event"
	}
	return fmt.Sprintf("ode: %v (t = %g, step %g, %s %d)", f.Err, f.T, f.Step, what, f.Component)
}

// Unwrap returns the reason, for errors.Is.
func (f *Failure) Unwrap() error { return f.Err }
