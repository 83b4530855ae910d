"""Checks proofs of an archive's log by the text of RFC 9162, sections 2.1.3.2 and 2.1.4.2 (hashes
as in RFC 6962, section 2.1): python3 check.py PROOF... answers yes or no for each, or for each of a
list. Standard library alone, so the signatures of the heads are left to openssl."""
import base64, hashlib, json, sys

def node(left, right):
    return hashlib.sha256(b"\x01" + left + right).digest()

def head(note):
    origin, size, root = note.split("\n\n")[0].split("\n")
    return origin, int(size), base64.b64decode(root)

def included(leaf, index, size, path, root):
    fn, sn, r = index, size - 1, hashlib.sha256(b"\x00" + leaf).digest()
    for p in path:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            r = node(p, r)
            while fn and not fn & 1:
                fn, sn = fn >> 1, sn >> 1
        else:
            r = node(r, p)
        fn, sn = fn >> 1, sn >> 1
    return 0 <= index < size and sn == 0 and r == root

def continued(first, old, second, new, path):
    if first == second:
        return old == new and not path
    path = path if first & (first - 1) else [old] + path
    if not 0 < first < second or not path:
        return False
    fn, sn, fr, sr = first - 1, second - 1, path[0], path[0]
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    for c in path[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            fr, sr = node(c, fr), node(c, sr)
            while fn and not fn & 1:
                fn, sn = fn >> 1, sn >> 1
        else:
            sr = node(sr, c)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and fr == old and sr == new

def holds(proof):
    path, (origin, size, root) = [base64.b64decode(p) for p in proof["path"]], head(proof["head"])
    if "leaf" in proof:
        return included(proof["leaf"].encode(), proof.get("number", 0) - 1, size, path, root)
    was, first, old = head(proof["old"])
    return was == origin and continued(first, old, size, root, path)

for name in sys.argv[1:]:
    with open(name, encoding="utf-8") as file:
        proofs = json.load(file)
    for proof in proofs if isinstance(proofs, list) else [proofs]:
        print("yes" if holds(proof) else "no")
