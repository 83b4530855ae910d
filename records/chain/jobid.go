package chain

import (
	"fmt"
	"strconv"
	"strings"
)

const maxStem = 64

// ValidStem accepts what is safe in a file name, a bag and a command line on every
// system: letters a-z and A-Z, digits and . _ - , the first a letter or a digit.
func ValidStem(stem string) error {
	bad := stem == "" || len(stem) > maxStem
	for i := range len(stem) {
		c := stem[i]
		alnum := 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9'
		bad = bad || !alnum && (i == 0 || c != '.' && c != '_' && c != '-')
	}
	if bad {
		return fmt.Errorf("job name %.80q: 1 to %d of a-z A-Z 0-9 . _ - are accepted, the first a letter or digit", stem, maxStem)
	}
	return nil
}

func JobID(stem string, n int) string { return stem + "-" + strconv.Itoa(n) }

// SplitJob takes a job id "<stem>-<n>" apart; n starts at 1 and has no leading zero.
func SplitJob(id string) (stem string, n int, err error) {
	cut := strings.LastIndexByte(id, '-')
	if cut >= 0 {
		stem = id[:cut]
		n, err = strconv.Atoi(id[cut+1:])
	}
	if cut < 0 || err != nil || n < 1 || JobID(stem, n) != id || ValidStem(stem) != nil {
		return "", 0, fmt.Errorf("job id %.80q: <name>-<number> is wanted, such as pump-1", id)
	}
	return stem, n, nil
}
