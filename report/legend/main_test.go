package legend

import (
	"testing"

	"handback/testdata/rig"
)

func TestMain(m *testing.M) { rig.RunTests(m) }
