//go:build postgres

package main

import (
	_ "handback/records/archive/bucket"   // a tenth more program: for owners alone
	_ "handback/records/archive/postgres" // an eighth more
)
