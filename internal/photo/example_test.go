package photo_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"

	"boltward/internal/photo"
)

func ExampleTake() {
	var sent bytes.Buffer
	if err := png.Encode(&sent, image.NewGray(image.Rect(0, 0, 4000, 1000))); err != nil {
		fmt.Println(err)
	}
	p, err := photo.Take(bytes.NewReader(sent.Bytes()), int64(sent.Len()))
	fmt.Println(p.Width, p.Height, err)
	_, err = photo.Take(bytes.NewReader([]byte("a letter")), 8)
	fmt.Println(err)
	// Output:
	// 1600 400 <nil>
	// photo: This is no photo. Send a picture as JPEG, PNG or WebP.
}
