// A worker with the engine as WebAssembly: it gets the compiled program once, says
// that it runs, then answers one request at a time with lines (see engine.js).
importScripts("wasm_exec.js")

onmessage = async ({data}) => {
	if (data.ask !== undefined) {
		dialwright(data.ask, line => postMessage(JSON.parse(line)))
		return
	}
	const go = new Go()
	go.run(await WebAssembly.instantiate(data.module, go.importObject)).then(() => postMessage({lost: "The engine stopped."}))
	postMessage({ready: true})
}
