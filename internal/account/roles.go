package account

import "boltward/internal/apperr"

// Role is what somebody is in one drive. Organiser to Reader are held by people
// who sign in; the last two belong to whoever holds a personal link.
type Role string

// The roles.
const (
	Organiser     Role = "organiser"
	Desk          Role = "desk"
	CuttingLead   Role = "cutting"
	Packer        Role = "packing"
	Reader        Role = "reader"
	VolunteerLink Role = "volunteer link"
	RecipientLink Role = "recipient link"
)

// Area is one part of a drive that rights are given for.
type Area string

// The areas.
const (
	Drive    Area = "drive"    // the drive itself, what is asked for, sizes, people who sign in
	Fabric   Area = "fabric"   // taking fabric in, labels
	Plan     Area = "plan"     // plan, accept, change
	Cutting  Area = "cutting"  // sign out sheets, mark cut, came up short
	Kits     Area = "kits"     // hand out, take back
	Packing  Area = "packing"  // check, pack, deliver
	Contacts Area = "contacts" // volunteers' addresses and phones
	Books    Area = "books"    // everything as a spreadsheet
	Import   Area = "import"   // bringing spreadsheets in, backup
)

// Access is how far a role reaches into an area.
type Access int

// None refuses; Own lets the holder of a link see and answer for what is theirs,
// and never opens a page of the drive; Write includes Read.
const (
	None Access = iota
	Own
	Read
	Write
)

// row is one line of the table: what each role may do in an area.
type row struct {
	area                                                           Area
	organiser, desk, cutting, packing, reader, volunteer, receiver Access
}

// table is the whole of who may what. It is a function so that nobody can change it.
func table() [9]row {
	return [...]row{
		{Drive, Write, Read, Read, Read, Read, None, Own},
		{Fabric, Write, Write, Read, Read, Read, None, None},
		{Plan, Write, Read, Write, Read, Read, None, None},
		{Cutting, Write, None, Write, None, Read, None, None},
		{Kits, Write, Write, Write, Write, Read, Own, None},
		{Packing, Write, None, None, Write, Read, None, Own},
		{Contacts, Write, Read, None, Read, None, Own, None},
		{Books, Write, None, None, None, Read, None, None},
		{Import, Write, None, None, None, None, None, None},
	}
}

// Roles lists every role, those of people who sign in first.
func Roles() []Role {
	return []Role{Organiser, Desk, CuttingLead, Packer, Reader, VolunteerLink, RecipientLink}
}

// Areas lists every area, in the order of the table.
func Areas() []Area {
	rows := table()
	areas := make([]Area, len(rows))
	for i, r := range rows {
		areas[i] = r.area
	}
	return areas
}

// Allows says how far the role reaches into the area: None for an unknown role or area.
func (r Role) Allows(area Area) Access {
	for _, line := range table() {
		if line.area == area {
			return line.of(r)
		}
	}
	return None
}

// SignsIn says whether people with a password hold this role.
func (r Role) SignsIn() bool {
	switch r {
	case Organiser, Desk, CuttingLead, Packer, Reader:
		return true
	}
	return false
}

// ParseRole reads a role that somebody who signs in may hold. Anything else is
// an invalid "role".
func ParseRole(typed string) (Role, error) {
	if r := Role(typed); r.SignsIn() {
		return r, nil
	}
	return "", apperr.Invalid("role", "There is no role %q: it is organiser, desk, cutting, packing or reader.", typed)
}

func (l row) of(r Role) Access {
	switch r {
	case Organiser:
		return l.organiser
	case Desk:
		return l.desk
	case CuttingLead:
		return l.cutting
	case Packer:
		return l.packing
	case Reader:
		return l.reader
	case VolunteerLink:
		return l.volunteer
	case RecipientLink:
		return l.receiver
	}
	return None
}

// Does says in a few words what somebody with the role does in a drive.
func (r Role) Does() string {
	switch r {
	case Organiser:
		return "everything"
	case Desk:
		return "takes fabric in, hands kits out and takes them back"
	case CuttingLead:
		return "plans, cuts, hands kits out and takes them back"
	case Packer:
		return "hands kits out and takes them back, checks, packs, delivers"
	case Reader:
		return "looks at everything but addresses, changes nothing"
	}
	return "has a page of their own"
}

// String gives the word used in messages and tests.
func (a Access) String() string {
	switch a {
	case Own:
		return "own"
	case Read:
		return "read"
	case Write:
		return "write"
	}
	return "none"
}
