package seal

import (
	"testing"

	"handback/records/bag"
	"handback/testdata/outside"
)

// The first entry of a job that is opened now says more than its nonce, and the chain is
// followed from it all the same.
func TestBagNote_opened(t *testing.T) {
	outside.Long(t)
	packed := pack(failedRig(t))
	if wrong := follow(t, packed, noteSteps(t, string(packed[bag.BagNote]))); len(wrong) > 0 {
		t.Errorf("the bag is sound; %q", wrong)
	}
}
