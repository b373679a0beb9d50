package site

import (
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// readAtOnce is how many spreadsheets one process reads at a time.
const readAtOnce = 2

// bringBody is the most bytes that bringing a file sends: the file and its form.
const bringBody = workbook.MaxBytes + 64<<10

// bringPage takes a spreadsheet to be looked at.
type bringPage struct {
	Form     bringForm
	Problems map[string]string
	Kinds    []option
	Lists    []bringable
	Files    []bringFile
	Imports  []bringImport
}

func (bringPage) template() string { return "bring.html" }
func (bringPage) title() string    { return "Bring a spreadsheet in" }

// bringForm says what the file is a list of.
type bringForm struct {
	Kind string `form:"kind"`
}

// bringKinds are the lists that can be brought, in words.
func bringKinds() []option {
	return []option{
		{string(drive.BringFabric), "fabric, one lot a line"},
		{string(drive.BringPeople), "people who sew"},
		{string(drive.BringAsked), "what is asked for"},
		{string(drive.BringDonors), "donors"},
	}
}

// bringable is a list that can be brought, and the headings it may have.
type bringable struct {
	Kind, Name string
	Needed     []string
	Others     []string
}

// bringFile is a file that is here already: whoever left the page finds it again.
type bringFile struct {
	Number int64
	Name   string
	At     time.Time
	Stands string
}

// bringImport is a spreadsheet that was brought in and may be taken back.
type bringImport struct {
	Number     int64
	Of, Stands string
	At         time.Time
	Who        string
}

// takeStands says how far a file has come.
func takeStands(state drive.TakeState) string {
	switch state {
	case drive.TakeAsked, drive.TakeRunning:
		return "is being taken in"
	case drive.TakeTaken:
		return "taken in"
	case drive.TakeStopped:
		return "stopped, nothing taken"
	case drive.TakeFailed:
		return "went wrong, nothing taken"
	}
	return "open it to see what would be taken"
}

func bringables() []bringable {
	names := map[drive.BringKind]string{drive.BringFabric: "Fabric", drive.BringPeople: "People who sew", drive.BringAsked: "What is asked for", drive.BringDonors: "Donors"}
	var all []bringable
	for _, kind := range drive.BringKinds() {
		b := bringable{Kind: string(kind), Name: names[kind]}
		for _, c := range workbook.Columns(kind) {
			if c.Needed {
				b.Needed = append(b.Needed, c.Name)
			} else {
				b.Others = append(b.Others, c.Name)
			}
		}
		all = append(all, b)
	}
	return all
}

// bring handles GET /drives/:drive/books/in.
func (s *Site) bring(c *gin.Context) error {
	kind := string(drive.BringFabric)
	if asked, err := drive.ParseBringKind(clean(c.Query("kind"))); err == nil {
		kind = string(asked)
	}
	return s.bringWith(c, http.StatusOK, bringPage{Form: bringForm{Kind: kind}})
}

func (s *Site) bringWith(c *gin.Context, status int, page bringPage) error {
	files, err := s.db.Uploads(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	imports, err := s.db.Imports(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	page.Kinds, page.Lists = bringKinds(), bringables()
	for _, i := range imports {
		page.Imports = append(page.Imports, bringImport{i.Number, labelOf(page.Kinds, string(i.Kind)), bringLine(i), i.At, i.Who})
	}
	for _, f := range files {
		page.Files = append(page.Files, bringFile{f.Number, f.Name, f.At, takeStands(f.State)})
	}
	return s.page(c, status, page)
}

// bringNow handles POST /drives/:drive/books/in: the file is kept to be looked at,
// nothing of it is taken yet.
func (s *Site) bringNow(c *gin.Context) error {
	page := bringPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	kind, err := drive.ParseBringKind(page.Form.Kind)
	adopt(page.Problems, err)
	name, content, err := uploaded(c, "file")
	if err != nil && !adopt(page.Problems, err) {
		return err
	}
	if len(page.Problems) == 0 {
		// A file that cannot be read at all is refused here, beside its field; where
		// only its columns were not understood, somebody can say what they mean.
		list, err := s.readList(c, postgres.Upload{Kind: kind, Content: content})
		if err != nil && len(list.Matches) == 0 && !adopt(page.Problems, err) {
			return err
		}
	}
	if len(page.Problems) == 0 {
		number, err := s.db.KeepUpload(c.Request.Context(), s.act(c), kind, name, content)
		if err == nil {
			return s.seeOther(c, s.path(c, "books", "in", number))
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.bringWith(c, http.StatusUnprocessableEntity, page)
}

// uploaded gives the file of a form by its field.
func uploaded(c *gin.Context, field string) (string, []byte, error) {
	if c.Request.MultipartForm == nil || len(c.Request.MultipartForm.File[field]) == 0 {
		return "", nil, apperr.Invalid(field, "Choose the file, an .xlsx or a .csv.")
	}
	head := c.Request.MultipartForm.File[field][0]
	file, err := head.Open()
	if err != nil {
		return "", nil, fmt.Errorf("open upload: %w", err)
	}
	defer file.Close()
	content, err := io.ReadAll(file)
	if err != nil {
		return "", nil, fmt.Errorf("read upload: %w", err)
	}
	return clean(filepath.Base(head.Filename)), content, nil
}

// readList reads a file as somebody said it is to be read. A few are read at once
// and no more: a large one takes a hundred times its size in memory.
func (s *Site) readList(c *gin.Context, u postgres.Upload) (workbook.Brought, error) {
	ctx := c.Request.Context()
	terms, err := s.db.ListTerms(ctx, s.driveID(c), u.Kind)
	if err != nil {
		return workbook.Brought{}, err
	}
	end, err := s.reading.take(ctx)
	if err != nil {
		return workbook.Brought{}, err
	}
	defer end()
	return workbook.Read(u.Kind, u.Content, workbook.Terms{
		Drive: terms.Drive, Today: s.today(c), BorderDepth: terms.BorderDepth,
		Choice: workbook.Choice{Sheet: u.Sheet, Heading: u.Heading, Means: terms.Means},
	})
}
