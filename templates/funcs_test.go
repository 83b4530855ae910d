package templates

import (
	"testing"
	"text/template"
)

// A template is code: it gets words to work on and nothing to reach out with.
func TestFuncs_reachNothing(t *testing.T) {
	if len(Funcs()) != len(allowed)+len(own) {
		t.Errorf("%d helpers, %d are allowed and %d our own", len(Funcs()), len(allowed), len(own))
	}
	for name, f := range Funcs() {
		if f == nil {
			t.Errorf("helper %s is allowed and not there", name)
		}
	}
	for _, call := range []string{`env "HOME"`, `expandenv "$HOME"`, `now`, `getHostByName "localhost"`, `genPrivateKey "rsa"`, `randInt 0 9`, `repeat 9 "x"`,
		`until 9`, `osBase "/etc/passwd"`, `readFile "/etc/passwd"`} {
		if _, err := template.New("reach").Funcs(Funcs()).Parse("{{" + call + "}}"); err == nil {
			t.Errorf("a template may call %s", call)
		}
	}
	if _, err := template.New("word").Funcs(Funcs()).Parse(`{{trim " a "}}`); err != nil {
		t.Errorf("an allowed helper is refused: %v", err)
	}
}
