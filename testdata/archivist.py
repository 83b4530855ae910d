#!/usr/bin/python3
"""Re-hashes and re-reads a bag (a folder) by what stands in it alone: HOW-TO-CHECK.txt for
files and hashes, HOW-TO-READ.txt for entries and units, entry.schema.json for members."""
import collections, hashlib, json, os, re, sys
os.chdir(sys.argv[1])
wrong, listed, units, also, asked, counts = [], {}, {}, {}, {}, collections.Counter()
read = lambda name: open(name, "rb").read()
sha = lambda *parts: hashlib.sha256(b"".join(parts)).hexdigest()
expect = lambda holds, *what: holds or wrong.append(" ".join(map(str, what)))
def tables(text, head="", check=""):  # columns stand two blanks or more apart; what is set in further goes on
    for row in (re.split(" {2,}", line.strip()) for line in re.sub("\n {5,}", " ", text).splitlines()):
        head = row != [""] and (head or row[0])
        if row[0].startswith("CHECK "):
            check = row[0][6:].split(":")[0]
        elif head == "unit" and row[0] != "unit":
            units[row[0]] = row[2], float(row[3]), float(row[4])
            also.update(dict.fromkeys(row[5].split(", ") if len(row) > 5 else [], row[0]))
        elif head == "field" and len(row) == 4:
            asked.setdefault((check, row[0]), []).append(row[2])
def fits(value, shape, where):  # members that must be there, and no others
    shape = schema["$defs"][shape["$ref"].split("/")[-1]] if "$ref" in shape else shape
    inner, more = shape.get("properties", {}), shape.get("additionalProperties")
    if isinstance(value, list):
        [fits(v, shape.get("items", {}), where) for v in value]
    elif isinstance(value, dict) and (inner or more):
        expect(set(shape.get("required", [])) <= set(value), where, "lacks a member of", sorted(inner))
        expect(more is not False or set(value) <= set(inner), where, "has a member that is not told")
        [fits(v, inner.get(k, more or {}), where + " " + k) for k, v in value.items()]
def same(a, bare):  # what was typed, in base units, is what it was understood as
    bound, x, unit = re.fullmatch(r"\s*([<>≤≥]?)=?\s*([-+−]?[\d.,]+(?:[eE][-+]?\d+)?)\s*(.*?)\s*", a["typed"]).groups()
    capitals = [u for n, u in [*also.items(), *zip(units, units)] if n.lower() == unit.lower()]
    names = bare if not unit else [unit] if unit in units else [also[unit]] if unit in also else capitals
    told = [float(x.replace("−", "-").replace(",", ".")) * units[n][1] + units[n][2] for n in names if units[n][0] == a["unit"]]
    return a.get("value", 0) in told and {"≥": ">", "≤": "<"}.get(bound, bound) == a.get("bound", "")
for kind, alg in ((k, a) for k in ("manifest", "tagmanifest") for a in ("sha256", "sha512")):
    for digest, name in (line.split("  ", 1) for line in read(f"{kind}-{alg}.txt").decode().splitlines()):
        listed[name] = listed.get(name, 0) + 1
        expect(hashlib.new(alg, read(name)).hexdigest() == digest, name, "was changed")
files = [os.path.join(top, n)[2:] for top, _, names in os.walk(".") for n in names if not n.startswith("tagmanifest-")]
expect(listed == dict.fromkeys(files, 2), "files and their lists differ:", set(files) ^ set(listed))
tables(read("HOW-TO-READ.txt").decode())
schema, prev, hashes = json.loads(read("entry.schema.json")), "", ""
shapes = {each["if"]["properties"]["kind"]["const"]: each["then"]["properties"]["data"] for each in schema["allOf"]}
for seq, body in enumerate(read("data/entries.jsonl").split(b"\n")[:-1], 1):
    e, where = json.loads(body), f"entry {seq}:"
    data, prev = e["data"], prev or sha(f"handback job v1\n{e['job']}\n{e['data']['nonce']}".encode())
    fits(e, schema, where), fits(data, shapes[e["kind"]], where)
    expect((e["seq"], e["prev"]) == (seq, prev), where, "does not follow the one before")
    prev = sha(b"handback entry v1\n", body)
    hashes += f"{seq} {prev}\n"
    file = {"open": "plan.yaml", "amend": f"plan-amended-{seq}.yaml", "attach": f"attachments/{data.get('sha256')}-{data.get('name')}"}.get(e["kind"])
    expect(not file or sha(read(f"data/{file}")) in (data.get("plan_hash"), data.get("sha256")), where, file, "is another file")
    told = {k: a for k, a in data.get("answers", {}).items() if "unit" in a and "not_there" not in a}
    for key, a in told.items():
        expect(same(a, asked.get((e["check"], key), [])), where, key, a["typed"], "is not", a.get("value", 0), a["unit"])
    counts.update(entries=1, readings=len(told), verdicts=int(e["kind"] == "judge"))
expect(hashes == read("data/hashes.txt").decode(), "data/hashes.txt: the entries have other hashes")
print(*(f"{n} {what}" for what, n in counts.items()), sep=", ")
sys.exit("\n".join(wrong) or 0)
