package site

import (
	"fmt"
	"net/http"
	"regexp"

	"github.com/gin-gonic/gin"

	"boltward/internal/photo"
	"boltward/internal/postgres"
)

// photoBody is the most bytes that a form with a photo sends. It is more than a
// photo may have, so that one that is too large is refused beside its field.
const photoBody = 100 << 20

var photoHash = regexp.MustCompile(`^[0-9a-f]{64}$`)

// photoOf gives the fingerprint of the photo of a form: the one that came with
// it, or the one that an earlier sending of the same form left here. What is
// wrong with it is said on the field photo.
func (s *Site) photoOf(c *gin.Context, kept string, problems map[string]string) (string, error) {
	taken, err := s.takePhoto(c)
	switch {
	case err != nil && adopt(problems, err):
		return "", nil
	case err != nil:
		return "", err
	case taken != "" || kept == "":
		return taken, nil
	case !photoHash.MatchString(kept):
		problem(problems, "photo", "This photo is not here any more. Take it again.")
		return "", nil
	}
	here, err := s.db.PhotoWaits(c.Request.Context(), s.driveID(c), kept)
	if err != nil {
		return "", err
	}
	if !here {
		problem(problems, "photo", "This photo is not here any more. Take it again.")
		return "", nil
	}
	return kept, nil
}

// takePhoto shrinks the photo that came with a form and keeps it; empty where
// none came. One is decoded at a time, so that many tablets take no more memory
// than one.
func (s *Site) takePhoto(c *gin.Context) (string, error) {
	if c.Request.MultipartForm == nil || len(c.Request.MultipartForm.File["photo"]) == 0 {
		return "", nil
	}
	ctx, head := c.Request.Context(), c.Request.MultipartForm.File["photo"][0]
	end, err := s.shrinking.take(ctx)
	if err != nil {
		return "", err
	}
	defer end()
	file, err := head.Open()
	if err != nil {
		return "", fmt.Errorf("open photo: %w", err)
	}
	defer file.Close()
	p, err := photo.Take(file, head.Size)
	if err != nil {
		return "", err
	}
	return s.db.KeepPhoto(ctx, s.driveID(c), postgres.Photo{Full: p.Full, Small: p.Small, Width: p.Width, Height: p.Height})
}

// lotPhoto handles GET /drives/:drive/fabric/:lot/photo.jpg; ?small=1 is for lists.
func (s *Site) lotPhoto(c *gin.Context) error {
	number, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	jpg, err := s.db.LotPhoto(c.Request.Context(), s.driveID(c), number, c.Query("small") != "")
	if err != nil {
		return err
	}
	// An address with the fingerprint never shows another photo.
	c.Header("Cache-Control", "private, no-cache")
	if photoHash.MatchString(c.Query("v")) {
		c.Header("Cache-Control", "private, max-age=604800, immutable")
	}
	c.Data(http.StatusOK, "image/jpeg", jpg)
	return nil
}

// photoForm is a photo for a lot that is here, or its going.
type photoForm struct {
	Gone string `form:"gone"`
}

// setPhoto handles POST /drives/:drive/fabric/:lot/photo.
func (s *Site) setPhoto(c *gin.Context) error {
	number, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	page := lotPage{Problems: map[string]string{}}
	var form photoForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	hash := ""
	if form.Gone == "" {
		if hash, err = s.photoOf(c, "", page.Problems); err != nil {
			return err
		}
		if hash == "" {
			problem(page.Problems, "photo", "Choose or take the photo first.")
			return s.lotWith(c, http.StatusUnprocessableEntity, page)
		}
	}
	if _, err := s.db.SetLotPhoto(c.Request.Context(), s.act(c), number, hash); err != nil {
		if !adopt(page.Problems, err) {
			return err
		}
		return s.lotWith(c, http.StatusUnprocessableEntity, page)
	}
	if hash == "" {
		s.flash(c, "The photo of lot %d is gone.", number)
	} else {
		s.flash(c, "Lot %d has this photo now.", number)
	}
	return s.seeOther(c, s.path(c, "fabric", number))
}
