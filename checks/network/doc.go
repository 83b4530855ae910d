// Package network tells the state of a plant from its drawing and the steps done: what is live and from where, isolated, secured and by which
// points, earthed, in parallel, lost. It judges a step against the rules before it is done, and plays a whole list of steps as a dry run.
//
// It is pure: no clock, file or chance, and no argument is written to. It gives codes and names; sentences are made elsewhere. It records and
// judges and never authorises work: local rules, the permit and the person licensed to decide come first.
//
// # Words
//
//	node        a piece of plant at one potential: a bar section, the terminals of one side of a transformer, a cable
//	device      what joins two nodes, or one node to earth (earth switch, portable earth)
//	source      what can make a node live: a supply always; a capacitor while it is charged
//	position    open, closed or unknown
//	place       of a withdrawable device: in service, in test place, withdrawn
//	standing    position, place and locks of one device
//	carries     closed and in service; a transformer always, both ways; earth does not pass a transformer
//	gap         an isolating distance: a withdrawn device, or an open one that isolates (switch, isolator, link, or as the plan says)
//	live        a source reaches the node over carrying devices; a charged capacitor counts
//	may be live live, with every device of unknown position taken as closed
//	isolated    no supply would reach the node if every device without a gap were closed
//	secured     the same, counting only gaps with a lock on
//	point of isolation
//	            a locked gap nearest the node with a supply behind it
//	earthed     an earth is closed at the node or at one joined to it over carrying devices, no transformer between
//	in parallel two or more supplies joined, or two or more transformers on one live loop
//	lost        live from a supply before a step and from none after it
//	unknown     a position nobody recorded: closed when life, isolation or earth underfoot is asked; open when supply or earthing is asked
//	proof       a node was proved dead; it holds until one of the things that Memory lists happens
//	phasing     the two sides of an open device were found to be the same phases
//	document    a permit to work, or a sanction for test, in force on named nodes
//	key         of an interlock: in a device's lock, or in hand
//
// The zero Position is unknown and the zero Place is one nobody recorded: what was not said is never safe.
//
// # Order of use
//
// New checks a Network and gives a Plant. Its Start is the state and memory before the first step; Look shows a state; Attempt judges one step
// and gives the state after it; Play runs a list of them; Left names what is not as it should be at the end.
//
// Not covered: one phase of three, the neutral and its earthing, load and fault current, trips by protection (record the standing found with
// the act found), automatic transfer.
package network
