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

	// Deliveries

	// The books

	// Sizes

	// Settings

	// Files, and whether the program is well
	s.get("/files/:hash/*name", public, s.serveFile)
	s.get("/favicon.ico", public, s.favicon)
	s.get("/healthz", public, s.healthz)
	s.get("/readyz", public, s.readyz)
}
