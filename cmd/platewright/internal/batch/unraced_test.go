//go:build !race

package batch

const raced = false
