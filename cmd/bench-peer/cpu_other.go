//go:build !unix

package main

import "time"

// cpuTime is the wall time where the system has no getrusage: right for one
// thread on an idle machine.
func cpuTime() time.Duration { return time.Since(start) }
