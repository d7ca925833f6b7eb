//go:build unix

package batch

import (
	"os"
	"runtime"
	"syscall"
)

// peakMemory is the most memory that an ended process had, in bytes.
func peakMemory(p *os.ProcessState) int64 {
	if p == nil {
		return 0
	}
	u, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	if runtime.GOOS == "darwin" { // bytes there, kilobytes elsewhere
		return int64(u.Maxrss)
	}
	return int64(u.Maxrss) << 10
}
