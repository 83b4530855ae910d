#!/usr/bin/python3
"""Takes a whole job from its plan to the owner's archive by the JSON answers of handback
alone: no word that is meant for people is read. usage: jsonjob.py PLAN"""
import json, subprocess, sys


def ask(*words, status=0, typed=b""):
    """Runs one command, with what it reads from stdin, and gives its answer."""
    done = subprocess.run(["handback", *words, "--json"], input=typed, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    answer = json.loads(done.stdout)
    if isinstance(answer, dict) and answer["v"] != 1:
        sys.exit(f"{words}: version {answer['v']} is not known here")
    if done.returncode != status:
        sys.exit(f"{words}: status {done.returncode}: {answer}")
    return answer


def refused(code, *words, status=1, **about):
    """Runs one command that has to fail so, about that."""
    error = ask(*words, status=status)["error"]
    said = {name: error.get(name) for name in about}
    if (error["code"], error["status"], said) != (code, status, about):
        sys.exit(f"{words}: {error}")
    return error


# What a person reads on site, by the key that is asked.
SITE = {
    "dead": dict(tester="tester", source="unit", before="live", before_at="08:50", l1e="not live", l2e="not live",
                 l3e="not live", points_at="08:55", after="live", after_at="08:56"),
    "hv": dict(meter="hvm", value="11.25"),  # too high; the second time it is not
    "lv": dict(meter="dmm", l1l2="432.1", l2l3="431.9", l3l1="432.4", l1n="249.5", l2n="249.4", l3n="249.6"),
    "look": dict(who="ada", s1="yes", s2="no"),  # an engineer accepts it
    "sync": dict(meter="dmm", at="now", state="live-live", u_a="430.1", u_b="430.6", f_a="50.01", f_b="50.01", p1="0.5", p2="0.5", p3="0.5"),
}


def read(job, check, asks, *more):
    """Answers what a check asks, and gives its verdict."""
    told = SITE[check]
    pairs = [f"{f['key']}={told[f['key']]}" for f in asks if f["key"] in told]
    tried = ask("enter", job, check, *pairs, "--dry-run", *more)
    stored = ask("enter", job, check, *pairs, *more)
    assert tried["dry_run"] and not stored["dry_run"]
    assert [e["data"] for e in tried["entries"]] == [e["data"] for e in stored["entries"]]
    return [e["data"]["verdict"] for e in stored["entries"] if e["kind"] == "judge"]


def main(plan):
    assert not [p for p in ask("plan", "check", plan)["problems"]]
    assert {k["kind"] for k in ask("kinds")} >= {s["kind"] for s in ask("plan", "check", plan)["steps"] if "kind" in s}
    job = ask("open", plan)["job"]
    assert [j["id"] for j in ask("jobs")] == [job]
    assert "dead" in refused("no-such-name", "enter", job, "daed", "l1e=live", status=2, where="check", met="daed")["accepted"]
    refused("no-job", "status", "nothing-1", where="job", met="nothing-1", accepted=[job])
    refused("no-book", "--book", "none.db", "jobs")
    refused("no-file", "plan", "check", "none.yaml", where="file", met="none.yaml")
    assert refused("hold-stands", "done", job, "energise", where="hold", met="energise")["each"]
    refused("out-of-order", "enter", job, "hv", "meter=hvm", "value=11", where="check", met="hv", accepted=["energise"])
    walked = ask("walk", job, typed=b"note begun by a script\nquit\n")
    assert [e["kind"] for e in walked["entries"]] == ["note"] and walked["ended"] == "quit" and walked["next"] == "dead"
    assert [f["key"] for f in walked["asks"]] == [f["key"] for f in ask("status", job, status=3)["asks"]]
    verdicts = {}
    for _ in range(20):
        now = ask("status", job, status=3)
        step = next(s for s in now["steps"] if now["next"] in (s.get("check"), s.get("hold")))
        if "hold" in step:
            assert not step.get("gaps"), step
            done = ask("done", job, step["hold"])["entries"][0]
            assert done["kind"] == "step" and done["data"]["hold"] == step["hold"]
            if step is now["steps"][-1]:
                break
            continue
        verdicts.setdefault(step["check"], []).extend(read(job, step["check"], now["asks"]))
        if step["check"] == "look":
            refused("done-before", "enter", job, "look", "who=ada", "s1=yes", "s2=yes", where="check", met="look")
            refused("wrong-person", "accept", job, "look", "--by", "ada", "--why", "tools stay", where="--by", met="ada", accepted=["ben"])
            said = ask("accept", job, "look", "--by", "ben", "--why", "the crate stays until tomorrow")["entries"]
            assert [(e["kind"], e["by"]) for e in said] == [("concede", "ben")], said
        elif verdicts[step["check"]][-1] != "pass":
            SITE["hv"]["value"] = "10.98 kV"
            asks = [{"key": k} for k in SITE[step["check"]]]
            verdicts[step["check"]].extend(read(job, step["check"], asks, "--repeat", "the supply was put right"))
    assert verdicts == {c: ["pass"] for c in SITE} | {"hv": ["fail", "pass"], "look": ["fail"]}, verdicts
    ask("defect", job, "door switch sticks", "--where", "T2 cubicle")
    ask("defect", job, "1", "--closed", "switch changed")
    ask("attach", job, plan, "--caption", "the plan as it was printed")
    ready = ask("status", job)
    assert ready["ready"] and ready["verdict"] == "ready-with-concessions" and not ready["next"] and not ready["asks"]
    assert [p["what"] for p in ask("flags", job)["flags"] if p["open"]] == []
    assert ask("key", "new", "-o", "key", "--unprotected")["files"] == ["key.pub", "key"]
    refused("no-file", "sign", job, "--as", "technician", "--key", "none", "--yes", where="file", met="none")
    assert [e["kind"] for e in ask("sign", job, "--as", "technician", "--key", "key", "--yes")["entries"]] == ["attach", "attach", "sign"]
    made = ask("handover", job, "-o", "handover.xlsx", "--page", "handover.html")["files"]
    bag, = ask("pack", job, "-o", job + ".zip")["files"]
    for what in (job, bag, made[0]):
        shown = ask("verify", what)
        assert not shown["faults"] and not shown["refused"], shown
    with open("trusted", "w") as trusted:
        trusted.write('ada namespaces="handback-statement,handback-statement-technician" ' + ask("key", "show", "key")["line"] + "\n")
    shown = ask("verify", bag, "--require", "technician", "--allowed-signers", "trusted")
    assert [g["good"] for g in shown["signatures"]] == [True] and not shown["refused"], shown
    with open(bag, "rb") as whole:
        content = whole.read()
    assert ask("verify", "-", typed=content)["head"] == shown["head"]
    with open("cut.zip", "wb") as cut:
        cut.write(content[:-200])
    assert refused("not-intact", "--book", "other.db", "take", "cut.zip", status=4, met="cut.zip")["each"]
    assert "owner" in ask("archive", "new", "--archive", "owner")["files"]
    assert ask("archive", "policy", "--archive", "owner")["number"] == 0
    assert ask("archive", "add", bag, "--archive", "owner")["became"] == "new"
    refused("no-job", "archive", "get", "nothing-1", "--archive", "owner", "-o", "none.zip")
    refused("no-archive", "archive", "find", "--archive", "nowhere")
    found, = ask("archive", "find", "--archive", "owner")
    assert ask("archive", "get", job, "--archive", "owner", "-o", "got.zip")["files"] == ["got.zip"]
    again = ask("--book", "other.db", "take", bag)
    assert found["id"] == again["job"] == job and len(again["entries"]) == ask("status", job)["entries"]
    assert ask("archive", "export", "--archive", "owner", "-o", "rows")["files"] == ["rows"]
    print(f"{job}: {len(again['entries'])} entries, ready, signed, packed, archived, taken elsewhere")


main(sys.argv[1])
