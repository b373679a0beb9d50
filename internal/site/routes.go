package site

import "boltward/internal/account"

// list is the whole product: every address, the right it needs, and who
// answers. GET changes nothing; a POST in a drive needs the right to write and
// carries a key that keeps it from being booked twice.
func (s *Site) list() {
	// Doors
	s.get("/", public, s.home)
	s.get("/sign-in", public, s.signIn)
	s.post("/sign-in", public, s.signInNow)
	s.get("/sign-in/link/:token", public, s.signInLink)
	s.post("/sign-in/link/:token", public, s.useSignInLink)
	s.post("/sign-out", signedIn, s.signOut)
	s.get("/drives", signedIn, s.drives)
	s.get("/drives/:drive", read(account.Drive), s.driveHome)
	s.get("/drives/:drive/", read(account.Drive), s.driveHome)

	// Needs you

	// Asked for, recipients

	// Fabric

	// Plan

	// Cutting

	// Kits

	// People

	// Pillowcases back
	s.get("/drives/:drive/back", read(account.Packing), s.back)
	s.post("/drives/:drive/back/kit", write(account.Kits), s.backKit)
	s.post("/drives/:drive/back/loose", write(account.Packing), s.backLoose)
	s.post("/drives/:drive/back/undo/:step", write(account.Packing), s.backUndo)
	s.get("/drives/:drive/back/check/:asked/:size/:kit/:part", write(account.Packing), s.check)
	s.post("/drives/:drive/back/check/:asked/:size/:kit/:part", write(account.Packing), s.checkNow)
	s.get("/drives/:drive/back/mend/:asked/:size/:kit/:part", write(account.Packing), s.mend)
	s.post("/drives/:drive/back/mend/:asked/:size/:kit/:part/here", write(account.Packing), s.mendHere)
	s.post("/drives/:drive/back/mend/:asked/:size/:kit/:part/send", write(account.Packing), s.mendSend)
	s.get("/drives/:drive/back/promise/:state/:asked/:size/:kit/:part", write(account.Packing), s.promise)
	s.post("/drives/:drive/back/promise/:state/:asked/:size/:kit/:part", write(account.Packing), s.promiseNow)

	// Deliveries
	s.get("/drives/:drive/deliveries", read(account.Packing), s.deliveries)
	s.post("/drives/:drive/deliveries/pack/:recipient", write(account.Packing), s.packBox)
	s.post("/drives/:drive/deliveries/box/:box/unpack", write(account.Packing), s.unpackBox)
	s.post("/drives/:drive/deliveries/send/:recipient", write(account.Packing), s.makeDelivery)
	s.get("/drives/:drive/deliveries/:delivery", read(account.Packing), s.delivery)
	s.post("/drives/:drive/deliveries/:delivery/confirm", write(account.Packing), s.confirmDelivery)
	s.post("/drives/:drive/deliveries/:delivery/not-received", write(account.Packing), s.notReceived)

	// The books
	s.get("/drives/:drive/books", read(account.Books), s.books)
	s.get("/drives/:drive/books/books.xlsx", read(account.Books), s.booksFile, long)

	// Sizes

	// Settings

	// Files, and whether the program is well
	s.get("/files/:hash/*name", public, s.serveFile)
	s.get("/favicon.ico", public, s.favicon)
	s.get("/healthz", public, s.healthz)
	s.get("/readyz", public, s.readyz)
}
