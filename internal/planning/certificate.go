package planning

// Certificate is what proves weight_bound.
type Certificate struct {
}
