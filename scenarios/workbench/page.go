//go:build !js

package workbench

import (
	"embed"
	"io/fs"

	"dialwright/scenarios/export"
	"dialwright/scenarios/figure"
)

//go:embed page
var embedded embed.FS

// Page is the page in a browser, its files by name: index.html and what it loads. The
// styles of figures and the steps of a detent are those of every report and export.
func Page() map[string][]byte {
	files := map[string][]byte{"accel.js": []byte(export.Arithmetic), "figure.css": []byte(figure.CSS())}
	page, err := fs.Sub(embedded, "page")
	if err == nil {
		err = fs.WalkDir(page, ".", func(name string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				files[name], err = fs.ReadFile(page, name)
			}
			return err
		})
	}
	if err != nil {
		panic(err) // the folder is part of the program
	}
	return files
}
