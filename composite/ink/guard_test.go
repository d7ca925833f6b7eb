package ink

import (
	"bytes"
	"strings"
	"testing"
)

func TestShallow(t *testing.T) {
	for _, good := range []string{
		string(Template()),
		"a = \"[[[[[[[[[[[[[[[[[[[[[[[[\" # [[[[[[[[[[[[[[[[[[[[\nb = '................................'\n",
		"x = '''\n[[[[[[[[[[[[[[[[[[[[[[[[\n'''\n",
		"a.b.c = [ [20, 26], [50.5, 68.25] ]\n",
		"a = \"open\nb = 1\n",
	} {
		if err := Shallow([]byte(good)); err != nil {
			t.Errorf("%.40q: %v", good, err)
		}
	}
	for _, bad := range []string{
		strings.Repeat("a.", 1<<20) + "a = 1",
		"a = " + strings.Repeat("[", 1<<20),
		"\n\na = " + strings.Repeat("{a=", 1<<20),
		"[" + strings.Repeat("a . ", 1<<20) + "a]",
	} {
		err := Shallow([]byte(bad))
		if err == nil {
			t.Errorf("%.40q: no error", bad)
		}
		if _, err := Load(bytes.NewReader([]byte(bad)), "bad.toml"); err == nil || !strings.Contains(err.Error(), "nested too deeply") {
			t.Errorf("Load of %.40q: %v", bad, err)
		}
	}
}
