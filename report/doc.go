// Package report tells what became of a job. It folds the entries of a record book
// into a Job, answers what may be done next and why not, and says once, as data, what
// a handover says. It lays nothing out: workbook, page, text, field sheet, bags and
// written files are packages below this one in the folder and above it in the order
// of imports.
//
// # From entries to a job
//
//   - An entry's data is one of the types in entries.go; its sort is one of the Entry
//     constants. Fold takes entries up one by one, and Add those that follow: both
//     judge every attempt anew with what was known at its entry. A judgement that
//     comes out otherwise than it was recorded stands in Job.Differs.
//   - A State is what became of one check: its attempts, a skip, its concessions. An
//     Attempt is one set of answers, read in one or more lines, corrected or not, and
//     judged when it is complete. LastJudged is the attempt that counts.
//   - A Concession is an engineer's acceptance of a finding that did not pass. One that
//     the rules do not allow accepts nothing and says why in Void.
//   - A Remark is what an engineer who reviewed the job ordered, asked or said of a check,
//     a step or the job. An order stands until its check or step was taken again, a
//     question until it is answered, both until they are withdrawn (Stands).
//   - A Step is an act of the plan, a hold point's or a plain one, once it was recorded;
//     an Undo takes it back, a Left says that a plain one is not done. A device Found
//     otherwise is followed. Where the plan has a network, the fold keeps how the plant
//     stands after each entry (PlantView), and a step done against a rule is followed as
//     it was done.
//
// # What may be done, and what counts
//
//   - A hold point waits for its checks, for the plain steps above it, and for the rules
//     that its own step would break. A Gap is one that is not filled, with the reason;
//     Gaps lists them, Counting says until when filled ones stay so.
//   - A reading is out of order when it does not fit the state of the plant that the
//     steps give (OutOfOrder). An attempt lapses when what it rests on changed after
//     it: a step undone, work done again, an instrument found bad (Lapsed).
//   - Overall is the verdict on the whole job; Standing the same with what the
//     signatures are worth. When in doubt a job is not ready. RuleFaults names entries
//     that no command writes.
//   - A Flag is something an engineer should look at, open while it is so.
//
// # What a handover says
//
//   - A Document is all that a handover shows, worked out once for every form it takes:
//     lines for hold points, concessions, signatures, attachments and entries, and a
//     page a check with its attempts. Hang tells on what it hangs that a check is
//     closed; a Trend how its values came out in earlier jobs.
//   - A Register lists what went out and came back: keys, locks, safety documents, earths.
//   - HandoverData are the same facts without words, in the form of RFC 8785. Their
//     digest stands in every signed statement.
//   - A Signature covers the entries before it. Whether it is good is part of the
//     job's state, since nothing is ready above one that is not; so it is checked here
//     (CheckSignatures), and seal writes it out.
//
// The words of a kind come from the catalogue in templates; sentences of the handover
// that several forms share stand in words.go.
package report
