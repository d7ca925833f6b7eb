//go:build race

package batch

// raced reports whether the race detector runs, which takes memory of its own.
const raced = true
