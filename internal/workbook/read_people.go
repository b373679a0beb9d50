package workbook

import "boltward/internal/drive"

func contactFields() []field {
	return []field{
		{name: "email", heads: []string{"Email", "E mail", "Mail", "Email address", "E mail address"}},
		{name: "phone", heads: []string{"Phone", "Telephone", "Tel", "Mobile", "Cell", "Phone number", "Phone no"}},
		{name: "address", heads: []string{"Address", "Street", "Postal address", "Home address"}},
		{name: "note", heads: []string{"Notes", "Note", "Remarks", "Remark", "Comments", "Comment"}},
	}
}

func peopleFields() []field {
	return append([]field{
		{name: "name", heads: []string{"Name", "Volunteer", "Who", "Full name", "Person", "Sewist", "Group", "Name of volunteer"}},
		{name: "kind", heads: []string{"Kind", "Type", "What they are", "Role"}},
		{name: "heads", heads: []string{"Heads", "How many", "How many people", "People", "Size of group", "Group size"}},
		{name: "contact", heads: []string{"Contact", "Contact person", "Ask for", "Contact name"}},
		{name: "pickup", heads: []string{"Pickup", "Pick up", "Pickup point", "Picks up at", "Collects from", "Where kits change hands"}},
		{name: "french_seam", heads: []string{"French seam", "French seams", "Sews french seams", "Can sew french seams"}},
		{name: "overlocker", heads: []string{"Overlocker", "Serger", "Has overlocker", "Has serger", "Overlock"}},
		{name: "pace", heads: []string{"Pillowcases a week", "Pace", "Per week", "A week", "Cases a week", "Pillowcases per week", "Weekly"}},
		{name: "beginner", heads: []string{"Beginner", "New to sewing", "Learner", "First kit"}},
		{name: "language", heads: []string{"Language", "Reads", "Speaks", "Reads best"}},
		{name: "smoke", heads: []string{"Smoke at home", "Smoke", "Smokers", "Smoking home", "Smoking"}},
		{name: "pets", heads: []string{"Pets at home", "Pets", "Animals", "Animals at home"}},
		{name: "agreed_on", heads: []string{"Agreed on", "Agreed", "Consent", "Consent given", "Agreed that this is kept"}},
	}, contactFields()...)
}

func peopleList() listOf { return listOf{"people", peopleFields(), []string{"name"}} }

// people reads a list of those who sew, one a line.
func (b *Book) people(t Terms) (Reading[drive.PersonIn], error) {
	return read(b, peopleList(), t, func(r *entry) drive.PersonIn {
		in := drive.PersonIn{Columns: r.columns, Contacts: drive.Contacts{
			Contact: r.text("contact"), Email: r.text("email"), Phone: r.text("phone"), Address: r.text("address"),
		}}
		in.Person = drive.Person{Name: r.text("name"), Pickup: r.text("pickup"), Note: r.text("note"), Kind: drive.PersonVolunteer}
		if kind := r.oneOf("kind", []word{
			{string(drive.PersonVolunteer), []string{"volunteer", "person", "sewist", "individual"}},
			{string(drive.PersonSchool), []string{"school", "class", "college"}},
			{string(drive.PersonChapter), []string{"chapter", "guild", "group", "circle", "club"}},
			{string(drive.PersonSewingDay), []string{"sewing day", "sew day", "workshop", "event"}},
		}, "volunteer, school, chapter or sewing day"); kind != "" {
			in.Person.Kind = drive.PersonKind(kind)
		}
		in.Person.Heads, _ = r.count("heads")
		in.Person.FrenchSeam, _ = r.yes("french_seam")
		in.Person.Overlocker, _ = r.yes("overlocker")
		in.Person.Beginner, _ = r.yes("beginner")
		in.Person.Language = r.text("language")
		in.Person.Smoke, in.Person.Pets = r.declared("smoke"), r.declared("pets")
		in.Contacts.AgreedOn, _ = r.day("agreed_on")
		if pace, said := r.count("pace"); said {
			in.Person.Pace = &pace
		}
		return in
	})
}

// declared reads what somebody said of their home.
func (r *entry) declared(name string) drive.Declared {
	yes, said := r.yes(name)
	switch {
	case !said:
		return drive.NotDeclared
	case yes:
		return drive.DeclaredYes
	}
	return drive.DeclaredNo
}

func donorFields() []field {
	return append([]field{
		{name: "name", heads: []string{"Name", "Donor", "Donor name", "Given by", "Name of donor", "Who", "Full name"}},
		{name: "letter", heads: []string{"Letter", "Wants a letter", "Thank you letter", "Receipt", "Letter wanted", "Wants a receipt"}},
	}, contactFields()...)
}

func donorList() listOf { return listOf{"donors", donorFields(), []string{"name"}} }

// donors reads a list of those who give fabric, one a line.
func (b *Book) donors(t Terms) (Reading[drive.DonorIn], error) {
	return read(b, donorList(), t, func(r *entry) drive.DonorIn {
		in := drive.DonorIn{Columns: r.columns, Contacts: drive.DonorContacts{Email: r.text("email"), Phone: r.text("phone"), Address: r.text("address")}}
		in.Donor = drive.Donor{Name: r.text("name"), Note: r.text("note")}
		in.Donor.Letter, _ = r.yes("letter")
		return in
	})
}
