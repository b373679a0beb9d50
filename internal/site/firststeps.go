package site

import (
	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// step is one of the first things a new drive needs.
type step struct {
	What, Why string
	Act, Path string // empty where this visitor may not do it
	Done      bool
	Next      bool // the first that is not done
}

// steps leads through a new drive; empty once all of it was done. write says
// which areas the visitor may change.
func (s *Site) steps(c *gin.Context, done drive.FirstSteps) []step {
	if done.Done() {
		return nil
	}
	steps := []step{
		{
			What: "A size", Why: "What you sew: finished measures, from which the cut sizes follow. Take a ready-made one or type your own.",
			Act: "Choose a size", Path: s.path(c, "sizes"), Done: done.Size,
		},
		{
			What: "A recipient", Why: "The ward, hospice or shelter that the pillowcases are for, with the rules it sets.",
			Act: "Add a recipient", Path: s.path(c, "recipients", "new"), Done: done.Recipient,
		},
		{
			What: "Something asked for", Why: "How many of which size, for what ages and themes, by when.",
			Act: "Write down what is asked for", Path: s.path(c, "asked", "new"), Done: done.Asked,
		},
		{
			What: "Fabric", Why: "Tag the first lot as it comes through the door; it can be measured later.",
			Act: "Tag the first lot", Path: s.path(c, "fabric"), Done: done.Fabric,
		},
	}
	next := true
	for i := range steps {
		area := account.Drive
		if i == 3 {
			area = account.Fabric
		}
		if !s.may(c, area, account.Write) {
			steps[i].Act, steps[i].Path = "", ""
		}
		if !steps[i].Done && next {
			steps[i].Next, next = true, false
		}
	}
	return steps
}

// nextStep gives the step that a new drive still needs, or nil: pages that have
// just taken one show it. A person who may not take it is not asked to.
func (s *Site) nextStep(c *gin.Context) (*step, error) {
	done, err := s.db.FirstSteps(c.Request.Context(), s.driveID(c))
	if err != nil {
		return nil, err
	}
	return nextOf(s.steps(c, done)), nil
}

// nextOf gives the step that comes next, where the visitor may take it.
func nextOf(steps []step) *step {
	for _, st := range steps {
		if st.Next && st.Path != "" {
			return &st
		}
	}
	return nil
}
