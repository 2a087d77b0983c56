//go:build !js

package workbench

import (
	"embed"
	"io/fs"
)

//go:embed page
var embedded embed.FS

// Page is the page in a browser: index.html and what it loads.
func Page() fs.FS {
	page, err := fs.Sub(embedded, "page")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	return page
}
