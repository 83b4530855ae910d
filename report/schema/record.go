package schema

import (
	"reflect"

	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
)

// closedSets are the members that hold one of a few words, by type and name.
var closedSets = map[string][]string{
	"chain.Statement.verdict": chain.Verdicts,
	"chain.Statement.role":    chain.Roles,
	"chain.Acceptance.role":   chain.Roles,
	"report.Handed.verdict":   chain.Verdicts,
}

// Record are the schemas of what is kept and signed.
var Record = []Named{
	{Name: "acceptance", About: "an acceptance: what a person signs who accepts something of a job", Answers: []any{chain.Acceptance{}}},
	{Name: "handover", About: "handover data: what a handover says, as data", Answers: []any{report.Handed{}}},
	{Name: "statement", About: "a statement: what a person signs about a job", Answers: []any{chain.Statement{}}},
}

// entryData is the type of the data of each kind of entry.
var entryData = []struct {
	kind string
	data any
}{
	{report.EntryOpen, report.Opened{}}, {report.EntryRead, report.Read{}}, {report.EntryJudge, report.Judged{}}, {report.EntryCorrect, report.Corrected{}},
	{report.EntrySkip, report.Skipped{}}, {report.EntryNote, report.Noted{}}, {report.EntryConcede, report.Conceded{}},
	{report.EntryStep, report.Stepped{}}, {report.EntryUndo, report.Undone{}}, {report.EntryLeft, report.NotDone{}}, {report.EntryFound, report.FoundSo{}},
	{report.EntryBad, report.FoundBad{}}, {report.EntryDefect, report.Raised{}}, {report.EntryClose, report.Closed{}},
	{report.EntryAmend, report.Amended{}}, {report.EntryAccept, report.AcceptedPlan{}}, {report.EntryRemark, report.Remarked{}}, {report.EntryAnswer, report.Answered{}}, {report.EntryWithdraw, report.Withdrawn{}}, {report.EntryReview, report.Reviewed{}},
	{report.EntrySign, report.Signed{}}, {report.EntryAttach, chain.Attached{}}, {report.EntryAdopt, fork.Adopted{}}, {report.EntryJoin, fork.Joined{}},
}

// Entry is the schema of the body of an entry, by its kind.
func Entry() ([]byte, error) {
	s := shapes{Shape{}}
	root := s.object(reflect.TypeFor[chain.Head]())
	members := root["properties"].(Shape)
	var kinds []string
	var each []any
	for _, e := range entryData {
		kinds = append(kinds, e.kind)
		each = append(each, Shape{
			"if":   Shape{"properties": Shape{"kind": Shape{"const": e.kind}}},
			"then": Shape{"properties": Shape{"data": s.of(reflect.TypeOf(e.data))}},
		})
	}
	members["kind"], members["data"], root["allOf"] = words(kinds...), Shape{"type": "object"}, each
	root["required"] = append(root["required"].([]string), "data")
	return printed("entry", "the body of an entry of the record", root, s.defs)
}
