package checks

import "testing"

func TestCondition(t *testing.T) {
	answers := Answers{"lamp": {Word: "unclear"}, "who": {Word: "ada"}, "second": {Word: "ada"}, "on": {Value: 2}, "off": {Value: 1}, "quoted": {Word: `tap "2"`}}
	w := &Work{Input: Input{Answers: answers, Before: Pasts{"other": {Answers: Answers{"who": {Word: "ada"}}}}}}
	cells := []string{"A1", "B1"}
	for _, c := range []struct {
		c       Condition
		want    Verdict
		formula string
	}{
		{WordIs("lamp", "lit"), Fail, `IF(A1&""="lit","PASS","FAIL")`},
		{WordIs("lamp", "lit").Or(Inconclusive, "unclear", "dim"), Inconclusive, `IF(A1&""="lit","PASS",IF(OR(A1&""="unclear",A1&""="dim"),"INCONCLUSIVE","FAIL"))`},
		{WordIs("nothing", "lit"), Fail, `IF(A1&""="lit","PASS","FAIL")`},
		{WordIs("quoted", `tap "2"`), Pass, `IF(A1&""="tap ""2""","PASS","FAIL")`},
		{OtherWord("second", "who"), Fail, `IF(A1<>B1,"PASS","FAIL")`},
		{SameWord("who", "other/who"), Pass, `IF(A1=B1,"PASS","FAIL")`},
		{CountsAre(2, "on", "off"), Fail, `IF(AND(COUNT(A1,B1)=2,A1=2,B1=2),"PASS","FAIL")`},
		{CountsAre(0, "on", "nothing"), Fail, `IF(AND(COUNT(A1,B1)=2,A1=0,B1=0),"PASS","FAIL")`},
		{CountsAre(1, "off"), Pass, `IF(AND(COUNT(A1)=1,A1=1),"PASS","FAIL")`},
	} {
		if got := c.c.judge(w); got != c.want {
			t.Errorf("%v comes to %s, want %s", c.c.Fields, got, c.want)
		}
		if got := c.c.Formula(cells[:len(c.c.Fields)]); got != c.formula {
			t.Errorf("%v: formula %s, want %s", c.c.Fields, got, c.formula)
		}
	}
}
