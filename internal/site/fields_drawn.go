package site

import (
	"html/template"
	"strconv"
)

// Drawn is the field as it stands in a form: its name, what is typed with its unit, and
// beside it what is wrong or a hint.
func (f *field) Drawn() template.HTML {
	var m markup
	m.out.Grow(600 + 60*len(f.Options)) // about what it takes
	switch {
	case f.group():
		f.drawGroup(&m)
	case f.IsTick:
		f.drawTick(&m)
	default:
		f.drawInput(&m)
	}
	m.put("\n")
	return m.html()
}

// drawGroup draws several boxes under one name.
func (f *field) drawGroup(m *markup) {
	m.put(`<fieldset class="field`).when(f.Wide, " wide").put(`"`)
	if f.said() {
		m.put(` aria-describedby="`).text(f.id()).put(`-said"`)
	}
	m.put(">\n<legend class=\"unseen\">").text(f.Label).put("</legend>\n")
	m.put(`<span class="name" aria-hidden="true">`).text(f.Label)
	f.drawOptional(m)
	m.put("</span>\n<div class=\"picks").when(f.Taps, " taps").put(`" id="`).text(f.id()).put(`">`)
	for _, p := range f.picks() {
		m.put("\n<div class=\"pick\"><input").attr("type", f.PickType).attr("id", p.ID)
		m.put(` name="`).text(f.Name).put(`" value="`).text(p.Value).put(`"`)
		m.when(p.On, " checked").attr("autocomplete", f.Complete).when(f.Problem != "", ` aria-invalid="true"`)
		m.put(`><label for="`).text(p.ID).put(`">`).text(p.Label).put("</label></div>")
	}
	m.put("\n</div>\n")
	f.drawSaid(m)
	m.put("\n</fieldset>")
}

// drawTick draws a single box to tick.
func (f *field) drawTick(m *markup) {
	m.put(`<div class="field tick`).when(f.Wide, " wide").put("\">\n<span class=\"name\"></span>\n")
	m.put(`<div class="put pick"><input type="checkbox" id="`).text(f.id()).put(`" name="`).text(f.Name).put(`" value="`).text(f.TickAs).put(`"`)
	m.when(f.Value == f.TickAs, " checked")
	f.drawState(m)
	m.put(`><label for="`).text(f.id()).put(`">`).text(f.Label).put("</label></div>\n")
	f.drawSaid(m)
	m.put("\n</div>")
}

// drawInput draws a field to type into, or a list to choose from.
func (f *field) drawInput(m *markup) {
	m.put(`<div class="field`).when(f.Wide, " wide").put("\">\n")
	m.put(`<label for="`).text(f.id()).put(`">`).text(f.Label)
	f.drawOptional(m)
	m.put("</label>\n<div class=\"put\">\n")
	switch {
	case len(f.Options) > 0:
		m.put(`<select id="`).text(f.id()).put(`" name="`).text(f.Name).put(`"`)
		f.drawState(m)
		m.put(">\n")
		f.drawOptions(m)
		m.put("</select>")
	case f.Lines > 0:
		m.put(`<textarea id="`).text(f.id()).put(`" name="`).text(f.Name).put(`" rows="`).text(strconv.Itoa(f.Lines)).put(`"`)
		f.drawState(m)
		m.put(">").text(f.Value).put("</textarea>")
	default:
		f.drawTyped(m)
	}
	if f.Unit != "" {
		m.put("\n<span class=\"unit\" id=\"").text(f.id()).put(`-unit">`).text(f.Unit).put("</span>")
	}
	m.put("\n</div>\n")
	f.drawSaid(m)
	m.put("\n</div>")
}

func (f *field) drawTyped(m *markup) {
	m.put(`<input id="`).text(f.id()).put(`" name="`).text(f.Name).put(`" type="`).text(f.Type).put(`"`)
	if f.takesValue() {
		m.put(` value="`).text(f.Value).put(`"`)
	}
	m.attr("class", f.Class).attr("inputmode", f.Mode).attr("autocomplete", f.Complete).attr("accept", f.Accept)
	lists := len(f.Suggest) > 0 || f.Lookup != ""
	if lists {
		m.put(` list="`).text(f.id()).put(`-list"`)
	}
	m.attr("data-lookup", f.Lookup).when(f.Camera, ` capture="environment" data-shrink`)
	f.drawState(m)
	m.put(">")
	if !lists {
		return
	}
	m.put("\n<datalist id=\"").text(f.id()).put(`-list">`)
	for _, word := range f.Suggest {
		m.put(`<option value="`).text(word).put(`"></option>`)
	}
	m.put("</datalist>")
}

// drawOptions draws the options of a list, which may hold everybody of a drive.
func (f *field) drawOptions(m *markup) {
	for _, o := range f.Options {
		m.put(`<option value="`).text(o.Value).put(`"`).when(o.Value == f.Value, " selected").put(">").text(o.Label).put("</option>\n")
	}
}

func (f *field) drawOptional(m *markup) {
	m.when(f.Optional, ` <span class="optional">(optional)</span>`)
}

// drawState draws the attributes that say how a field stands.
func (f *field) drawState(m *markup) {
	m.attr("aria-describedby", f.described()).when(f.Problem != "", ` aria-invalid="true"`)
	m.when(f.Required, ` aria-required="true"`).when(f.Focus, " autofocus")
}

// drawSaid draws what stands beside a field.
func (f *field) drawSaid(m *markup) {
	m.put(`<div class="said"`)
	if f.said() {
		m.put(` id="`).text(f.id()).put(`-said"`)
	}
	m.put(">")
	if f.Problem != "" {
		m.put(`<span class="wrong">`).text(f.Problem).put("</span>")
	}
	m.when(f.Lookup != "", `<span class="found" role="status"></span>`)
	if f.Hint != "" {
		m.put(`<span class="hint">`).text(f.Hint).put("</span>")
	}
	m.put("</div>")
}
