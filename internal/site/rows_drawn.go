package site

import (
	"cmp"
	"html/template"
	"strconv"

	"boltward/internal/account"
	"boltward/internal/postgres"
)

// Rows of the lists that people look at most, fifty on a page; about so many bytes each.
const rowBytes = 700

// Rows draws the lots of a list.
func (p fabricPage) Rows(v *view) template.HTML {
	var m markup
	m.out.Grow(rowBytes * len(p.Lots))
	at := v.Path("fabric") + "/"
	for _, l := range p.Lots {
		number := strconv.FormatInt(l.Number, 10)
		m.put(`<tr><th scope="row" data-label="Lot">`).link(at+number, number).put("</th>").cell("Tag", l.Tag)
		m.put(`<td data-label="What it is"><span>`).text(l.What)
		if l.Look != "" {
			m.put(`<br><span class="quiet">`).text(l.Look).put("</span>")
		}
		m.put("</span></td>").cell("Given by", cmp.Or(l.Donor, "not known")).cell("Shelf", l.Shelf)
		pieces := ""
		if l.Pieces != 0 {
			pieces = thousands(int64(l.Pieces))
		}
		m.count("Pieces", pieces).count("Largest free", l.Size).count("Free", l.Free)
		if p.Size != "" {
			m.count("Would make", l.Makes)
		}
		m.put(`<td data-label="Stands"><span class="`).text(l.Class).put(`">`).text(l.State).put("</span></td></tr>\n")
	}
	return m.html()
}

// Rows draws the people of a list.
func (p peoplePage) Rows(v *view) template.HTML {
	var m markup
	m.out.Grow(rowBytes * len(p.People))
	at := v.Path("people") + "/"
	for _, l := range p.People {
		m.put(`<tr><th scope="row" data-label="Name"><span>`).link(at+strconv.FormatInt(l.Number, 10), l.Name)
		m.when(!l.Active, ` <span class="quiet">resting</span>`).when(l.Active && l.Beginner, ` <span class="quiet">begins</span>`)
		m.put(`</span></th><td data-label="Kind">`).text(string(l.Kind))
		if l.Kind.Group() {
			m.put(", ").text(strconv.Itoa(l.Heads)).put(" sew")
		}
		m.put("</td>").cell("Pickup place", l.Pickup).count("Kits", thousands(int64(l.Kits))).count("Pillowcases", thousands(int64(l.Cases)))
		m.put(`<td data-label="Next due">`)
		if l.Due != nil {
			m.put("<span>").as(dayOf(l.Due, ""))
			if l.Late != 0 {
				m.put(` <span class="late">`).text(thousands(int64(l.Late))).put(" late</span>")
			}
			m.put("</span>")
		}
		m.put("</td>").count("Has sewn", thousands(int64(l.Done))).put("</tr>\n")
	}
	return m.html()
}

// Rows draws the kits of a list, a body of the table for each group.
func (p kitsPage) Rows(v *view) template.HTML {
	var m markup
	for _, g := range p.Groups {
		m.put("\n<tbody>\n")
		if p.Grouped {
			m.put(`<tr class="group"><th scope="rowgroup" colspan="6"><a class="big" href="`).text(v.Path("people", g.Holder)).put(`">`).text(g.Name).put("</a></th></tr>")
		}
		m.put("\n")
		for _, k := range g.Rows {
			p.drawKit(&m, v, k)
		}
		m.put("</tbody>\n")
	}
	return m.html()
}

