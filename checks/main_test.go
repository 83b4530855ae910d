package checks_test

import (
	"os"
	"testing"

	_ "handback/checks/kinds" // every kind registers itself
	"handback/testdata/outside"
)

func TestMain(m *testing.M) { os.Exit(outside.Suite{M: m}.Run()) }
