package preflight

import (
	"fmt"
	"strings"
)

// Letter is a note to the client who sent the file: what it is, and what to
// mend in words that need no knowledge of printing.
func Letter(name string, f Facts, findings []Finding) string {
	var b strings.Builder
	fmt.Fprintf(&b, "About your picture %s\n\n", name)
	fmt.Fprintf(&b, "We would print it %.0f × %.0f mm (%.1f × %.1f inches). It has %d × %d pixels, which is %.0f per inch.\n",
		f.WidthMM, f.HeightMM, f.WidthMM/25.4, f.HeightMM/25.4, f.Width, f.Height, f.PPI)
	said := make(map[string]bool)
	var must, may []string
	for _, g := range findings {
		words := g.Client
		if words == "" {
			words = asked(g.Code)
		}
		if words == "" || said[words] {
			continue
		}
		said[words] = true
		if len(g.Places) > 0 {
			p := g.Places[0]
			words += fmt.Sprintf(" You find it about %.0f mm from the left and %.0f mm from the top", p.X+p.W/2, p.Y+p.H/2)
			if len(g.Places) > 1 {
				words += ", and elsewhere"
			}
			words += "."
		}
		if g.Level == Fault {
			must = append(must, words)
		} else {
			may = append(may, words)
		}
	}
	list := func(head string, lines []string) {
		if len(lines) == 0 {
			return
		}
		fmt.Fprintf(&b, "\n%s\n", head)
		for _, l := range lines {
			fmt.Fprintf(&b, "  - %s\n", l)
		}
	}
	list("Before we can print it:", must)
	list("Please have a look at this:", may)
	if len(must)+len(may) == 0 {
		b.WriteString("\nWe found nothing to mend: it can be printed as it is.\n")
	}
	b.WriteString("\nYour file was not changed. If all is meant as it is, just say so.\n")
	return b.String()
}

// asked is what to ask the client for where the finding is not of this
// package: findings of reading and of separating, by code.
func asked(code string) string {
	switch code {
	case "all-transparent":
		return "Everything in this file is transparent. Please export it again with its layers shown."
	case "process-colors":
		return "The picture is in CMYK colors. Please export it as RGB from the program you made it with; otherwise its colors shift."
	case "profile-unused":
		return "The color profile in the file cannot be used. Please convert the picture to sRGB and export it again."
	case "pixels-not-square", "resolution-odd":
		return "The file states an odd resolution. How large shall it be printed?"
	case "file-ending":
		return "The name of the file does not say what kind of file it is; please check that you sent the right one."
	case "colors-merge":
		return "With the inks we have, some of your colors come out the same. Tell us if they must stay apart."
	case "background-tint":
		return "The background is not quite white. Shall it stay the bare paper?"
	}
	return ""
}
