//go:build !linux

package tile

import "time"

// threadTime stands in with the clock where the thread's time is not at hand.
func threadTime() time.Duration { return time.Duration(time.Now().UnixNano()) }
