package quantity_test

import (
	"os"
	"testing"

	"handback/testdata/outside"
)

func TestMain(m *testing.M) { os.Exit(outside.Suite{M: m}.Run()) }
