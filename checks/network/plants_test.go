package network

// station is a board of two sections, each with a transformer on a feeder of its own, an earth at the terminals and a coupler between. Both
// sections are live, the coupler is open.
//
//	f1 -q1h- t1h =T1= t1l -q1l- A -qc- B -q2l- t2l =T2= t2h -q2h- f2
func station() Network {
	shut, out := Standing{Pos: Closed, Place: Service}, Standing{Pos: Open, Place: Service}
	n := Network{Sources: []Source{{ID: "F1", At: "f1"}, {ID: "F2", At: "f2"}}}
	for _, id := range []string{"f1", "t1h", "t2h", "f2"} {
		n.Nodes = append(n.Nodes, Node{ID: id})
	}
	for _, id := range []string{"t1l", "A", "B", "t2l"} {
		n.Nodes = append(n.Nodes, Node{ID: id, Low: true})
	}
	n.Devices = []Device{
		{ID: "q1h", Kind: Switch, Between: []string{"f1", "t1h"}, Normal: shut},
		{ID: "T1", Kind: Transformer, Between: []string{"t1h", "t1l"}},
		{ID: "q1l", Kind: Breaker, Between: []string{"t1l", "A"}, Normal: shut},
		{ID: "qc", Kind: Coupler, Between: []string{"A", "B"}, Normal: out},
		{ID: "q2l", Kind: Breaker, Between: []string{"t2l", "B"}, Normal: shut},
		{ID: "T2", Kind: Transformer, Between: []string{"t2h", "t2l"}},
		{ID: "q2h", Kind: Switch, Between: []string{"f2", "t2h"}, Normal: shut},
		{ID: "e1h", Kind: EarthSwitch, Between: []string{"t1h"}, Normal: out},
		{ID: "e2h", Kind: EarthSwitch, Between: []string{"t2h"}, Normal: out},
		{ID: "p2l", Kind: PortableEarth, Between: []string{"t2l"}, Normal: out},
		{ID: "pb", Kind: PortableEarth, Between: []string{"B"}, Normal: out},
	}
	return n
}

// twoSwitches is the station with a second switch behind q2h.
//
//	t2h -q2h- mid -q2x- f2
func twoSwitches() Network {
	n := station()
	n.Nodes = append(n.Nodes, Node{ID: "mid"})
	n.Devices[6].Between = []string{"mid", "t2h"}
	n.Devices = append(n.Devices, Device{ID: "q2x", Kind: Switch, Between: []string{"f2", "mid"}, Normal: Standing{Pos: Closed, Place: Service}})
	return n
}

// interlocked is the station with the interlocks and the key of its incomer T2: the earth needs the HV switch open and the other way round, the HV
// switch needs the LV breaker in service, the earth's key comes from the LV breaker when it is withdrawn.
func interlocked() Network {
	n := station()
	n.Interlocks = []Interlock{
		{Device: "q2h", Act: ActClose, Needs: Condition{Device: "q2l", Place: Service}},
		{Device: "q2h", Act: ActClose, Needs: Condition{Device: "e2h", Pos: Open}},
		{Device: "e2h", Act: ActEarthOn, Needs: Condition{Device: "q2h", Pos: Open}},
	}
	n.Keys = []Key{{ID: "K2", Home: "q2l", Free: []Condition{{Device: "q2l", Place: Withdrawn}, {Device: "e2h", Pos: Open}}}}
	return n
}
