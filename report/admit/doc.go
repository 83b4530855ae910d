// Package admit decides which bags come into an archive, and says what of a job goes into
// its rows. What it says of a bag hangs only on the bag, the policy and the time that it is
// given, so that rows can be made again.
package admit