func (p kitsPage) drawKit(m *markup, v *view, k kitRow) {
	ref := k.KitRef.String()
	m.put("<tr>\n")
	if p.Acts {
		m.put(`<td data-label="Choose"><input type="checkbox" name="kit" value="`).text(ref).put(`" autocomplete="off" aria-label="Kit `).text(ref).put(`"></td>`)
	}
	m.put("\n<th scope=\"row\" data-label=\"Kit\">").link(v.Path("kits", ref), ref).put("</th>\n")
	if !p.Grouped {
		m.put(`<td data-label="Where">`)
		if k.With != 0 {
			m.link(v.Path("people", k.With), k.HolderName)
		} else {
			m.text(string(k.State))
			if k.Place != "" && k.State.InHouse() {
				m.put(", at ").text(k.Place)
			}
		}
		m.put("</td>")
	}
	m.put("\n").count("Pillowcases", thousands(int64(k.Cases)))
	m.put("\n<td data-label=\"Size\"><span>").text(k.SizeName).when(k.OwnFabric, ` <span class="quiet">own fabric</span>`).put("</span></td>\n")
	m.cell("For", cmp.Or(k.ForWhom, "not promised yet")).put("\n")
	if !p.Where.Held() {
		m.put(`<td data-label="Needed by">`).as(dayOf(k.NeededBy, "no day")).put("</td>\n</tr>\n")
		return
	}
	m.put(`<td data-label="Since">`).as(dayOf(k.Since, "")).put(`</td><td data-label="Due"><span>`).as(dayOf(k.Due, ""))
	if k.When.Text != "" {
		m.put(` <span class="`).text(k.When.Class).put(`">`).text(k.When.Text).put("</span>")
	}
	m.put("</span></td>\n\n</tr>\n")
}

// LatelyRows draws what happened at the table lately, with what undoes it.
func (p backPage) LatelyRows(v *view) template.HTML {
	var m markup
	packs, forgets := v.Role.Allows(account.Packing) >= account.Write, v.Role.Allows(account.Drive) >= account.Write
	for _, step := range p.Lately {
		of := step.Words() + ", " + step.SizeName + ", " + step.Day.Format("2 Jan 2006")
		m.put(`<tr><th scope="row" data-label="When">`).as(day(step.Day)).put(`</th><td data-label="What"><span>`).text(step.Words())
		if step.Note != "" && forgets {
			m.put(" ")
			m.act(v, v.Path("back", "forget", step.ID), "Forget the note", of)
		}
		m.put("</span></td>").cell("Size", step.SizeName).cell("By", step.Who)
		if packs {
			m.put(`<td data-label="Mistake?">`)
			switch kit := step.KitToUndo(); {
			case kit != "" && p.TakesBack:
				m.act(v, v.Path("back", "kit", kit, "undo"), "Undo", "kit "+kit+", "+of)
			case step.MayUndo():
				m.act(v, v.Path("back", "undo", step.ID), "Undo", of)
			case step.Undone:
				m.put(`<span class="quiet">undone</span>`)
			}
			m.put("</td>")
		}
		m.put("</tr>\n")
	}
	return m.html()
}

// handsWords names who sewed what waits to be checked, and who mended it.
func handsWords(l postgres.StackLine) string {
	sewn := cmp.Or(l.SewnBy, "not known")
	if l.MendedBy == "" {
		return sewn
	}
	return sewn + "; mended by " + l.MendedBy
}

// CheckRows draws what waits to be checked.
func (p backPage) CheckRows(v *view) template.HTML {
	var m markup
	packs := v.Role.Allows(account.Packing) >= account.Write
	for _, l := range p.ToCheck {
		m.put(`<tr><th scope="row" data-label="From"><span>`)
		if l.Kit != 0 {
			ref := l.KitRef().String()
			m.put("kit ").link(v.Path("kits", ref), ref)
		} else {
			m.put("without a kit")
		}
		m.put("</span></th>").cell("Size", l.SizeName).cell("For", cmp.Or(l.ForWhom, "not promised yet")).cell("Sewn by", handsWords(l)).count("How many", thousands(int64(l.N)))
		if packs {
			m.put(`<td data-label="Next">`).link(v.Path("back", "check", l.Asked, l.Size, l.Kit, l.Part), "Check these").put("</td>")
		}
		m.put("</tr>\n")
	}
	return m.html()
}
