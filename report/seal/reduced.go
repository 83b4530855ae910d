package seal

import (
	"crypto/sha512"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strconv"
	"strings"

	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
)

// reduced examines a bag from which something was removed. What is left is held against
// the lists of the whole bag, and the entries against its list of hashes. The record is
// not judged again: what was removed may have changed it.
func (x *Examined) reduced(b *bag.Bag) {
	removed, err := readRemoved(b)
	if err != nil {
		x.found("%v", err)
		return
	}
	x.Removed = &removed
	whole, err := wholeList(b)
	if err != nil {
		x.found("%v", err)
		return
	}
	x.leftFiles(b, whole)
	n, head := x.leftEntries(b)
	if n != len(x.Left) { // a fault was told
		x.Left = nil
	}
	if info, err := b.Info(); err == nil && (info.Entries != n || info.Head != head || info.Job != removed.Job) {
		x.found("%s tells of job %s with %d entries and head %s; what is left is of job %s with %d and head %s", bag.BagInfoFile, info.Job, info.Entries, info.Head, removed.Job, n, head)
	}
	list, err := ListOf(b)
	if err != nil {
		x.found("%v", err)
	}
	x.shows("what is left in the bag is what the lists of the whole bag name; of all that is gone they hold the hash")
	x.shows("its %s stand in their order, each linked to the one before, removed ones by their hash; head %s", report.Count(n, "entry", "entries"), head)
	x.Notes = append(x.Notes, fmt.Sprintf("SHA-256 of the list of the whole bag: %s; the log of the archive names it as list ('handback archive prove' shows it)", list))
	for _, a := range removed.Acts {
		x.misses("%s", a.Words())
	}
	x.misses("the findings, which were not judged again, and the signatures: the bag was whole when the archive took it")
}

// Words say what was removed, by whom and why.
func (a Removal) Words() string {
	var what []string
	for _, e := range a.Entries {
		what = append(what, "entry "+strconv.Itoa(e.Entry))
	}
	for _, f := range a.Files {
		what = append(what, strings.TrimPrefix(f.Name, bag.BagPayload))
	}
	return fmt.Sprintf("%s: removed %s by %s: %s", strings.Join(what, ", "), report.Stamp(a.At), a.By, a.Why)
}

// wholeList is what the list of the whole bag says of its payload: SHA-512 by name.
func wholeList(b *bag.Bag) (map[string]string, error) {
	files, err := b.Read(wholeFiles)
	if err != nil {
		return nil, err
	}
	lists, err := b.Read(wholeLists)
	if err != nil {
		return nil, err
	}
	above, err := bag.ParseList(lists)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", wholeLists, err)
	}
	if sum := sha512.Sum512(files); hex.EncodeToString(sum[:]) != above[bag.FilesList] {
		return nil, fmt.Errorf("%s is not the list that %s names", wholeFiles, wholeLists)
	}
	out, err := bag.ParseList(files)
	if err != nil {
		err = fmt.Errorf("%s: %w", wholeFiles, err)
	}
	return out, err
}

// leftFiles holds the files that are left against the list of the whole bag, and those
// that are gone against what is said to be removed.
func (x *Examined) leftFiles(b *bag.Bag, whole map[string]string) {
	gone, changed := map[string]string{}, false
	for _, a := range x.Removed.Acts {
		changed = changed || len(a.Entries) > 0
		for _, f := range a.Files {
			gone[f.Name] = f.SHA512
		}
	}
	left := map[string]bool{}
	for _, name := range b.Names() {
		if !strings.HasPrefix(name, bag.BagPayload) || name == bagRemoved || name == wholeFiles || name == wholeLists {
			continue
		}
		left[name] = true
		if name == bagEntries && changed { // held line by line against the list of hashes
			continue
		}
		content, err := b.Read(name)
		if err != nil {
			x.found("%v", err)
			continue
		}
		if sum := sha512.Sum512(content); hex.EncodeToString(sum[:]) != whole[name] {
			x.found("%s is not the file that the whole bag held under that name", name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(whole)) {
		switch hash, said := gone[name]; {
		case left[name] && said:
			x.found("%s is there, though it is said to be removed", name)
		case !left[name] && !said:
			x.found("%s is missing, and nothing says why", name)
		case !left[name] && hash != whole[name]:
			x.found("%s: %s has another hash of it than the list of the whole bag", bagRemoved, name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(gone)) {
		if whole[name] == "" {
			x.found("%s: %s was not in the whole bag", bagRemoved, name)
		}
	}
}

// leftEntries follows the entries of a reduced bag by its list of hashes. It gives their
// number and the hash of the last.
func (x *Examined) leftEntries(b *bag.Bag) (n int, head string) {
	hashes, err := x.listed(b)
	if err != nil {
		x.lost(err)
		return 0, ""
	}
	gone := map[int]string{}
	for _, a := range x.Removed.Acts {
		for _, e := range a.Entries {
			gone[e.Entry] = e.Hash
		}
	}
	lines, count := chain.Chain{Job: x.Removed.Job}, 0
	err = b.Lines(bagEntries, chain.MaxBody, func(n int, line []byte) bool {
		count = n
		if n > len(hashes) {
			x.found("%s, line %d: %s lists %d entries", bagEntries, n, bagHashes, len(hashes))
			return false
		}
		e, left, err := readLine(line)
		switch {
		case err != nil:
			x.found("%s, line %d: %v", bagEntries, n, err)
		case left != nil && (left.Seq != n || left.Hash != hashes[n-1] || gone[n] != left.Hash):
			x.found("%s, line %d: what is left there is not the entry that was removed", bagEntries, n)
		case left == nil && (e.Hash != hashes[n-1] || gone[n] != ""):
			x.found("%s, line %d is not the entry that %s lists", bagEntries, n, bagHashes)
		}
		if left != nil {
			lines.Skip(n, left.Hash)
			e = chain.Entry{Head: chain.Head{Job: x.Removed.Job, Seq: n}, Hash: left.Hash}
		} else if err == nil {
			for _, f := range lines.Link(e) {
				x.found("%s: %s", bagEntries, f)
			}
		}
		x.Left = append(x.Left, e)
		return !x.faults.Full()
	})
	if err != nil {
		x.lost(err)
	}
	if count < len(hashes) && !x.faults.Full() {
		x.found("%s ends after %d lines; %s lists %d entries", bagEntries, count, bagHashes, len(hashes))
	}
	if len(hashes) == 0 {
		return 0, ""
	}
	return len(hashes), hashes[len(hashes)-1]
}

// listed are the hashes of the entries, in their order. leftFiles has held the list
// against the one of the whole bag.
func (x *Examined) listed(b *bag.Bag) (hashes []string, err error) {
	if x.faults.Full() {
		return nil, errors.New("too much is wrong to follow the entries")
	}
	var wrong error
	err = b.Lines(bagHashes, 100, func(n int, line []byte) bool {
		seq, hash, _ := strings.Cut(string(line), " ")
		if n > maxBagEntries || seq != strconv.Itoa(n) || !chain.IsHash(hash) {
			wrong = fmt.Errorf("%s, line %d: the number of the entry and its hash are wanted", bagHashes, n)
			return false
		}
		hashes = append(hashes, hash)
		return true
	})
	return hashes, errors.Join(err, wrong)
}

// isReduced tells whether something was removed from a bag.
func isReduced(b *bag.Bag) bool {
	_, err := b.Read(bagRemoved)
	return !errors.Is(err, fs.ErrNotExist)
}
