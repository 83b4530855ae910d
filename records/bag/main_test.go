package bag

var testPlan = []byte("plan: invented pumping station\n")

var testFile = []byte("an invented photograph\n")
