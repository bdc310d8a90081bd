package tile

import (
	"time"

	"golang.org/x/sys/unix"
)

// threadTime is the processor time of this thread: what a tile costs whatever
// else the machine is doing.
func threadTime() time.Duration {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_THREAD_CPUTIME_ID, &ts); err != nil {
		return time.Duration(time.Now().UnixNano())
	}
	return time.Duration(ts.Nano())
}
