package grid

import (
	"testing"

	"handback/testdata/rig"
)

func TestMain(m *testing.M) { rig.RunTests(m) }
