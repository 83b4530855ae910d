package chain

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

const testNonce = "invented-nonce-0001"

var (
	testPlan = []byte("plan: invented pumping station\n")
	// dawn is a fixed time in an offset that is neither UTC nor whole hours.
	dawn = time.Date(2026, 3, 1, 6, 30, 0, 250_000_000, time.FixedZone("", 5*3600+1800))
)

func same(t testing.TB, want, got any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
}
