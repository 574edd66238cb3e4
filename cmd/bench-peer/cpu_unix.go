//go:build unix

package main

import (
	"syscall"
	"time"
)

// cpuTime is the processor time of the process so far, user and system.
func cpuTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err) // cannot fail with these arguments
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
