package site

import (
	"io"
	"maps"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/templates"
)

// pageSamples ties every template to its struct. A page whose fields can be
// filled by reflection needs its type alone; others bring samples of their own.
var pageSamples = [][]page{
	{errorPage{}},
	{fabricPage{}},
	{tagPage{}},
	{measurePage{}},
	{gridPage{}},
	{paperPage{}},
	{lotPage{}},
	{piecePage{}},
	{handlePage{}, handleSample("count"), handleSample("part"), handleSample("give"), handleSample("square"), handleSample("discard"), handleSample("remnant")},
	{washPage{}},
	{shelfTotalsPage{}},
	{stocktakesPage{}},
	{stocktakePage{}},
	{countPage{}},
	{suppliesPage{}},
	{supplyFormPage{}},
	{lotFormPage{}},
	{donorsPage{}},
	{donorPage{}},
	{donorFormPage{}},
	{thanksPage{}},
	{letterRulesPage{}},
	{labelsPage{}},
	{labelPrintPage{}},
	{labelPaperPage{}},
	{scanPage{}},
	{bringPage{}},
	{broughtPage{}},
	{broughtBackPage{}},
	{takingPage{}},
	{signInPage{}},
	{lateFormPage{}},
	{linkPage{}},
	{drivesPage{}},
	{startPage{}},
	{settingsPage{}},
	{membersPage{}},
	{memberPage{}},
	{invitePage{}},
	{invitedPage{}},
	{passesPage{}},
	{passOpenPage{}},
	{passDigitsPage{}},
	{handsPage{}},
	{passOverPage{}},
	{secondPage{}},
	{accountPage{}},
	{secondStepPage{}, filled(secondStepPage{}).(secondStepPage), secondStepPage{Secret: "ABCD"}, secondStepPage{On: true, Which: "off"}},
	{recoveryPage{}},
	{needsPage{}},
	{askedPage{}},
	{askedFormPage{}},
	{standingPage{}},
	{recipientPage{}},
	{recipientFormPage{}},
	{sizesPage{}},
	{sizeFormPage{}},
	{plansPage{}},
	{asksPage{}, asksSample("waiting"), asksSample("ready"), asksSample("failed"), asksSample("")},
	{planPage{}, filled(planPage{}).(planPage), planBusy(), planSample("ready"), planSample("accepted"), planSample("failed"), planSample("dropped"), planSample("replaced")},
	{planChangePage{}, filled(planChangePage{}).(planChangePage), changeSample("ready"), changeSample("accepted")},
	{cuttingPage{}},
	{cuttingPapersPage{}},
	{tablePage{}},
	{planEyePage{}},
	{planRulePage{}},
	{planSwapPage{}},
	{loosePage{}},
	{sheetPage{}, sheetSample("waiting"), sheetSample("on the table"), sheetSample("cut"), sheetSample("came up short"), sheetSample("withdrawn")},
	{cutSheetsPage{}},
	{kitsPage{}},
	{handOutPage{}},
	{ownKitsPage{}},
	{kitPage{}, kitSample("out"), kitSample("ready"), kitSample("cut"), kitSample("lost"), kitSample("back"), kitSample("planned"), kitSample("on the table"), kitSample("taken apart")},
	{kitCardsPage{}},
	{remindersPage{}},
	{reminderRulesPage{}},
	{stopPage{}},
	{volunteerPage{}},
	{volunteerKitPage{}},
	{kitLabelsPage{}},
	{kitsSignOutPage{}, kitsSignOutPage{Rows: []signOutRow{{Number: 1, Cells: []signOutCell{{Name: "kit-1", Problem: "no"}}}}, Wrong: []signOutWrong{{"kit-1", "Kit", "no"}}}},
	{peoplePage{}},
	{personPage{}},
	{personFormPage{}},
	{backPage{}},
	{checkPage{}},
	{checkListPage{}},
	{laundryPage{}},
	{packPage{}},
	{boxPage{}},
	{mendPage{}},
	{promisePage{}},
	{deliveriesPage{}},
	{deliveryPage{}},
	{differencesPage{}},
	{settlePage{}},
	{receiverPage{}},
	{receiverDeliveryPage{}},
	{booksPage{}},
	{trailPage{}},
	{keepingPage{}},
	{closingPage{}},
}

// Every page is executed empty and full: a name that is not in the struct fails here.
func TestEveryPageHasItsStruct(t *testing.T) {
	files, err := loadFiles()
	require.NoError(t, err)
	pages, err := templates.Parse(functions(), files.path)
	require.NoError(t, err)
	tied := map[string]bool{}
	for _, samples := range pageSamples {
		if len(samples) == 1 {
			samples = []page{samples[0], filled(samples[0])}
		}
		for _, sample := range samples {
			name := sample.template()
			tied[name] = true
			require.Contains(t, pages, name, "%T names its template", sample)
			parsed, err := pages[name]()
			require.NoError(t, err)
			for _, role := range []account.Role{"", account.Organiser, account.Desk, account.Reader} {
				v := sampleView(sample, role)
				require.NoError(t, parsed.ExecuteTemplate(io.Discard, "layout", v), "%s as %q with %+v", name, role, sample)
			}
		}
	}
	require.ElementsMatch(t, slices.Collect(maps.Keys(pages)), slices.Collect(maps.Keys(tied)),
		"every template is tied to a struct in pageSamples")
}

func TestAMisspeltNameFails(t *testing.T) {
	files, err := loadFiles()
	require.NoError(t, err)
	pages, err := templates.Parse(functions(), files.path)
	require.NoError(t, err)
	drives, err := pages["drives.html"]()
	require.NoError(t, err)
	require.Error(t, drives.ExecuteTemplate(io.Discard, "layout", sampleView(errorPage{}, account.Desk)))
}

func sampleView(p page, role account.Role) *view {
	v := &view{Page: p, Title: p.title(), Role: role, Now: time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)}
	v.Drive.Zone, v.Drive.Unit = "Europe/Dublin", "in"
	if role != "" {
		fill(reflect.ValueOf(&v.Drive).Elem(), 0)
		v.Drive.Zone, v.Drive.Unit = "Europe/Dublin", "in"
		v.Person = account.Person{ID: 1, Name: "Rosa Lind", Initials: "RL"}
		v.Flash = &flash{Text: "Done", Undo: "/undo"}
		v.Hands = &handsView{Place: "cutting table", Now: "RB", Others: []string{"MK"}}
		v.Places = []place{{"Fabric", "/drives/spring/fabric", true}}
	}
	return v
}

// filled gives a copy of p with something in every field.
func filled(p page) page {
	v := reflect.New(reflect.TypeOf(p)).Elem()
	fill(v, 0)
	return v.Interface().(page)
}

// fill puts something into every exported field, to a depth that ends cycles.
func fill(v reflect.Value, depth int) {
	if depth > 8 || !v.CanSet() {
		return
	}
	if v.Type() == reflect.TypeFor[time.Time]() {
		v.Set(reflect.ValueOf(time.Date(2026, 12, 14, 0, 0, 0, 0, time.UTC)))
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString("in")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		v.SetInt(3)
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		v.SetUint(3)
	case reflect.Float32, reflect.Float64:
		v.SetFloat(3)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), depth+1)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range 2 {
			fill(v.Index(i), depth+1)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), depth+1)
		}
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(key, depth+1)
		fill(value, depth+1)
		v.SetMapIndex(key, value)
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), depth+1)
		}
	}
}

func handleSample(slug string) handlePage {
	p := filled(handlePage{}).(handlePage)
	p.Act.Slug = slug
	return p
}
