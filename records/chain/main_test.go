package chain

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

const testNonce = "invented-nonce-0001"

var (
	ctx      = context.Background()
	testPlan = []byte("plan: invented pumping station\n")
	// dawn is a fixed time in an offset that is neither UTC nor whole hours.
	dawn = time.Date(2026, 3, 1, 6, 30, 0, 250_000_000, time.FixedZone("", 5*3600+1800))
)

func measured(i int) Draft {
	return Draft{At: dawn.Add(time.Duration(i) * time.Minute), By: "Ada Example", Kind: "answers", Check: "lv-volts",
		Data: map[string]any{"as_entered": fmt.Sprintf("249.%d V", i), "volts": 249 + float64(i)/10, "note": "naïve “quoted” \u2028 <b> \t"}}
}

func same(t testing.TB, want, got any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
}
