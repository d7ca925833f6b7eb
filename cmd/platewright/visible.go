package main

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// visible is a text from outside, such as a file's name, with control
// characters and broken letters written out, so that it cannot command a
// terminal or feign a line.
func visible(s string) string {
	plain := true
	for _, r := range s {
		plain = plain && r != utf8.RuneError && (unicode.IsPrint(r) || r == ' ')
	}
	if plain {
		return s
	}
	var b strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		switch {
		case r == utf8.RuneError && n == 1, r < ' ', r == 0x7f:
			b.WriteString(`\x` + string("0123456789abcdef"[s[0]>>4]) + string("0123456789abcdef"[s[0]&15]))
		case unicode.IsPrint(r):
			b.WriteRune(r)
		default:
			b.WriteString(strings.Trim(strconv.QuoteRuneToASCII(r), "'"))
		}
		s = s[n:]
	}
	return b.String()
}
