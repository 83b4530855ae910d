package files

import "testing"

// Names that Windows takes for something else (from memory of its documentation on
// naming files); other systems take them all.
func TestNameFor(t *testing.T) {
	for path, refused := range map[string]bool{
		`handover.xlsx`: false, `C:\jobs\t2.xlsx`: false, `..\t2.xlsx`: false, `./t2.xlsx`: false, `C:t2.xlsx`: false, `\\server\share\t2.xlsx`: false, `\\?\C:\jobs\t2.xlsx`: false, `//?/UNC/server/share/t2.xlsx`: false, `\\?\C:\a?\t2.xlsx`: true, `consent.txt`: false,
		`t2:1.xlsx`: true, `C:\a:b\t2.xlsx`: true, `con.xlsx`: true, `a\NUL`: true, `com1.txt`: true, `LPT9`: true, `com10`: false, `t2.xlsx.`: true, `t2 `: true, `a.\t2.xlsx`: true, `t?.xlsx`: true,
	} {
		if err := nameFor("windows", path); (err != nil) != refused {
			t.Errorf("%s: %v", path, err)
		}
		if err := nameFor("linux", path); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
}
