// Command dialwright-page is the engine of the page in a browser, as WebAssembly: it
// gives a worker one function, dialwright(request, tell), that answers a request of
// package workbench by calling tell with line after line. Run natively it writes the
// page's files into a folder. The script build beside it does both, and makes a folder
// that any web server can show.
package main
