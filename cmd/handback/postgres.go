//go:build postgres

package main

import _ "handback/records/archive/postgres" // an eighth more program: for owners alone
