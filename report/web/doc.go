// Package web shows an archive to people who look rather than type: pages for a browser
// on the same machine, made for each request and kept nowhere. It reads and never writes.
//
// Its words:
//
//	page      what one address shows, whole before its first byte goes out
//	handover  the page of a job as it lies in its bag, shown as it is and trusted with
//	          nothing: it runs no script and reaches no other address
//	host      the name a browser asked for; any that is not known is turned away, so
//	          that no page of another site reaches this one through the browser
package web
