package ink

import (
	"bytes"
	_ "embed"
)

//go:embed builtin.toml
var builtIn []byte

//go:embed template.toml
var template []byte

// BuiltIn returns the example shelf: invented inks from clear to opaque, papers
// and sets. Each call returns a shelf of its own.
func BuiltIn() *Shelf {
	s, err := Load(bytes.NewReader(builtIn), "example inks")
	if err != nil {
		panic(err) // the file is compiled in, and a test loads it
	}
	return s
}

// Template returns a commented shelf file to fill in.
func Template() []byte { return bytes.Clone(template) }
