//go:build !unix

package batch

import "os"

// peakMemory is not known on this system.
func peakMemory(*os.ProcessState) int64 { return 0 }
